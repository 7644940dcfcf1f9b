"""When a class meets: the recurrence rules of RFC 5545 that a studio needs, in and out of their own syntax.

Understood are FREQ (DAILY, WEEKLY, MONTHLY), INTERVAL, BYDAY, COUNT, UNTIL and WKST=MO, with EXDATE for days
left out; everything else is refused, so that no rule is ever half understood. A rule works on the calendar
days of the studio, and each meeting starts at the same time of its clock, also after the clock has changed
(RFC 5545, 3.3.10 and 3.8.5.3). A local time that a clock change leaves out is read with the offset before it,
one that comes twice is the first of the two (3.3.5).

COUNT counts days before those left out are taken away, as the standard has it; `counted_on` finds the COUNT
that gives so many meetings.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from itertools import islice

from .problems import DomainError
from .say import say

#: A course has no more meetings than this: open studio hours twice a week for two years.
MOST_MEETINGS = 210
MOST_INTERVAL = 52
#: Looked no further ahead than this for the next matching day.
_LAST_YEAR = 2199

WEEKDAY_CODES = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
_BYDAY = re.compile(r"([+-]?\d{1,2})?(MO|TU|WE|TH|FR|SA|SU)\Z")
_NUMBER = re.compile(r"\d{1,4}\Z")
_DATE = re.compile(r"(\d{4})(\d{2})(\d{2})\Z")
_MOMENT = re.compile(r"(\d{4})(\d{2})(\d{2})T(\d{2})(\d{2})(\d{2})Z\Z")


class Frequency(StrEnum):
    DAILY = "DAILY"
    WEEKLY = "WEEKLY"
    MONTHLY = "MONTHLY"


@dataclass(frozen=True, slots=True, order=True)
class Weekday:
    """``day`` is 0 for Monday to 6. ``nth`` counts within the month, from its end when negative; 0: each."""

    day: int
    nth: int = 0

    def __str__(self) -> str:
        return f"{self.nth or ''}{WEEKDAY_CODES[self.day]}"


@dataclass(frozen=True, slots=True)
class Rule:
    """One RRULE. ``until`` is the last moment (aware, UTC) or the last day a meeting may start."""

    frequency: Frequency
    interval: int = 1
    weekdays: tuple[Weekday, ...] = ()
    count: int | None = None
    until: datetime | date | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.interval <= MOST_INTERVAL:
            raise DomainError(
                say(
                    "A class can meet every 1 to {most_interval} days, weeks or months.",
                    most_interval=MOST_INTERVAL,
                )
            )
        if self.count is not None and self.until is not None:
            raise DomainError(say("A rule ends after so many meetings or on a day, not both."))
        if self.count is not None and not 1 <= self.count <= MOST_MEETINGS:
            raise DomainError(say("A course has 1 to {most_meetings} meetings.", most_meetings=MOST_MEETINGS))
        if self.frequency != Frequency.MONTHLY and any(each.nth for each in self.weekdays):
            raise DomainError(say("Only a rule by the month can say which weekday of the month."))
        if any(not -5 <= each.nth <= 5 or not 0 <= each.day <= 6 for each in self.weekdays):
            raise DomainError(say("A month has a first to a fifth of each weekday."))
        if len(set(self.weekdays)) != len(self.weekdays):
            raise DomainError(say("A weekday is named twice."))

    def __str__(self) -> str:
        """As the value of an RRULE: ``FREQ=WEEKLY;COUNT=10;BYDAY=TU``."""
        parts = [f"FREQ={self.frequency}"]
        if isinstance(self.until, datetime):
            parts.append(f"UNTIL={self.until.astimezone(UTC):%Y%m%dT%H%M%SZ}")
        elif self.until is not None:
            parts.append(f"UNTIL={self.until:%Y%m%d}")
        if self.count is not None:
            parts.append(f"COUNT={self.count}")
        if self.interval != 1:
            parts.append(f"INTERVAL={self.interval}")
        if self.weekdays:
            parts.append("BYDAY=" + ",".join(map(str, self.weekdays)))
        return ";".join(parts)


@dataclass(frozen=True, slots=True)
class Timetable:
    """A rule with its first day, its time on the studio's clock, its length and the days left out."""

    rule: Rule
    first_on: date
    at: time
    minutes: int
    zone: tzinfo
    days_off: frozenset[date] = frozenset()

    def days(self) -> list[date]:
        """The days it meets, `MOST_MEETINGS` at most."""
        return [day for day in self._all_days() if day not in self.days_off]

    def left_out(self) -> list[date]:
        """The days off that the rule would have met on."""
        return [day for day in self._all_days() if day in self.days_off]

    def meetings(self) -> list[tuple[datetime, datetime]]:
        """When each meeting starts and ends, in UTC. The length is exact, whatever the clock does in it."""
        return [(self.start(day), self.start(day) + timedelta(minutes=self.minutes)) for day in self.days()]

    def start(self, day: date) -> datetime:
        return datetime.combine(day, self.at, tzinfo=self.zone).astimezone(UTC)

    def lines(self, zone_name: str) -> list[str]:
        """As lines of an iCalendar event: DTSTART, RRULE, and EXDATE where days are left out."""
        place = f";TZID={zone_name}:"
        lines = [f"DTSTART{place}{_local(self.first_on, self.at)}", f"RRULE:{self.rule}"]
        if out := self.left_out():
            lines.append(f"EXDATE{place}" + ",".join(_local(day, self.at) for day in out))
        return lines

    def _all_days(self) -> Iterator[date]:
        until = self.rule.until
        for day in islice(days(self.rule, self.first_on), MOST_MEETINGS):
            if isinstance(until, datetime) and self.start(day) > until:
                return
            yield day


