"""The studio's calendar: firings planned, burning and done, and meetings of courses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from statistics import median
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils.timezone import localtime

from studio.domain.say import date_words, say
from studio.domain.stages import FIRING_WORDS, FiringKind
from studio.models import Firing, Session

#: How long a firing is on where no earlier one of its kind says (common practice, no source).
USUAL_ON = timedelta(hours=10)
FIRINGS_LOOKED_BACK = 60


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing on the calendar.

    ``state`` is planned, over, now or cancelled; ``about`` has a firing's number or a course's code.
    """

    kind: str
    key: str
    title: str
    starts_at: datetime
    ends_at: datetime
    state: str
    about: int | str
    detail: str = ""
    revision: int = 0
    where: str = ""


@dataclass(frozen=True, slots=True)
class Day:
    day: date
    in_month: bool
    entries: tuple[Entry, ...]


def hours_on() -> dict[str, timedelta]:
    """How long the kiln was on in the latest firings of each kind: the median. One query."""
    rows = (
        Firing.objects.filter(lit_at__isnull=False, ended_at__isnull=False)
        .order_by("-number")
        .values_list("kind", "lit_at", "ended_at")[:FIRINGS_LOOKED_BACK]
    )
    seconds: dict[str, list[float]] = {}
    for kind, lit, ended in rows:
        seconds.setdefault(kind, []).append((ended - lit).total_seconds())
    return {kind: timedelta(seconds=median(times)) for kind, times in seconds.items()}


def firing_entries(*, begin: datetime, end: datetime, now: datetime, cancelled: bool = False) -> list[Entry]:
    """Firings lit or meant to be lit in this time; with ``cancelled`` those given up too. Two queries."""
    rows = Firing.objects.filter(
        Q(lit_at__gte=begin, lit_at__lt=end)
        | Q(lit_at__isnull=True, planned_for__gte=begin, planned_for__lt=end)
    )
    if not cancelled:
        rows = rows.exclude(state=Firing.State.CANCELLED)
    on = hours_on()
    return [_firing(row, on, now) for row in rows.select_related("kiln").order_by("number")]


def _firing(row: Firing, on: dict[str, timedelta], now: datetime) -> Entry:
    starts = row.lit_at or row.planned_for
    assert starts is not None
    state = {
        Firing.State.PLANNED: "planned",
        Firing.State.FIRING: "now",
        Firing.State.CANCELLED: "cancelled",
    }.get(Firing.State(row.state), "over")
    ends = row.ended_at or max(starts + on.get(row.kind, USUAL_ON), now if state == "now" else starts)
    return Entry(
        kind="firing",
        key=f"firing-{row.number}",
        title=f"{FIRING_WORDS[FiringKind(row.kind)]} {row.number}",
        starts_at=starts,
        # A calendar wants an end after the start; a kiln switched off at once is on for a minute.
        ends_at=max(ends, starts + timedelta(minutes=1)),
        state=state,
        about=row.number,
        detail=say("{name}, cone {cone}", name=row.kiln.name, cone=row.cone),
        revision=row.revision,
    )


def session_entries(*, begin: datetime, end: datetime, now: datetime, cancelled: bool = False) -> list[Entry]:
    """Meetings of courses in this time; with ``cancelled`` those called off too. One query."""
    rows = Session.objects.filter(starts_at__gte=begin, starts_at__lt=end)
    if not cancelled:
        rows = rows.held()
    rows = rows.select_related("course__room", "replaces")
    return [meeting(row, now) for row in rows.order_by("starts_at", "pk")]


def meeting(row: Session, now: datetime) -> Entry:
    """A meeting, its course, room and the one it replaces loaded, as it stands on a calendar."""
    return Entry(
        kind="class",
        key=f"class-{row.code}",
        title=row.course.name,
        starts_at=row.starts_at,
        ends_at=row.ends_at,
        state="cancelled" if row.cancelled_at else "over" if row.ends_at <= now else "planned",
        about=row.course.code,
        detail=row.cancelled_why or _instead_of(row) or row.course.get_kind_display(),
        revision=row.revision,
        where=row.course.room.name if row.course.room else "",
    )


def _instead_of(row: Session) -> str:
    if row.replaces is None:
        return ""
    return say("Instead of {day}", day=date_words(localtime(row.replaces.starts_at), "l j F"))


def entries(*, begin: datetime, end: datetime, now: datetime, cancelled: bool = False) -> list[Entry]:
    """All of it, in order of time. Three queries whatever the number."""
    both = firing_entries(begin=begin, end=end, now=now, cancelled=cancelled)
    both += session_entries(begin=begin, end=end, now=now, cancelled=cancelled)
    return sorted(both, key=lambda entry: (entry.starts_at, entry.key))


def month(first: date, *, zone: ZoneInfo, now: datetime) -> list[list[Day]]:
    """The weeks, Monday first, that touch the month of ``first``; each entry stands on its local day."""
    begin = first.replace(day=1)
    after = (begin + timedelta(days=32)).replace(day=1)
    day = begin - timedelta(days=begin.weekday())
    last = after + timedelta(days=(7 - after.weekday()) % 7)
    days = _days(day, last, zone=zone, now=now, month=begin.month)
    return [days[count : count + 7] for count in range(0, len(days), 7)]


def week(monday: date, *, zone: ZoneInfo, now: datetime) -> list[Day]:
    """Seven days from ``monday``, with what was called off too: somebody may still come for it."""
    return _days(monday, monday + timedelta(days=7), zone=zone, now=now, cancelled=True)


def _days(
    first: date,
    after: date,
    *,
    zone: ZoneInfo,
    now: datetime,
    month: int | None = None,
    cancelled: bool = False,
) -> list[Day]:
    found = entries(begin=_midnight(first, zone), end=_midnight(after, zone), now=now, cancelled=cancelled)
    by_day: dict[date, list[Entry]] = {}
    for entry in found:
        by_day.setdefault(entry.starts_at.astimezone(zone).date(), []).append(entry)
    days = [first + timedelta(days=count) for count in range((after - first).days)]
    return [Day(day, month in {None, day.month}, tuple(by_day.get(day, ()))) for day in days]


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time.min, tzinfo=zone)
