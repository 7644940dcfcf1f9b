"""Temperatures of a firing from a controller's file: one line a reading, time and °C.

Columns are parted by semicolons, tabs or commas, numbers may have a decimal comma, and the first line may
name the columns. Nothing is guessed: a line that can be read in two ways is refused by its number.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, datetime, time, timedelta, tzinfo
from decimal import Decimal

from .problems import Problem, Refused

Reading = tuple[datetime, Decimal]

MOST_LINES = 20_000
#: No kiln is colder than its shed in a hard winter or hotter than its bricks stand.
COLDEST_C, HOTTEST_C = Decimal(-30), Decimal(1450)

_NUMBER = re.compile(r"[-+]?\d{1,4}(?:[.,]\d{1,3})?\Z")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?\Z")
_YEAR_FIRST = re.compile(
    r"(\d{4})-(\d{1,2})-(\d{1,2})[T ]+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*(Z|[+-]\d{2}:?\d{2})?\Z"
)
_DAY_FIRST = re.compile(r"(\d{1,2})[./](\d{1,2})[./](\d{4}),?\s+(\d{1,2}):(\d{2})(?::(\d{2}))?\Z")
_SHOWN = 5
#: A reading may be this much older than the one before, when clocks are set or seconds left out.
_JITTER = timedelta(minutes=1)


def parse_readings(
    text: str,
    *,
    lit_at: datetime,
    zone: tzinfo,
    earliest: datetime | None = None,
    latest: datetime | None = None,
) -> list[Reading]:
    """The readings of a file, in its order: times in UTC and °C to a tenth.

    A time is ``2025-11-17 11:00``, with or without seconds and offset, ``17/11/2025 11:00`` (day first), or
    the clock alone, which runs on from ``lit_at`` past midnight; without an offset it is in ``zone``. Raises
    `Refused` with a problem for each line that can't be read or lies before ``earliest`` or after ``latest``,
    the first few of them, and reads nothing then.
    """
    lines = text.lstrip("\ufeff").splitlines()
    if len(lines) > MOST_LINES:
        words = f"The file has {len(lines):,} lines; {MOST_LINES:,} at most can be read."
        raise Refused(Problem("too-many-lines", words))
    separator = _separator(lines)
    problems: list[Problem] = []
    found: list[Reading] = []
    seen: dict[datetime, tuple[int, Decimal]] = {}
    previous = lit_at
    written = [(number, line) for number, line in enumerate(lines, start=1) if line.strip()]
    for place, (number, line) in enumerate(written):
        try:
            at, celsius = _one(line, separator, previous, zone)
            _check_span(at, earliest, latest)
            twin, before = seen.setdefault(at, (number, celsius))
            if before != celsius:
                raise _UnreadableError(f"line {twin} has {before} °C for the same time, not {celsius} °C.")
        except _UnreadableError as error:
            if place or not _is_heading(line):
                problems.append(Problem("bad-line", f"Line {number}: {error}"))
            continue
        previous = at
        found.append((at, celsius))
    if problems:
        more = len(problems) - _SHOWN
        if more > 0:
            problems = [*problems[:_SHOWN], Problem("bad-line", f"And {more} more lines like these.")]
        raise Refused(problems)
    if not found:
        words = "There are no readings in this file. Each line is a time and a temperature."
        raise Refused(Problem("no-readings", words))
    return found


def order_problems(
    readings: Iterable[Reading], *, earliest: datetime, latest: datetime, zone: tzinfo
) -> list[Problem]:
    """Readings that lie outside the firing, or that give two temperatures for one moment."""
    problems = []
    seen: dict[datetime, Decimal] = {}
    for at, celsius in readings:
        stamp = f"{at.astimezone(zone):%-d %b %H:%M}"
        if at < earliest:
            problems.append(Problem("before-lit", f"The reading of {stamp} is from before the kiln was lit."))
        elif at > latest:
            problems.append(
                Problem("in-future", f"The reading of {stamp} is in the future. Check the clock.")
            )
        elif seen.setdefault(at, celsius) != celsius:
            words = f"There are two temperatures for {stamp}: {seen[at]} and {celsius} °C. Keep one."
            problems.append(Problem("two-at-once", words))
    return problems[:_SHOWN]


class _UnreadableError(Exception):
    """Why a line can't be read."""


