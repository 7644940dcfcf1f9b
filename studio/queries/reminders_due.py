"""Who is to be reminded of which ready pieces today, and who gets the last notice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import OuterRef, Q, Subquery

from studio.domain.class_deadlines import attended_since
from studio.domain.stages import Stage
from studio.models import MailOff, Notice, NoticeRound, Person, Piece, Studio

from . import notices as queries
from .attendance import attended_starts
from .keeping import not_kept
from .notices_breakage import without_held_back
from .reminders import REACHED, kept_until, reached_on

State = Notice.State
Kind = Notice.Kind

#: A round whose notice stands so has not come to an end: nothing new is due.
_UNDER_WAY = (*queries.OPEN, State.SENDING, State.REFUSED, State.MAY_HAVE_GONE)


@dataclass(slots=True)
class Due:
    """One notice to be queued. ``rounds`` are (piece, the notice that told of it, number of the round)."""

    recipient: Person
    kind: Kind
    rounds: list[tuple[Piece, Notice, int]] = field(default_factory=list)
    #: Theirs too and told of, though nothing is due of them today.
    besides: list[Piece] = field(default_factory=list)


def told_pieces(*, now: datetime) -> list[tuple[Piece, Notice]]:
    """Ready pieces whose makers know of them, each with the notice that told them. Two queries.

    Without those that are kept for their makers, and those of which newer news has not reached anybody yet.
    """
    day = queries.today(now)
    newest = (
        Notice.objects.filter(kind=Kind.READY, pieces=OuterRef("pk"))
        .exclude(state=State.DROPPED, told_at__isnull=True)
        .order_by("-made_at", "-id")
    )
    pieces = Piece.objects.filter(stage=Stage.READY, maker__isnull=False, studios_own=False)
    pieces = not_kept(without_held_back(pieces), now=now)
    pieces = list(
        pieces.annotate(told=Subquery(newest.values("pk")[:1]))
        .filter(told__isnull=False)
        .select_related("maker__guardian", "piece_set")
        .order_by("id")
    )
    reached = Notice.objects.filter(REACHED, pk__in={piece.told for piece in pieces}).in_bulk()
    found = []
    for piece in pieces:
        told = reached.get(piece.told)
        whose = queries.recipient_of(piece, day)
        if told is not None and whose is not None and told.recipient_id == whose.pk:
            found.append((piece, told))
    return found


def due(*, now: datetime) -> list[Due]:
    """What is to be queued today, one entry a person at most, in the order of people.

    A **last notice** is due when only its days are left of the weeks that the ready mail named; before that,
    **reminders**, each so many days, or so many classes that the maker came to, after the last word.
    """
    studio = Studio.the()
    day = queries.studio_day(now, studio)
    told = told_pieces(now=now)
    rounds = _rounds(told)
    starts = _starts(told, studio, now)
    by_reader: dict[int, list[tuple[Piece, Notice, Kind | None, int]]] = defaultdict(list)
    for piece, notice in told:
        so_far = rounds[piece.pk, notice.pk]
        kind = _kind_due(piece, notice, so_far, studio=studio, now=now, starts=starts)
        number = 1 + sum(each.kind == kind for each in so_far)
        by_reader[notice.recipient_id].append((piece, notice, kind, number))
    readers = Person.objects.select_related("guardian").in_bulk(
        [key for key, rows in by_reader.items() if any(row[2] for row in rows)]
    )
    stopped = set(
        MailOff.objects.filter(person__in=readers, list=MailOff.List.REMINDERS).values_list(
            "person", flat=True
        )
    )
    busy = set(
        Notice.objects.filter(recipient__in=readers, kind__in=queries.PICKUP, state__in=_UNDER_WAY)
        .exclude(kind=Kind.READY, state=State.NO_ADDRESS)
        .values_list("recipient", "kind")
    )
    found = []
    for key in sorted(readers):
        reader, rows = readers[key], by_reader[key]
        kind = Kind.LAST if any(row[2] == Kind.LAST for row in rows) else Kind.REMINDER
        if kind == Kind.REMINDER and (key in stopped or any(who == key for who, _ in busy)):
            continue
        if kind == Kind.LAST and (key, Kind.LAST) in busy:
            continue
        sound = [row for row in rows if _still_so(row[0], reader, day)]
        one = Due(reader, kind)
        one.rounds = [
            (piece, notice, number) for piece, notice, each_kind, number in sound if each_kind == kind
        ]
        if kind == Kind.REMINDER:
            one.besides = [piece for piece, _, each_kind, _ in sound if each_kind is None]
        if one.rounds:
            found.append(one)
    return found


def _still_so(piece: Piece, reader: Person, day: object) -> bool:
    return queries.can_be_told_of(piece, reader, day) and queries.is_dealt_with(piece, reader)


def _rounds(told: Iterable[tuple[Piece, Notice]]) -> dict[tuple[int, int], list[NoticeRound]]:
    found: dict[tuple[int, int], list[NoticeRound]] = defaultdict(list)
    about = Q(piece__in=[piece.pk for piece, _ in told], told__in=[notice.pk for _, notice in told])
    for each in NoticeRound.objects.filter(about).select_related("notice").order_by("id"):
        found[each.piece_id, each.told_id].append(each)
    return found


def _starts(told: list[tuple[Piece, Notice]], studio: Studio, now: datetime) -> dict[int, list[datetime]]:
    if studio.reminder_by != Studio.ReminderBy.CLASSES or not told:
        return {}
    return attended_starts(
        {piece.maker_id for piece, _ in told},
        since=min(_reached_at(notice) for _, notice in told),
        until=now,
    )


def _reached_at(notice: Notice) -> datetime:
    return notice.sent_at or notice.told_at or notice.made_at


def _kind_due(
    piece: Piece,
    told: Notice,
    so_far: list[NoticeRound],
    *,
    studio: Studio,
    now: datetime,
    starts: dict[int, list[datetime]],
) -> Kind | None:
    day = queries.studio_day(now, studio)
    if any(each.kind == Kind.LAST or each.notice.state == State.SENDING for each in so_far):
        return None
    told_on = reached_on(told, studio)
    until = max(kept_until(told_on, studio), piece.kept_until or told_on)
    if day > told_on and day >= until - timedelta(days=studio.last_notice_days):
        return Kind.LAST  # also where a reminder still waits: it takes its place
    if any(each.notice.state in _UNDER_WAY for each in so_far):
        return None
    if studio.reminder_by == Studio.ReminderBy.NONE or len(so_far) >= studio.reminder_rounds:
        return None
    word = so_far[-1].notice if so_far else told
    if studio.reminder_by == Studio.ReminderBy.DAYS:
        passed = (day - reached_on(word, studio)).days
    else:
        passed = attended_since(starts.get(piece.maker_id, ()), _reached_at(word))
    return Kind.REMINDER if passed >= max(1, studio.reminder_every) else None
