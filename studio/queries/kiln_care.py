"""The care of kilns as pages show it: the log with the firings since, and which reminders speak."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from studio.domain.kiln_care import (
    CARE_ASKS,
    CARE_WORDS,
    REMINDED,
    USUAL_INTERVALS,
    CareKind,
    Interval,
    Need,
    Reminder,
    reminder,
)
from studio.domain.say import lower_first
from studio.models import CareReminder, CareSilence, Firing, Kiln, KilnCare, Studio

from .notices import studio_day

#: A log is read from its newest end. A kiln that is looked after weekly fills this in some years.
LOG_LONGEST = 200


@dataclass(frozen=True, slots=True)
class CareLine:
    """One kind of care at one kiln: when it was last done, and what its reminder says."""

    kiln: Kiln
    kind: CareKind
    interval: Interval
    last: KilnCare | None
    #: The day it is counted from: the last time, else the kiln's first firing in the books.
    since: date | None
    firings_since: int
    reminder: Reminder
    silence: CareSilence | None

    @property
    def words(self) -> str:
        return CARE_WORDS[self.kind]

    @property
    def asks(self) -> str:
        return CARE_ASKS[self.kind]

    @property
    def in_short(self) -> str:
        """``Renew the kiln wash: 16 firings since.``"""
        return f"{self.asks}: {lower_first(self.reminder.sentence)}"

    @property
    def speaks(self) -> bool:
        """It is due, and nobody has silenced it."""
        return self.reminder.need == Need.DUE and self.silence is None

    @property
    def is_due(self) -> bool:
        return self.reminder.need == Need.DUE

    @property
    def is_soon(self) -> bool:
        return self.reminder.need == Need.SOON


def care_lines(kilns: Iterable[Kiln], *, now: datetime, studio: Studio) -> dict[int, list[CareLine]]:
    """Every kind of care of each kiln, by the kiln's primary key. Four queries whatever the number."""
    kilns = list(kilns)
    today = studio_day(now, studio)
    lit = lit_days(kilns, studio=studio)
    last: dict[tuple[int, str], KilnCare] = {}
    for row in KilnCare.objects.filter(kiln__in=kilns, taken_back_at__isnull=True):
        last.setdefault((row.kiln_id, row.kind), row)
    intervals = {
        (row.kiln_id, row.kind): Interval(row.every_months, row.after_firings)
        for row in CareReminder.objects.filter(kiln__in=kilns)
    }
    silences = {
        (row.kiln_id, row.kind): row
        for row in CareSilence.objects.filter(
            kiln__in=kilns, woken_at__isnull=True, until__gte=today
        ).select_related("by")
    }
    found: dict[int, list[CareLine]] = {}
    for kiln in kilns:
        days = lit.get(kiln.pk, [])
        rows = []
        for kind in REMINDED:
            done = last.get((kiln.pk, kind.value))
            since = done.done_on if done else (days[0] if days else None)
            count = firings_since(days, since)
            interval = intervals.get((kiln.pk, kind.value), USUAL_INTERVALS[kind])
            said = reminder(interval=interval, since=since, firings_since=count, today=today)
            silence = silences.get((kiln.pk, kind.value))
            if silence and done and done.made_at > silence.at:
                # What it was silenced for has been done since.
                silence = None
            rows.append(CareLine(kiln, kind, interval, done, since, count, said, silence))
        found[kiln.pk] = rows
    return found


def care_due(*, now: datetime, studio: Studio) -> dict[Kiln, list[CareLine]]:
    """What reminders ask for now, by kiln in use; silenced ones are left out."""
    kilns = list(Kiln.objects.filter(retired_at__isnull=True))
    lines = care_lines(kilns, now=now, studio=studio)
    due = {kiln: [line for line in lines[kiln.pk] if line.speaks] for kiln in kilns}
    return {kiln: rows for kiln, rows in due.items() if rows}


def care_log(kiln: Kiln, *, studio: Studio, most: int = LOG_LONGEST) -> list[KilnCare]:
    """The kiln's log, the newest day first; each with ``firings_since``, what took its place, and whether it
    counts. Three queries."""
    rows = list(
        KilnCare.objects.filter(kiln=kiln)
        .select_related("made_by", "taken_back_by")
        .prefetch_related("corrections")[:most]
    )
    days = lit_days([kiln], studio=studio).get(kiln.pk, [])
    for row in rows:
        row.firings_since = firings_since(days, row.done_on)
        row.is_corrected = any(other.taken_back_at is None for other in row.corrections.all())
    return rows


def lit_days(kilns: Sequence[Kiln], *, studio: Studio) -> dict[int, list[date]]:
    """The studio's days on which each kiln was lit, in order. One query."""
    zone = studio.zone
    found: dict[int, list[date]] = defaultdict(list)
    lit = (
        Firing.objects.filter(kiln__in=kilns, lit_at__isnull=False)
        .exclude(state__in=[Firing.State.PLANNED, Firing.State.CANCELLED])
        .order_by("lit_at")
        .values_list("kiln_id", "lit_at")
    )
    for kiln_id, lit_at in lit:
        found[kiln_id].append(timezone.localdate(lit_at, zone))
    return found


def firings_since(days: Sequence[date], since: date | None) -> int:
    """Firings lit on that day or later: care is for a cold kiln, so a firing of the same day came after."""
    return len(days) if since is None else len(days) - bisect_left(days, since)