def _separator(lines: list[str]) -> str:
    sample = [line for line in lines[:50] if line.strip()]
    for separator in (";", "\t"):
        if any(separator in line for line in sample):
            return separator
    return ","


def _one(line: str, separator: str, previous: datetime, zone: tzinfo) -> Reading:
    cells = [cell.strip().strip('"').strip() for cell in line.strip().strip(separator).split(separator)]
    if len(cells) == 3 and separator == "," and _NUMBER.match(f"{cells[1]},{cells[2]}"):
        raise _UnreadableError(
            "it is not clear which comma is the decimal one. Save the file with semicolons between columns."
        )
    if len(cells) != 2:
        columns = "one column" if len(cells) == 1 else f"{len(cells)} columns"
        raise _UnreadableError(f"it has {columns}. Keep two: time and temperature.")
    return _time(cells[0], previous, zone), _temperature(cells[1])


def _temperature(cell: str) -> Decimal:
    plain = re.sub(r"\s*°?\s*[cC]\Z", "", cell).replace("−", "-")
    if not _NUMBER.match(plain):
        raise _UnreadableError(f"“{cell[:20]}” is no temperature in °C.")
    celsius = Decimal(plain.replace(",", ".")).quantize(Decimal("0.1"))
    if not COLDEST_C <= celsius <= HOTTEST_C:
        raise _UnreadableError(f"{celsius} °C is no temperature of a kiln.")
    return celsius


def _time(cell: str, previous: datetime, zone: tzinfo) -> datetime:
    try:
        if match := _YEAR_FIRST.match(cell):
            *numbers, offset = match.groups()
            return _at(numbers, offset, previous, zone)
        if match := _DAY_FIRST.match(cell):
            day, month, year, *clock = match.groups()
            return _at([year, month, day, *clock], None, previous, zone)
        if match := _CLOCK.match(cell):
            clock_time = time(*(int(number or 0) for number in match.groups()))
            day_of = previous.astimezone(zone).date()
            at = _first_from(datetime.combine(day_of, clock_time, zone), previous)
            if at < previous - _JITTER:
                at = _first_from(datetime.combine(day_of + timedelta(days=1), clock_time, zone), previous)
            return at
    except ValueError:
        raise _UnreadableError(f"“{cell[:30]}” is no day and time.") from None
    raise _UnreadableError(f"“{cell[:30]}” is no time. Write it like 2025-11-17 11:00.")


def _at(numbers: list[str | None], offset: str | None, previous: datetime, zone: tzinfo) -> datetime:
    local = datetime(*(int(number or 0) for number in numbers), tzinfo=zone)
    if offset:
        own = datetime.fromisoformat(f"2000-01-01T00:00:00{offset}").tzinfo
        return local.replace(tzinfo=own).astimezone(UTC)
    return _first_from(local, previous)


def _first_from(local: datetime, previous: datetime) -> datetime:
    """A wall clock's time in UTC; of the hour that comes twice in autumn, the one after ``previous``."""
    first, second = (local.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    return second if first < previous - _JITTER <= second else first


def _check_span(at: datetime, earliest: datetime | None, latest: datetime | None) -> None:
    if earliest is not None and at < earliest:
        raise _UnreadableError("it is from before the kiln was lit.")
    if latest is not None and at > latest:
        raise _UnreadableError("it is in the future. Check the clock of the controller.")


def _is_heading(line: str) -> bool:
    """A first line without a time of day and with letters names the columns."""
    return not re.search(r"\d:\d", line) and any(sign.isalpha() for sign in line)
