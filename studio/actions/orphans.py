"""The wall of pieces that nobody knows: somebody says "mine", the tutor confirms or declines with a word."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import later, say
from studio.models import Event, OrphanClaim, Person, Piece
from studio.queries.orphans import on_the_wall

from .common import clean_client_id, clean_text, local_day, moment, must_be_tutor, refuse
from .known_again import is_this
from .pieces_change import give_piece

NOTE_LONGEST = 300


@transaction.atomic
def claim_piece(
    *,
    piece: Piece,
    by: Person,
    maker: Person,
    client_id: str,
    note: str = "",
    now: datetime | None = None,
) -> OrphanClaim:
    """Say that a piece on the wall is ``maker``'s: one's own, or a young person's whose guardian one is.

    Sent twice is once; so is a second claim for the same maker while the first stands.
    """
    now, client_id = moment(now), clean_client_id(client_id)
    note = clean_text(note, label=later("note"), longest=NOTE_LONGEST)
    if done := OrphanClaim.objects.filter(client_id=client_id).first():
        if (done.piece_id, done.person_id) != (piece.pk, by.pk):
            refuse("page-used", say("This page has been sent before, for something else. Load it again."))
        return done
    if not by.is_active or (maker.pk != by.pk and maker.guardian_id != by.pk):
        refuse("not-yours", say("You can claim for yourself, and for the young people you answer for."))
    if maker.pk == by.pk and by.is_young_on(local_day(now)) and by.guardian_id:
        refuse("ask-guardian", say("Your guardian says it for you. Show them the wall."))
    held = on_the_wall(Piece.objects.select_for_update(no_key=True, of=("self",))).filter(pk=piece.pk).first()
    if held is None:
        refuse("not-on-wall", say("This piece is not on the wall any more. It has found its maker."))
    standing = OrphanClaim.objects.filter(piece=held, maker=maker, withdrawn_at__isnull=True).first()
    if standing is not None:
        if standing.declined_at:
            refuse(
                "declined", say("The tutor has looked at this already. Ask them when you are in the studio.")
            )
        return standing
    return OrphanClaim.objects.create(
        piece=held, person=by, maker=maker, note=note, made_at=now, client_id=client_id
    )


@transaction.atomic
def withdraw_claim(*, claim: OrphanClaim, by: Person, now: datetime | None = None) -> OrphanClaim:
    """It was not theirs after all. Only by who said it, while it waits. Claiming again undoes it."""
    now, claim = moment(now), _hold(claim)
    if claim.person_id != by.pk:
        refuse("not-yours", say("Only who said it can take it back."))
    if claim.withdrawn_at is None:
        _refuse_decided(claim)
        claim.withdrawn_at = now
        claim.save(update_fields=["withdrawn_at"])
    return claim


@transaction.atomic
def decline_claim(*, claim: OrphanClaim, by: Person, word: str, now: datetime | None = None) -> OrphanClaim:
    """It is not theirs; a word to them says why."""
    must_be_tutor(by)
    now, claim = moment(now), _hold(claim)
    word = clean_text(word, label=say("word to them"), longest=NOTE_LONGEST, required=True)
    if claim.declined_at is None:
        _refuse_decided(claim)
        claim.declined_at, claim.declined_by, claim.word = now, by, word
        claim.save(update_fields=["declined_at", "declined_by", "word"])
    return claim


@transaction.atomic
def undo_decline(*, claim: OrphanClaim, by: Person, now: datetime | None = None) -> OrphanClaim:
    """The claim waits again."""
    must_be_tutor(by)
    moment(now)
    claim = _hold(claim)
    claim.declined_at, claim.declined_by, claim.word = None, None, ""
    claim.save(update_fields=["declined_at", "declined_by", "word"])
    return claim


@transaction.atomic
def confirm_claim(
    *,
    claim: OrphanClaim,
    by: Person,
    client_id: str,
    known: Piece | None = None,
    now: datetime | None = None,
) -> Event:
    """It is theirs: the piece is given to them, or is ``known``, a piece of theirs that the books miss.

    Undo is the undo of the event this makes, from the history of the piece; the claim is open again then.
    """
    must_be_tutor(by)
    now, claim = moment(now), _hold(claim)
    if claim.event is not None and claim.event.client_id == client_id:
        return claim.event
    _refuse_decided(claim)
    piece = Piece.objects.get(pk=claim.piece_id)
    if known is not None:
        if known.maker_id != claim.maker_id:
            refuse(
                "not-theirs", say("{mark} is not theirs. Choose one of their own pieces.", mark=known.mark)
            )
        event = is_this(found=piece, known=known, by=by, client_id=client_id, now=now)
    else:
        event = give_piece(
            piece=piece, maker=claim.maker, by=by, client_id=client_id, note=say("From the wall"), now=now
        )
    claim.event = event
    claim.save(update_fields=["event"])
    return event


def _hold(claim: OrphanClaim) -> OrphanClaim:
    held = OrphanClaim.objects.select_for_update(no_key=True, of=("self",))
    return held.select_related("event__undone_by", "maker", "person").get(pk=claim.pk)


def _refuse_decided(claim: OrphanClaim) -> None:
    if claim.withdrawn_at is not None:
        refuse("withdrawn", say("They have taken this back."))
    if claim.declined_at is not None:
        refuse("declined", say("This has been declined. Take that back first."))
    if claim.is_confirmed:
        refuse("confirmed", say("This has been confirmed. Undo that on the page of the piece first."))