def days(rule: Rule, first_on: date) -> Iterator[date]:
    """The days a rule falls on from ``first_on``, in order; without end where the rule has none.

    The first day counts only when it matches. A moment as ``until`` is judged by its day in UTC, a day
    generously, as only a clock can tell more (`Timetable` does).
    """
    last = rule.until
    if isinstance(last, datetime):
        last = last.date() + timedelta(days=1)
    for found, day in enumerate(_MATCHES[rule.frequency](rule, first_on), start=1):
        if (last is not None and day > last) or day.year > _LAST_YEAR:
            return
        yield day
        if found == rule.count:
            return


def _daily(rule: Rule, first_on: date) -> Iterator[date]:
    wanted = {each.day for each in rule.weekdays}
    step, day = timedelta(days=rule.interval), first_on
    # Seven steps see every weekday there is to see: a rule that never matches ends.
    if wanted and not any((first_on + step * n).weekday() in wanted for n in range(7)):
        return
    while True:
        if not wanted or day.weekday() in wanted:
            yield day
        day += step


def _weekly(rule: Rule, first_on: date) -> Iterator[date]:
    wanted = sorted({each.day for each in rule.weekdays} or {first_on.weekday()})
    monday = first_on - timedelta(days=first_on.weekday())
    while True:
        for weekday in wanted:
            day = monday + timedelta(days=weekday)
            if day >= first_on:
                yield day
        monday += timedelta(weeks=rule.interval)


def _monthly(rule: Rule, first_on: date) -> Iterator[date]:
    months = first_on.year * 12 + first_on.month - 1
    while months // 12 <= _LAST_YEAR + 1:
        year, month = divmod(months, 12)
        for day in _in_month(rule, year, month + 1, first_on.day):
            if day >= first_on:
                yield day
        months += rule.interval


