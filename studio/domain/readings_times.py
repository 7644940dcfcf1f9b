"""Times as controllers write them: dated, the clock alone, or run on from the lighting."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from decimal import Decimal
from enum import StrEnum

from .say import later, say


class TimeKind(StrEnum):
    """How a file writes the time of a reading."""

    DATED = "dated"
    CLOCK = "clock"
    ELAPSED = "elapsed"
    MINUTES_SECONDS = "minutes-seconds"
    HOURS = "hours"
    MINUTES = "minutes"
    SECONDS = "seconds"
    EPOCH = "epoch"
    EPOCH_MS = "epoch-ms"


class DateOrder(StrEnum):
    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"


TIME_WORDS = {
    TimeKind.DATED: later("day and time"),
    TimeKind.CLOCK: later("time of day"),
    TimeKind.ELAPSED: later("hours and minutes since the lighting"),
    TimeKind.MINUTES_SECONDS: later("minutes and seconds since the lighting"),
    TimeKind.HOURS: later("hours since the lighting"),
    TimeKind.MINUTES: later("minutes since the lighting"),
    TimeKind.SECONDS: later("seconds since the lighting"),
    TimeKind.EPOCH: later("seconds since 1970"),
    TimeKind.EPOCH_MS: later("milliseconds since 1970"),
}

#: A reading may be this much older than the one before, when clocks are set or seconds left out.
JITTER = timedelta(minutes=1)
_LONGEST = timedelta(days=30)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

_OF_DAY = r"(\d{1,4}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s*(?:([AaPp])\.?[Mm]\.?)?"
_CLOCK = re.compile(rf"{_OF_DAY}\Z")
_DATED = re.compile(
    r"(?:(?P<y>\d{4})[-/.](?P<m>\d{1,2})[-/.](?P<d>\d{1,2})"
    r"|(?P<a>\d{1,2})(?P<sep>[-/.])(?P<b>\d{1,2})[-/.](?P<ab>\d{4}|\d{2})"
    r"|(?P<wd>\d{1,2})[- ](?P<word>[A-Za-z]{3,9})[- ](?P<wy>\d{4}))"
    rf"(?:[T,]\s*|\s+){_OF_DAY}\s*(?P<offset>Z|[+-]\d{{2}}:?\d{{2}})?\Z"
)
_TWO_NUMBERS = re.compile(r"(\d{1,2})([-/.])(\d{1,2})[-/.](?:\d{4}|\d{2})")
_YEAR_FIRST = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d")


class NotATimeError(Exception):
    """Why a cell is no time."""


@dataclass(frozen=True, slots=True)
class DateOrders:
    """Which orders of day and month every date of a file allows; both are false for dates that clash."""

    day_first: bool
    month_first: bool

    @property
    def in_doubt(self) -> bool:
        return self.day_first and self.month_first


def date_orders(cells: set[str]) -> DateOrders | None:
    """The orders that these cells allow; None where no date begins with a day or a month.

    Points part the day from the month where the day comes first (common practice), so such dates are never
    in doubt. Dates whose day and month are the same number are read alike either way.
    """
    numbers = [match.groups() for cell in cells if (match := _TWO_NUMBERS.match(cell))]
    if not numbers:
        return None
    pointed = any(sign == "." for _, sign, _ in numbers)
    day_first = all(1 <= int(month) <= 12 for _, _, month in numbers)
    month_first = not pointed and all(1 <= int(month) <= 12 for month, _, _ in numbers)
    if day_first and month_first and all(int(day) == int(month) for day, _, month in numbers):
        month_first = False
    return DateOrders(day_first, month_first)


def reader_of(
    kind: TimeKind, *, lit_at: datetime, zone: tzinfo, order: DateOrder | None = None
) -> Callable[[str], datetime]:
    """A function from a cell to its moment in UTC, to be called line by line; raises `NotATimeError`.

    The clock alone runs on past midnight from the reading before, the first from ``lit_at``; of the hour that
    comes twice in autumn the one after the reading before is meant.
    """
    if kind in {TimeKind.DATED, TimeKind.CLOCK}:
        return _Dated(kind, lit_at, zone, order).at
    if kind in {TimeKind.ELAPSED, TimeKind.MINUTES_SECONDS}:
        unit = timedelta(hours=1) if kind == TimeKind.ELAPSED else timedelta(minutes=1)
        return lambda cell: lit_at + _elapsed(cell, unit)
    if kind in {TimeKind.EPOCH, TimeKind.EPOCH_MS}:
        return lambda cell: _epoch(cell, 1000 if kind == TimeKind.EPOCH_MS else 1)
    unit_s = {TimeKind.HOURS: 3600, TimeKind.MINUTES: 60, TimeKind.SECONDS: 1}[kind]
    return lambda cell: lit_at + _run_on(cell, unit_s)


class _Dated:
    def __init__(self, kind: TimeKind, lit_at: datetime, zone: tzinfo, order: DateOrder | None) -> None:
        self.kind, self.zone, self.order = kind, zone, order or DateOrder.DAY_FIRST
        self.previous = lit_at
        self._minutes: dict[datetime, tuple[datetime, datetime]] = {}

    def at(self, cell: str) -> datetime:
        try:
            clock = _CLOCK.match(cell) if self.kind == TimeKind.CLOCK else None
            self.previous = self._clock(clock) if clock else self._dated(cell)
        except ValueError:
            raise NotATimeError(say("“{cell}” is no day and time.", cell=cell[:30])) from None
        return self.previous

    def _dated(self, cell: str) -> datetime:
        if _YEAR_FIRST.match(cell):
            try:
                local = datetime.fromisoformat(cell)
            except ValueError:
                pass
            else:
                return local.astimezone(UTC) if local.tzinfo else self._first_from(local)
        match = _DATED.match(cell)
        if not match:
            raise NotATimeError(say("“{cell}” is no time. Write it like 2025-11-17 11:00.", cell=cell[:30]))
        *_, hour, minute, second, part, half, offset = match.groups()
        day = self._day(match)
        local = datetime.combine(day, _of_day(hour, minute, second, part, half))
        if offset:
            own = datetime.fromisoformat(f"2000-01-01T00:00:00{offset}").tzinfo
            return local.replace(tzinfo=own or UTC).astimezone(UTC)
        return self._first_from(local)

    def _day(self, match: re.Match[str]) -> date:
        if match["y"]:
            return date(int(match["y"]), int(match["m"]), int(match["d"]))
        if match["word"]:
            month = _MONTHS.index(match["word"][:3].lower()) + 1
            return date(int(match["wy"]), month, int(match["wd"]))
        first, second, year = int(match["a"]), int(match["b"]), int(match["ab"])
        day, month = (first, second) if self.order == DateOrder.DAY_FIRST else (second, first)
        return date(year + 2000 if year < 100 else year, month, day)

    def _clock(self, match: re.Match[str]) -> datetime:
        of_day = _of_day(*match.groups())
        day = self.previous.astimezone(self.zone).date()
        at = self._first_from(datetime.combine(day, of_day))
        if at < self.previous - JITTER:
            at = self._first_from(datetime.combine(day + timedelta(days=1), of_day))
        return at

    def _first_from(self, local: datetime) -> datetime:
        """A wall clock's time in UTC; of the hour that comes twice in autumn, the one after the last."""
        minute = local.replace(second=0, microsecond=0)
        folds = self._minutes.get(minute)
        if folds is None:
            folds = self._minutes[minute] = tuple(
                minute.replace(tzinfo=self.zone, fold=fold).astimezone(UTC) for fold in (0, 1)
            )
        rest = local - minute
        first, second = folds[0] + rest, folds[1] + rest
        return second if first < self.previous - JITTER <= second else first


