"""What a controller's file leaves open: which column, which unit of time, which order of day and month."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from decimal import Decimal
from itertools import pairwise

from .readings import HOTTEST_C
from .readings_numbers import Unit, plain_values, unit_of
from .readings_table import Column, Holds, Table
from .readings_times import TIME_WORDS, DateOrder, DateOrders, TimeKind
from .say import date_words, midway, say

#: Words in headings, in English and the languages of Europe's neighbours; a name is taken apart into words.
_TIME_NAMES = {
    "time",
    "timestamp",
    "clock",
    "zeit",
    "uhrzeit",
    "heure",
    "hora",
    "tijd",
    "ora",
    "elapsed",
    "min",
}
_TIME_NAMES |= {
    "minutes",
    "seconds",
    "sec",
    "secs",
    "hours",
    "epoch",
    "duration",
    "datetime",
    "s",
    "h",
    "runtime",
}
_DAY_NAMES = {"date", "day", "datum", "fecha", "data"}
_WARM_NAMES = {
    "temp",
    "temperature",
    "temperatur",
    "température",
    "temperatura",
    "temps",
    "thermocouple",
    "tc",
}
_WARM_NAMES |= {
    "actual",
    "measured",
    "pv",
    "ist",
    "process",
    "kiln",
    "°c",
    "°f",
    "c",
    "f",
    "celsius",
    "fahrenheit",
}
_SURE_NAMES = {"actual", "measured", "pv", "ist", "process", "istwert"}
_OTHER_NAMES = {
    "set",
    "setpoint",
    "sp",
    "target",
    "soll",
    "sollwert",
    "asked",
    "plan",
    "planned",
    "program",
    "step",
}
_OTHER_NAMES |= {
    "programme",
    "segment",
    "power",
    "output",
    "out",
    "ambient",
    "room",
    "board",
    "junction",
    "rate",
}
_OTHER_NAMES |= {
    "error",
    "amps",
    "volts",
    "kwh",
    "watts",
    "%",
    "duty",
    "no",
    "nr",
    "index",
    "id",
    "line",
    "number",
}
_RUN_ON_NAMES = {"elapsed", "duration", "runtime", "since", "run"}
#: How long a firing's file may plausibly last.
_SHORTEST, _LONGEST = timedelta(hours=1), timedelta(hours=100)
_NEAR = timedelta(hours=1)
_HOTTEST_F = HOTTEST_C * 9 / 5 + 32
_OFTEN = 50
_NUMBERED = re.compile(r"\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})")
_WORD = re.compile(r"°\s*[cf]|%|[^\W\d_]+", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Question:
    """Something only the tutor knows. ``answers`` are (value, words); ``likely`` is one of the values, or
    empty."""

    about: str
    sentence: str
    answers: tuple[tuple[str, str], ...]
    likely: str = ""


def ask_columns(
    table: Table, time_place: int | None, warm_place: int | None
) -> tuple[Column | None, Column | None, Column | None, list[Question]]:
    """The columns of the time, of the day where it has one of its own, and of the temperature."""
    columns, questions = table.columns, []
    time = _at(columns, time_place) or _time_column(columns)
    day = None
    if time is not None and time.holds == Holds.CLOCK and not words_of(time.name) & _RUN_ON_NAMES:
        day = next((column for column in columns if column.holds == Holds.DAY), None)
    warm = _at(columns, warm_place)
    if warm is None:
        could = [column for column in columns if column.holds == Holds.NUMBER and column != time]
        if not could and time is not None:
            # Not one number: its lines are named, rather than the file called empty.
            could = [column for column in columns if column.holds == Holds.WORDS][:1]
        warm, sure = _warm_column(could)
        if warm is not None and not sure:
            answers = tuple((str(column.place), _told(column)) for column in could)
            sentence = say("Which column is the kiln's own temperature, as measured?")
            questions.append(Question("temperature", sentence, answers))
    return time, day, warm, questions


def words_of(name: str) -> set[str]:
    """The words of a heading in small letters."""
    return {word.lower().replace(" ", "") for word in _WORD.findall(name)}


def _at(columns: Sequence[Column], place: int | None) -> Column | None:
    return columns[place] if place is not None and 0 <= place < len(columns) else None


def _time_column(columns: Sequence[Column]) -> Column | None:
    for kind in (Holds.MOMENT, Holds.CLOCK):
        found = [column for column in columns if column.holds == kind]
        named = [column for column in found if words_of(column.name) & (_TIME_NAMES | _DAY_NAMES)]
        if found:
            return (named or found)[0]
    numbers = [column for column in columns if column.holds == Holds.NUMBER]
    named = [
        column
        for column in numbers
        if words_of(column.name) & _TIME_NAMES and not words_of(column.name) & _WARM_NAMES
    ]
    if named or len(numbers) > 1:
        return (named or numbers)[0]
    return None


def _warm_column(could: Sequence[Column]) -> tuple[Column | None, bool]:
    """The column that is most likely the temperature, and whether nothing speaks for another."""
    left = [column for column in could if not words_of(column.name) & _OTHER_NAMES] or list(could)
    sure = [column for column in left if words_of(column.name) & _SURE_NAMES]
    named = sure or [column for column in left if words_of(column.name) & _WARM_NAMES] or left
    return (named[0] if named else None), len(named) == 1


def _told(column: Column) -> str:
    name = f"“{column.name}”" if column.name else f"Column {column.place + 1}"
    return f"{name}: {', '.join(column.sample)}"


def unit_said(column: Column, cells: Sequence[str], table: Table) -> tuple[Unit, bool]:
    """°C or °F, and whether the file says so. Above 1450 °C no kiln's bricks stand, so that is °F."""
    units = {unit for cell in set(cells) if (unit := unit_of(cell))}
    if len(units) == 1:
        return units.pop(), True
    names = words_of(column.name)
    for unit, own in ((Unit.FAHRENHEIT, {"°f", "f", "fahrenheit"}), (Unit.CELSIUS, {"°c", "c", "celsius"})):
        if names & own:
            return unit, True
    for other in table.columns:
        if other.holds == Holds.WORDS and len(other.sample) == 1 and len(other.sample[0]) <= 2:
            sign = other.sample[0].lstrip("°").lower()
            if sign in {"c", "f"}:
                return Unit(sign), True
    counts = Counter(cells)
    hot = sum(
        count
        for cell, count in counts.items()
        if (value := next(iter(plain_values([cell])), None)) and HOTTEST_C < value <= _HOTTEST_F
    )
    # A thermocouple that broke shows a wild figure now and then; that makes no file °F.
    return (Unit.FAHRENHEIT, True) if hot and _OFTEN * hot >= len(cells) else (Unit.CELSIUS, False)


