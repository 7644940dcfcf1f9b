"""A controller's file, looked at before anything is saved: what was understood, and what is to be asked.

Nothing is guessed that could be read in two ways: such a thing is a `Question`, and the file is not ready
until the tutor has answered it. A line that can't be read is a problem with its number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from decimal import Decimal

from .problems import Problem, Refused
from .readings import SHOWN, Gap, Reading, gaps, usual_step
from .readings_asked import Question, ask_columns, ask_order, ask_time_kind, unit_said
from .readings_numbers import NotANumberError, Numbers, Unit
from .readings_table import MOST_LINES, Column, Holds, Line, Table, read_table
from .readings_times import DateOrder, NotATimeError, TimeKind, date_orders, reader_of
from .say import later, say

#: Two temperatures for one moment this far apart are two files in one, not a controller's seconds left out.
_TWO_KILNS_C = Decimal(25)


@dataclass(frozen=True, slots=True)
class Choice:
    """What the tutor said of a file. None: as it was recognised. Columns by their place, 0 first."""

    time_column: int | None = None
    temperature_column: int | None = None
    unit: Unit | None = None
    time_kind: TimeKind | None = None
    date_order: DateOrder | None = None


@dataclass(slots=True)
class FileRead:
    """What was understood of a file. ``rows`` are its readings in order of time, each moment once.

    ``line_of`` names the line of each. ``repeats`` are lines whose moment an earlier line has, with that
    line's number; ``early`` the lines from before the lighting, which are left out, ``disordered`` how many
    lines are older than the one before. ``is_ready``: nothing is asked and nothing is wrong.
    """

    table: Table
    time_column: Column | None = None
    day_column: Column | None = None
    temperature_column: Column | None = None
    time_kind: TimeKind = TimeKind.DATED
    date_order: DateOrder | None = None
    unit: Unit = Unit.CELSIUS
    unit_said: bool = False
    decimal_comma: bool = False
    questions: list[Question] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    rows: list[Reading] = field(default_factory=list)
    line_of: dict[datetime, int] = field(default_factory=dict)
    repeats: list[tuple[int, int]] = field(default_factory=list)
    differing: int = 0
    early: list[int] = field(default_factory=list)
    disordered: int = 0
    gaps: tuple[Gap, ...] = ()
    step: timedelta | None = None

    @property
    def is_ready(self) -> bool:
        return not self.questions and not self.problems

    @property
    def top(self) -> Reading:
        return max(self.rows, key=lambda row: row[1])

    def refuse_unready(self) -> None:
        """Raise `Refused` with every problem, and every question that is still open."""
        open_ones = [Problem(f"ask-{question.about}", question.sentence) for question in self.questions]
        if problems := [*self.problems, *open_ones]:
            raise Refused(problems)


def look_at(
    text: str,
    *,
    lit_at: datetime,
    zone: tzinfo,
    earliest: datetime | None = None,
    latest: datetime | None = None,
    choice: Choice | None = None,
) -> FileRead:
    """Read a whole file. Times without an offset are in ``zone``; those that run on begin at ``lit_at``.

    Readings before ``earliest`` are left out and counted, for controllers keep earlier firings too; one after
    ``latest`` is a problem. Raises `Refused` only for a file that is far too long.
    """
    choice = choice or Choice()
    count = text.count("\n") + text.count("\r") - text.count("\r\n")
    if count > MOST_LINES:
        words = say(
            "The file has {count} lines; {most_lines} at most can be read. Send one firing at a time.",
            count=format(count, ","),
            most_lines=format(MOST_LINES, ","),
        )
        raise Refused(Problem("too-many-lines", words))
    found = FileRead(read_table(text))
    if not _columns(found, choice):
        return found
    _times(found, choice, lit_at, zone, latest)
    _read(found, lit_at=lit_at, zone=zone, earliest=earliest, latest=latest)
    moments = [at for at, _ in found.rows]
    found.gaps, found.step = gaps(moments), usual_step(moments)
    return found


def parse_readings(text: str, *, lit_at: datetime, zone: tzinfo, **values: object) -> list[Reading]:
    """The readings of a file that leaves nothing to ask, as `look_at` reads it; else raises `Refused`."""
    found = look_at(text, lit_at=lit_at, zone=zone, **values)
    found.refuse_unready()
    return found.rows


def _columns(found: FileRead, choice: Choice) -> bool:
    """Choose the columns; false when there is nothing to read."""
    table = found.table
    if not table.lines or all(column.holds in {Holds.WORDS, Holds.NOTHING} for column in table.columns):
        _no_readings(found)
        return False
    if _commas_in_doubt(table) and choice.temperature_column is None:
        line = table.lines[0][0]
        words = say(
            "Line {line}: it is not clear which comma is the decimal one. Save the file with "
            "semicolons between columns, or with the columns' names in the first line.",
            line=line,
        )
        found.problems.append(Problem("bad-line", words))
        return False
    time, day, temperature, questions = ask_columns(table, choice.time_column, choice.temperature_column)
    found.time_column, found.day_column, found.temperature_column = time, day, temperature
    found.questions += questions
    if time is None or temperature is None:
        _no_readings(found)
        return False
    return True


def _no_readings(found: FileRead) -> None:
    columns = found.table.columns
    if len(columns) == 1 and columns[0].holds not in {Holds.WORDS, Holds.NOTHING}:
        number = found.table.lines[0][0]
        words = say(
            "Line {number}: it has one column. A reading needs a time and a temperature.", number=number
        )
        found.problems.append(Problem("bad-line", words))
        return
    words = say("There are no readings in this file. Each line is a time and a temperature.")
    found.problems.append(Problem("no-readings", words))


def _commas_in_doubt(table: Table) -> bool:
    """Whether ``11:00,20,5`` may be 20.5: unnamed columns parted by commas, whole numbers in twos."""
    if table.separator != "," or table.named:
        return False
    numbers = [column for column in table.columns if column.holds == Holds.NUMBER]
    if len(numbers) < 2 or len(table.columns) < 3:
        return False
    return all(cell.lstrip("+-").isdigit() for column in numbers for cell in column.sample)


def _times(found: FileRead, choice: Choice, lit_at: datetime, zone: tzinfo, latest: datetime | None) -> None:
    """Find out how the times are written; ask where they can be read in two ways."""
    time, day = found.time_column, found.day_column
    cells = _cells(found.table.lines, time)
    if time.holds == Holds.MOMENT or day is not None:
        found.time_kind = TimeKind.DATED
        dates = set(_cells(found.table.lines, day)) if day else {cell[:10] for cell in cells}
        orders = date_orders(dates)
        found.date_order = choice.date_order
        if orders and choice.date_order is None:
            found.date_order, question = ask_order(orders, dates, lit_at, zone)
            found.questions += [question] if question else []
        return
    if choice.time_kind is not None and choice.time_kind != TimeKind.DATED:
        found.time_kind = choice.time_kind
        return
    found.time_kind, question = ask_time_kind(time, cells, lit_at, zone, latest)
    found.questions += [question] if question else []


def _cells(lines: Sequence[Line], column: Column) -> list[str]:
    place = column.place
    return [cells[place] for _, cells in lines if len(cells) > place]


def _read(
    found: FileRead, *, lit_at: datetime, zone: tzinfo, earliest: datetime | None, latest: datetime | None
) -> None:
    temperatures = _cells(found.table.lines, found.temperature_column)
    unit, found.unit_said = unit_said(found.temperature_column, temperatures, found.table)
    found.unit = unit
    numbers = Numbers(temperatures, unit)
    found.decimal_comma = numbers.decimal_comma
    moment = reader_of(found.time_kind, lit_at=lit_at, zone=zone, order=found.date_order)
    time, temperature = found.time_column.place, found.temperature_column.place
    day = found.day_column.place if found.day_column else None
    least = max(time, temperature, -1 if day is None else day)
    seen: dict[datetime, tuple[int, Decimal]] = {}
    bad: list[str] = []
    before: datetime | None = None
    for number, cells in found.table.lines:
        try:
            if len(cells) <= least:
                raise NotATimeError(_too_few(cells))
            at = moment(cells[time] if day is None else f"{cells[day]} {cells[time]}")
            celsius = numbers.celsius(cells[temperature])
            if latest is not None and at > latest:
                raise NotATimeError(say("it is in the future. Check the clock of the controller."))
            if before is not None and at < before:
                found.disordered += 1
            before = at
            if earliest is not None and at < earliest:
                found.early.append(number)
                continue
            twin = seen.setdefault(at, (number, celsius))
            if twin[0] != number:
                _repeat(found, number, celsius, twin)
        except (NotATimeError, NotANumberError) as error:
            bad.append(say("Line {number}: {error}", number=number, error=error))
    found.problems += [Problem("bad-line", words) for words in bad[:SHOWN]]
    if (more := len(bad) - SHOWN) > 0:
        lines = later("line") if more == 1 else later("lines")
        found.problems.append(
            Problem("bad-line", say("And {more} more {lines} like these.", more=more, lines=lines))
        )
    found.rows = sorted((at, celsius) for at, (_, celsius) in seen.items())
    found.line_of = {at: number for at, (number, _) in seen.items()}
    if not found.rows and not bad:
        words = say("Every reading in this file is from before this kiln was lit. Is it another firing's?")
        found.problems.append(Problem("before-lit", words))


def _too_few(cells: Sequence[str]) -> str:
    columns = say("one column") if len(cells) == 1 else say("{count} columns", count=len(cells))
    return say("it has {columns}. A reading needs a time and a temperature.", columns=columns)


def _repeat(found: FileRead, number: int, celsius: Decimal, twin: tuple[int, Decimal]) -> None:
    first, kept = twin
    if abs(celsius - kept) > _TWO_KILNS_C:
        raise NotATimeError(
            say(
                "line {first} has {kept} °C for the same time, not {celsius} °C.",
                first=first,
                kept=kept,
                celsius=celsius,
            )
        )
    found.repeats.append((number, first))
    found.differing += celsius != kept