def _of_day(hour: str, minute: str, second: str | None, part: str | None, half: str | None) -> time:
    hours = int(hour)
    if half:
        if not 1 <= hours <= 12:
            raise ValueError(hour)
        hours = hours % 12 + (12 if half in "pP" else 0)
    return time(hours, int(minute), int(second or 0), int((part or "0")[:6].ljust(6, "0")))


def _elapsed(cell: str, unit: timedelta) -> timedelta:
    match = _CLOCK.match(cell)
    if not match or match[5] or int(match[2]) > 59 or int(match[3] or 0) > 59:
        raise NotATimeError(
            say("“{cell}” is no time since the lighting. Write it like 1:30.", cell=cell[:30])
        )
    whole, part, rest = int(match[1]), int(match[2]), int(match[3] or 0)
    length = whole * unit + part * unit / 60 + rest * unit / 3600
    return _not_too_long(length, cell)


def _run_on(cell: str, unit_s: int) -> timedelta:
    return _not_too_long(timedelta(seconds=float(_plain(cell) * unit_s)), cell)


def _not_too_long(length: timedelta, cell: str) -> timedelta:
    if not timedelta(0) <= length <= _LONGEST:
        raise NotATimeError(say("“{cell}” after the lighting is longer than any firing.", cell=cell[:30]))
    return length


def _epoch(cell: str, parts: int) -> datetime:
    try:
        return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=float(_plain(cell) / parts))
    except OverflowError:
        raise NotATimeError(say("“{cell}” is no moment.", cell=cell[:30])) from None


def _plain(cell: str) -> Decimal:
    if not re.fullmatch(r"\d{1,14}(?:[.,]\d{1,9})?", cell):
        raise NotATimeError(say("“{cell}” is no time.", cell=cell[:30]))
    return Decimal(cell.replace(",", "."))