def ask_order(
    orders: DateOrders, dates: set[str], lit_at: datetime, zone: tzinfo
) -> tuple[DateOrder, Question | None]:
    """Day first or month first; a question where the dates allow both."""
    if not orders.in_doubt:
        return (DateOrder.DAY_FIRST if orders.day_first else DateOrder.MONTH_FIRST), None
    shown = min(match[0] for cell in dates if (match := _NUMBERED.match(cell)))
    first, second, year = (int(part) for part in re.split(r"[-/.]", shown))
    year = year + 2000 if year < 100 else year
    lit = lit_at.astimezone(zone).date()
    told, near = [], []
    for order, order_words, day, month in (
        (DateOrder.DAY_FIRST, say("Day first"), first, second),
        (DateOrder.MONTH_FIRST, say("Month first"), second, first),
    ):
        meant = date(year, month, day)
        if abs((meant - lit).days) <= 4:
            near.append(order)
        told.append((order.value, f"{date_words(meant, 'j F Y')}, {midway(order_words)}"))
    likely = near[0] if len(near) == 1 else None
    sentence = say("“{shown}” can be two days. Which is meant?", shown=shown)
    question = Question("date-order", sentence, tuple(told), likely.value if likely else "")
    return likely or DateOrder.DAY_FIRST, question


def ask_time_kind(
    column: Column, cells: Sequence[str], lit_at: datetime, zone: tzinfo, latest: datetime | None
) -> tuple[TimeKind, Question | None]:
    """How times without a day are meant; a question where they could be two things."""
    names = words_of(column.name)
    if column.holds == Holds.NUMBER:
        return _kind_of_numbers(names, cells)
    shapes = [match for cell in cells if (match := re.match(r"(\d{1,4}):(\d{2})(:\d{2})?(.*)", cell))]
    hours = [int(match[1]) for match in shapes]
    if any(re.search("[AaPp]", match[4]) for match in shapes):
        return TimeKind.CLOCK, None
    if max(hours, default=0) >= 100 and not any(match[3] for match in shapes):
        return TimeKind.MINUTES_SECONDS, None
    if names & _RUN_ON_NAMES:
        return TimeKind.ELAPSED, None
    moments = [60 * int(match[1]) + int(match[2]) for match in shapes]
    first = timedelta(minutes=moments[0]) if moments else timedelta(0)
    if first >= _NEAR:
        return TimeKind.CLOCK, None
    if max(hours, default=0) > 23:
        return TimeKind.ELAPSED, None
    if any(after < before for before, after in pairwise(moments)):
        return TimeKind.CLOCK, None
    local = lit_at.astimezone(zone)
    off = abs(timedelta(hours=local.hour, minutes=local.minute) - first)
    if min(off, timedelta(days=1) - off) > _NEAR:
        return TimeKind.ELAPSED, None
    answers = tuple((kind.value, TIME_WORDS[kind]) for kind in (TimeKind.CLOCK, TimeKind.ELAPSED))
    return TimeKind.CLOCK, Question(
        "time-kind",
        say("The first reading is at {cell}. What is that?", cell=cells[0]),
        answers,
        TimeKind.CLOCK.value,
    )


def _kind_of_numbers(names: set[str], cells: Sequence[str]) -> tuple[TimeKind, Question | None]:
    values = plain_values([cells[0], cells[-1]]) if cells else []
    last = max(values, default=Decimal(0))
    if last >= 10**11:
        return TimeKind.EPOCH_MS, None
    if last >= 10**8:
        return TimeKind.EPOCH, None
    units = {
        TimeKind.SECONDS: (1, {"s", "sec", "secs", "second", "seconds"}),
        TimeKind.MINUTES: (60, {"min", "mins", "minute", "minutes"}),
        TimeKind.HOURS: (3600, {"h", "hr", "hrs", "hour", "hours"}),
    }
    for kind, (_, own) in units.items():
        if names & own:
            return kind, None
    likely = [
        kind
        for kind, (unit_s, _) in units.items()
        if _SHORTEST.total_seconds() <= float(last) * unit_s <= _LONGEST.total_seconds()
    ]
    if len(likely) == 1:
        return likely[0], None
    answers = tuple((kind.value, TIME_WORDS[kind]) for kind in units)
    sentence = say("The last reading is at {cell}. What is that?", cell=cells[-1] if cells else "0")
    guess = likely[-1] if likely else TimeKind.MINUTES
    return guess, Question("time-kind", sentence, answers)
