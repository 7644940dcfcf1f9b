"""Putting notices in the outbox, and taking pieces off them again. The tutor's word: notices_review."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from studio.domain.problems import Problem, Refused
from studio.domain.say import say
from studio.domain.stages import Stage
from studio.models import Notice, NoticePiece, NoticeRound, Person, Piece, Studio
from studio.queries import notices as queries
from studio.queries.notices import OPEN, Kind, State, correction_offered

__all__ = [
    "correction_offered",
    "queue_correction",
    "queue_forgotten",
    "queue_ready",
    "withdraw_piece",
]

#: What a piece can still be taken off: everything that has not gone.
NOT_GONE = (State.WAITING, State.HELD, State.QUEUED, State.NO_ADDRESS, State.DROPPED, State.REFUSED)


@transaction.atomic
def queue_ready(*, pieces: Iterable[Piece], now: datetime | None = None) -> list[Notice]:
    """Put ready pieces on their makers' notices; returns the notices touched.

    In order: pieces not ready, without a maker, the studio's own, waiting for their set, or told of already
    are left out; the rest of a set that has become complete is taken in. Each recipient (the guardian for the
    under-18s) has one open notice, which the pieces join; one that the tutor had let go waits for the tutor
    again. When today's has gone, the next goes tomorrow. Safe to call twice.
    """
    now = now or timezone.now()
    studio = Studio.the()
    day = queries.studio_day(now, studio)
    wanted = Piece.objects.filter(pk__in=[piece.pk for piece in pieces])
    wanted = wanted.select_related("maker__guardian", "piece_set").order_by("id")
    by_recipient: dict[int, list[Piece]] = {}
    for piece in _with_their_sets(wanted):
        recipient = queries.recipient_of(piece, day)
        if recipient is None or not queries.can_be_told_of(piece, recipient, day):
            continue
        by_recipient.setdefault(recipient.pk, []).append(piece)
    touched = []
    # One at a time for each recipient, always in the same order.
    for recipient in hold_people(by_recipient):
        fresh = [p for p in by_recipient[recipient.pk] if not queries.is_dealt_with(p, recipient)]
        if fresh:
            touched.append(_add_to_open_notice(recipient, fresh, studio=studio, now=now))
    return touched


def hold_people(keys: Iterable[int]) -> list[Person]:
    """The people, held in one order and before any of their notices, so that nobody waits in a circle.

    Held against each other only: rows that name them may be written meanwhile.
    """
    return list(Person.objects.select_for_update(no_key=True).filter(pk__in=keys).order_by("pk"))


def _with_their_sets(pieces: Iterable[Piece]) -> list[Piece]:
    found: dict[int, Piece] = {}
    for piece in pieces:
        found[piece.pk] = piece
        if piece.piece_set_id and piece.piece_set.tell_when_all_ready and not queries.waits_for_set(piece):
            others = piece.piece_set.pieces.filter(stage=Stage.READY)
            for other in others.select_related("maker__guardian", "piece_set"):
                found.setdefault(other.pk, other)
    return list(found.values())


def _add_to_open_notice(recipient: Person, pieces: list[Piece], *, studio: Studio, now: datetime) -> Notice:
    not_before = now + timedelta(minutes=studio.notice_grace_minutes)
    notice = (
        Notice.objects.select_for_update(no_key=True)
        .filter(kind=Kind.READY, recipient=recipient, state__in=OPEN)
        .order_by("id")
        .first()
    )
    if notice is None:
        notice = _new_ready_notice(recipient, studio=studio, now=now, not_before=not_before)
    else:
        notice.not_before = max(notice.not_before, not_before)
        if notice.state == State.QUEUED:
            # The tutor let go of something else than what it has become.
            notice.state, notice.approved_at, notice.approved_by = State.WAITING, None, None
        notice.save(update_fields=["state", "not_before", "approved_at", "approved_by"])
    NoticePiece.objects.bulk_create(
        [NoticePiece(notice=notice, piece=piece) for piece in pieces], ignore_conflicts=True
    )
    return notice


def _new_ready_notice(recipient: Person, *, studio: Studio, now: datetime, not_before: datetime) -> Notice:
    day = queries.studio_day(now, studio)
    address = queries.address_of(recipient, day)
    if queries.gone_on(recipient, day, studio):
        day += timedelta(days=1)
        not_before = max(not_before, queries.day_begins(day, studio, queries.MORNING))
    stem = f"ready:{recipient.pk}:{day.isoformat()}:"
    return Notice.objects.create(
        key=f"{stem}{Notice.objects.filter(key__startswith=stem).count() + 1}",
        kind=Kind.READY,
        recipient=recipient,
        state=State.WAITING if address else State.NO_ADDRESS,
        made_at=now,
        not_before=not_before,
    )


def queue_forgotten(*, now: datetime | None = None) -> list[Notice]:
    """Put on notices every ready piece that no notice is about. The mail worker does this on every round.

    Takes in sets that became complete because a piece of them was lost, and makes up for rounds that were
    missed. People without an address who have one now are told by mail after all.
    """
    now = now or timezone.now()
    day = queries.studio_day(now, Studio.the())
    for notice in Notice.objects.filter(state=State.NO_ADDRESS).select_related("recipient"):
        if queries.address_of(notice.recipient, day):
            Notice.objects.filter(pk=notice.pk, state=State.NO_ADDRESS).update(state=State.WAITING)
    untold = list(queries.ready_untold())
    return queue_ready(pieces=untold, now=now) if untold else []


@transaction.atomic
def withdraw_piece(*, piece: Piece, now: datetime | None = None) -> Notice | None:
    """Take a piece off every notice that has not gone; call it when what they say of it is no longer so.

    A notice left without pieces is dropped and says why. Returns the notice that had already said so, when a
    correction can be offered, else None: call it after the piece itself is changed.
    """
    now = now or timezone.now()
    about = Notice.objects.filter(pieces=piece, kind__in=[*queries.PICKUP, Kind.LOSS], state__in=NOT_GONE)
    found = dict(about.values_list("pk", "recipient"))
    whose = queries.recipient_of(piece, queries.today(now))
    hold_people({*found.values(), *([whose.pk] if whose else [])})
    held = Notice.objects.select_for_update(no_key=True).filter(pk__in=found, state__in=NOT_GONE)
    for notice in held.order_by("pk"):
        NoticePiece.objects.filter(notice=notice, piece=piece).delete()
        NoticeRound.objects.filter(notice=notice, piece=piece).delete()
        if notice.state in OPEN and not NoticePiece.objects.filter(notice=notice).exists():
            why = say("{mark} was the only piece in it, and what it said is no longer so.", mark=piece.mark)
            Notice.objects.filter(pk=notice.pk, state__in=OPEN).update(state=State.DROPPED, dropped_why=why)
    return correction_offered(piece, now=now)


@transaction.atomic
def queue_correction(*, piece: Piece, by: Person, now: datetime | None = None) -> Notice:
    """Write to the one who was told that a piece is ready, lost or flawed, that it is not. The tutor reads it
    before it goes.

    Refused when nothing that went says anything untrue of this piece.
    """
    now = now or timezone.now()
    told = correction_offered(piece, now=now)
    if told is None:
        raise Refused(
            Problem(
                "nothing-to-correct",
                say("No mail about {mark} needs putting right.", mark=piece.mark),
                about=piece.mark,
            )
        )
    day = queries.studio_day(now, Studio.the())
    state = State.WAITING if queries.address_of(told.recipient, day) else State.NO_ADDRESS
    fresh = {"state": state, "made_at": now, "not_before": now, "dropped_why": "", "sent_at": None}
    notice, made = Notice.objects.get_or_create(
        key=queries.correction_key(told, piece),
        defaults={"kind": Kind.CORRECTION, "recipient": told.recipient, **fresh},
    )
    if not made:  # dropped before, and wanted after all
        Notice.objects.filter(pk=notice.pk, state=State.DROPPED).update(**fresh)
        notice.refresh_from_db()
    NoticePiece.objects.get_or_create(notice=notice, piece=piece)
    return notice
