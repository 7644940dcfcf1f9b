"""The gallery: a maker agrees to show a piece, for the under-18s the guardian does; and takes it back."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import Person, Photo, Piece, Showing
from studio.queries.gallery import FINISHED

from .common import local_day, moment, refuse
from .pieces_events import hold_piece


def may_agree(*, by: Person, maker: Person, now: datetime) -> bool:
    """Whether this person may say yes for the maker: grown makers themselves, guardians for the young, and
    the tutor, who has it on paper."""
    if by.is_tutor:
        return True
    day = local_day(now)
    if maker.is_young_on(day):
        return by.pk == maker.guardian_id and not by.is_young_on(day)
    return by.pk == maker.pk


@transaction.atomic
def set_consent(*, person: Person, agrees: bool, by: Person, now: datetime | None = None) -> Person:
    """Whether this maker's work may be shown at all. Taken back, all of it is out of the gallery at once.

    Anybody who could have agreed can take it back, and so can a young maker alone.
    """
    now = moment(now)
    row = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    if agrees:
        if not may_agree(by=by, maker=row, now=now):
            refuse("not-yours-to-agree", _who_agrees(row, now))
        if not row.gallery_consent or not _stands(row, now):
            row.gallery_consent, row.gallery_consent_by = True, by
    else:
        _refuse_others(by, row)
        row.gallery_consent, row.gallery_consent_by = False, None
        Showing.objects.filter(maker=row, ended_at__isnull=True).update(ended_at=now)
    row.save(update_fields=["gallery_consent", "gallery_consent_by"])
    return row


def _stands(maker: Person, now: datetime) -> bool:
    """Whether what was said before still counts: a young person's own word does not."""
    said_by = maker.gallery_consent_by
    return said_by is not None and may_agree(by=said_by, maker=maker, now=now)


def _refuse_others(by: Person, maker: Person) -> None:
    if not by.is_tutor and by.pk not in {maker.pk, maker.guardian_id}:
        refuse("not-yours", say("Only its maker, who answers for them, or the tutor can do this."))


def _who_agrees(maker: Person, now: datetime) -> str:
    if maker.is_young_on(local_day(now)):
        guardian = maker.guardian.first_name if maker.guardian else say("a guardian")
        return say(
            "{first_name} is under 18: {guardian} agrees to this, signed in on their own page.",
            first_name=maker.first_name,
            guardian=guardian,
        )
    return say(
        "{first_name} agrees to this themselves, on the page of the piece.", first_name=maker.first_name
    )


@transaction.atomic
def show_piece(
    *, piece: Piece, photo: Photo, by: Person, with_name: bool = False, now: datetime | None = None
) -> Showing:
    """Put a finished piece into the gallery by one of its photos.

    Whoever may agree for its maker agrees by doing this; others may where that has been said. Shown already,
    it is shown by this photo from now on, at a new address.
    """
    now = moment(now)
    piece = hold_piece(piece)
    maker = piece.maker
    if maker is None:
        refuse("nobodys", say("Nobody could agree for this piece: it has no maker."))
    _refuse_others(by, maker)
    if piece.stage not in FINISHED:
        refuse("not-finished", say("The gallery shows finished work. Wait until it is ready."))
    if not Photo.objects.filter(pk=photo.pk, piece=piece).exists():
        refuse("other-photo", say("Choose one of the photos of this piece."))
    if by.is_tutor and by.pk != maker.pk:
        if not maker.gallery_consent or not _stands(maker, now):
            refuse("no-consent", _who_agrees(maker, now))
    elif may_agree(by=by, maker=maker, now=now):
        set_consent(person=maker, agrees=True, by=by, now=now)
    elif not maker.gallery_consent or not _stands(maker, now):
        refuse("no-consent", _who_agrees(maker, now))
    old = Showing.objects.select_for_update(no_key=True, of=("self",)).filter(piece=piece, ended_at=None)
    if (same := old.first()) and (same.photo_id, same.with_name, same.maker_id) == (
        photo.pk,
        with_name,
        maker.pk,
    ):
        return same
    old.update(ended_at=now)
    return Showing.objects.create(
        piece=piece, photo=photo, maker=maker, by=by, with_name=with_name, begun_at=now
    )


@transaction.atomic
def end_showing(*, showing: Showing, by: Person, now: datetime | None = None) -> Showing:
    """Take one piece out of the gallery; its photo there is gone at once. Ended before, nothing changes."""
    now = moment(now)
    row = (
        Showing.objects.select_for_update(no_key=True, of=("self",))
        .select_related("maker")
        .get(pk=showing.pk)
    )
    _refuse_others(by, row.maker)
    if row.ended_at is None:
        row.ended_at = now
        row.save(update_fields=["ended_at"])
    return row