def _in_month(rule: Rule, year: int, month: int, of_month: int) -> list[date]:
    after = date(year + month // 12, month % 12 + 1, 1)
    whole = [date(year, month, n + 1) for n in range((after - date(year, month, 1)).days)]
    if not rule.weekdays:
        # A month without that day is passed over (RFC 5545, 3.3.10).
        return whole[of_month - 1 : of_month]
    found: set[date] = set()
    for each in rule.weekdays:
        same = [day for day in whole if day.weekday() == each.day]
        if each.nth == 0:
            found.update(same)
        elif abs(each.nth) <= len(same):
            found.add(same[each.nth - 1 if each.nth > 0 else each.nth])
    return sorted(found)


_MATCHES = {Frequency.DAILY: _daily, Frequency.WEEKLY: _weekly, Frequency.MONTHLY: _monthly}


class Rhythm(StrEnum):
    """How often a class meets, as a form asks it."""

    ONCE = "once"
    DAY = "day"
    WEEK = "week"
    FORTNIGHT = "fortnight"
    MONTH = "month"


def rule_of(rhythm: Rhythm | str, first_on: date, weekdays: Collection[int] = ()) -> Rule:
    """The rule behind a rhythm, without its end. By the month it is the first day's own weekday of the month,
    the last one where that is the fifth. Once has a count of one.
    """
    each = tuple(Weekday(day) for day in sorted(set(weekdays) or {first_on.weekday()}))
    if rhythm == Rhythm.ONCE:
        return Rule(Frequency.DAILY, count=1)
    if rhythm == Rhythm.DAY:
        return Rule(Frequency.DAILY)
    if rhythm == Rhythm.MONTH:
        nth = (first_on.day - 1) // 7 + 1
        return Rule(Frequency.MONTHLY, weekdays=(Weekday(first_on.weekday(), nth if nth < 5 else -1),))
    return Rule(Frequency.WEEKLY, 2 if Rhythm(rhythm) == Rhythm.FORTNIGHT else 1, each)


def rhythm_of(rule: Rule) -> Rhythm:
    """What a form has to offer that comes nearest to a rule."""
    if rule.frequency == Frequency.DAILY:
        return Rhythm.ONCE if rule.count == 1 else Rhythm.DAY
    if rule.frequency == Frequency.MONTHLY:
        return Rhythm.MONTH
    return Rhythm.FORTNIGHT if rule.interval == 2 else Rhythm.WEEK


def counted_on(rule: Rule, first_on: date, meetings: int, days_off: Collection[date]) -> Rule:
    """The rule with the COUNT that leaves so many meetings when the days off are taken away."""
    if not 1 <= meetings <= MOST_MEETINGS:
        raise DomainError(say("A course has 1 to {most_meetings} meetings.", most_meetings=MOST_MEETINGS))
    held = 0
    for count, day in enumerate(days(replace(rule, count=None, until=None), first_on), start=1):
        held += day not in days_off
        if held == meetings:
            return replace(rule, count=count, until=None)
        if count >= MOST_MEETINGS:
            break
    raise DomainError(
        say("The days off leave too few meetings. Take some of them out, or plan fewer meetings.")
    )


def parse(text: str) -> Rule:
    """A rule from the value of an RRULE, with or without its name before it; `DomainError` for what is not
    understood.
    """
    parts: dict[str, str] = {}
    for part in text.strip().upper().removeprefix("RRULE:").split(";"):
        name, equals, value = part.partition("=")
        if not equals or not value:
            raise DomainError(say("The rule is not complete: each part is NAME=VALUE."))
        if name in parts:
            raise DomainError(say("The rule has {name} twice.", name=name))
        parts[name] = value
    frequency = parts.pop("FREQ", "")
    if frequency not in set(Frequency):
        raise DomainError(
            say("A class meets by the day, the week or the month: FREQ is DAILY, WEEKLY or MONTHLY.")
        )
    if parts.pop("WKST", "MO") != "MO":
        raise DomainError(say("Weeks start on Monday here: only WKST=MO is understood."))
    known = {name: parts.pop(name, "") for name in ("INTERVAL", "BYDAY", "COUNT", "UNTIL")}
    if parts:
        raise DomainError(say("This part of the rule is not understood: {min}.", min=min(parts)[:20]))
    return Rule(
        frequency=Frequency(frequency),
        interval=_number(known["INTERVAL"], "INTERVAL") or 1,
        weekdays=tuple(_weekday(each) for each in known["BYDAY"].split(",")) if known["BYDAY"] else (),
        count=_number(known["COUNT"], "COUNT"),
        until=_until(known["UNTIL"]),
    )


def _number(text: str, name: str) -> int | None:
    if not text:
        return None
    if not _NUMBER.match(text) or not int(text):
        raise DomainError(say("{name} is a whole number from 1.", name=name))
    return int(text)


def _weekday(text: str) -> Weekday:
    found = _BYDAY.match(text)
    if found is None or (found[1] and not 1 <= abs(int(found[1])) <= 5):
        raise DomainError(say("BYDAY lists weekdays such as TU, or 2TU for the second Tuesday of a month."))
    return Weekday(WEEKDAY_CODES.index(found[2]), int(found[1] or 0))


def _until(text: str) -> datetime | date | None:
    if not text:
        return None
    try:
        if found := _DATE.match(text):
            return date(*map(int, found.groups()))
        if found := _MOMENT.match(text):
            return datetime(*map(int, found.groups()), tzinfo=UTC)  # type: ignore[misc]
    except ValueError:
        pass
    raise DomainError(say("UNTIL is a day such as 20261224, or a moment in UTC such as 20261224T183000Z."))


def _local(day: date, at: time) -> str:
    return f"{day:%Y%m%d}T{at:%H%M%S}"
