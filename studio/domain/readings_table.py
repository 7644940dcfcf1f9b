"""A controller's file as a table: what parts its columns, which lines are headings, what a column holds."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from .readings_numbers import is_number

MOST_LINES = 200_000
#: More lines than this before the first reading are no headings.
_MOST_HEADINGS = 60
_SAMPLE = 300
_SEPARATORS = (";", "\t", "|", ",", " ")
_LINE_ENDS = re.compile(r"\r\n|\n|\r")

_DAY = (
    r"(?:\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})"
    r"|\d{1,2}[- ][A-Za-z]{3,9}[- ]\d{4})"
)
_OF_DAY = r"\d{1,4}:\d{2}(?::\d{2}(?:[.,]\d{1,9})?)?(?:\s*[AaPp]\.?[Mm]\.?)?"
_KINDS = (
    ("moment", re.compile(rf"{_DAY}(?:[T,]\s*|\s+){_OF_DAY}\s*(?:Z|[+-]\d{{2}}:?\d{{2}})?\Z")),
    ("day", re.compile(rf"{_DAY}\Z")),
    ("clock", re.compile(rf"{_OF_DAY}\Z")),
)


class Holds(StrEnum):
    """What a column holds."""

    MOMENT = "moment"
    DAY = "day"
    CLOCK = "clock"
    NUMBER = "number"
    WORDS = "words"
    NOTHING = "nothing"


#: A line's number in the file, and its cells.
Line = tuple[int, list[str]]


@dataclass(frozen=True, slots=True)
class Column:
    """A column by its place (0 first): its name, what it holds, and a few of its cells."""

    place: int
    name: str
    holds: Holds
    sample: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """``headings`` are the numbers of lines passed over before the first reading; ``named``: whether one of
    them names the columns."""

    separator: str
    headings: tuple[int, ...]
    named: bool
    columns: tuple[Column, ...]
    lines: list[Line]


def read_table(text: str) -> Table:
    """The lines of a text as cells, empty lines left out. No line is left out for being wrong."""
    written = _LINE_ENDS.split(text.lstrip("\ufeff"))
    sample = [line for line in written[: 4 * _SAMPLE] if line.strip()][:_SAMPLE]
    separator = max(_SEPARATORS, key=lambda sign: _looks_parted(sample, sign))
    lines = _split(written, separator)
    start = _first_reading(lines)
    headings, lines = lines[:start], lines[start:]
    names = _names(headings, lines)
    columns = tuple(_columns(names, lines))
    return Table(separator, tuple(number for number, _ in headings), bool(names), columns, lines)


def holds(cell: str) -> Holds:
    """What a single cell holds."""
    if not cell:
        return Holds.NOTHING
    if is_number(cell):
        return Holds.NUMBER
    return next((Holds(kind) for kind, shape in _KINDS if shape.match(cell)), Holds.WORDS)


def _split(written: Sequence[str], separator: str) -> list[Line]:
    if separator == " ":
        return [(number, line.split()) for number, line in enumerate(written, start=1) if line.strip()]
    reader, before, found = csv.reader(written, delimiter=separator, skipinitialspace=True), 0, []
    try:
        for cells in reader:
            number, before = before + 1, reader.line_num
            while cells and not cells[-1].strip():
                cells.pop()
            if cells:
                found.append((number, [cell.strip() for cell in cells]))
    except csv.Error:
        found.append((reader.line_num, ["…"]))  # no line of readings is that long: it is named as unreadable
    return found


def _looks_parted(sample: Sequence[str], separator: str) -> int:
    """How far lines of the sample look like readings, or at least begin with a time, parted by this sign."""
    rows = [cells for _, cells in _split(sample, separator)]
    return sum(3 * _is_reading(cells) + (len(cells) > 1 and _begins_with_time(cells)) for cells in rows)


def _begins_with_time(cells: Sequence[str]) -> bool:
    return holds(cells[0]) in {Holds.MOMENT, Holds.CLOCK, Holds.DAY}


def _is_reading(cells: Sequence[str]) -> bool:
    kinds = Counter(holds(cell) for cell in cells)
    timed = kinds[Holds.MOMENT] + kinds[Holds.CLOCK]
    return bool(kinds[Holds.NUMBER]) and (bool(timed) or (kinds[Holds.NUMBER] > 1 and not kinds[Holds.WORDS]))


def _first_reading(lines: Sequence[Line]) -> int:
    """How many lines at the top are headings: none that begins with a time is one, whatever follows."""
    for place, (_, cells) in enumerate(lines[: _MOST_HEADINGS + 1]):
        if _is_reading(cells) or (len(cells) > 1 and _begins_with_time(cells)):
            return place
    return 0


def _names(headings: Sequence[Line], lines: Sequence[Line]) -> list[str]:
    """The names of the columns: the last heading with as many cells as most lines have."""
    widths = Counter(len(cells) for _, cells in lines[:_SAMPLE])
    usual = widths.most_common(1)[0][0] if widths else 0
    for _, cells in reversed(headings):
        if len(cells) >= max(usual, 2) and not all(is_number(cell) for cell in cells):
            return cells
    return []


def _columns(names: Sequence[str], lines: Sequence[Line]) -> list[Column]:
    step = 1 + len(lines) // _SAMPLE
    rows = [cells for _, cells in lines[::step]]
    widths = Counter(len(cells) for cells in rows)
    wide = max(
        [*(width for width, count in widths.items() if 10 * count >= len(rows)), len(names)], default=0
    )
    found = []
    for place in range(wide):
        cells = [cells[place] for cells in rows if len(cells) > place and cells[place]]
        kinds = Counter(holds(cell) for cell in cells)
        kind, count = kinds.most_common(1)[0] if kinds else (Holds.NOTHING, 0)
        # A few lines may be wrong: those are named later, by a reading of all.
        if 2 * count < len(cells):
            kind = Holds.WORDS
        name = names[place] if place < len(names) else ""
        shown = tuple(dict.fromkeys([*cells[:2], *cells[-1:]]))
        found.append(Column(place, name, kind, shown))
    if rows and not {column.holds for column in found} - {Holds.WORDS, Holds.NOTHING}:
        # Hardly a line can be read: what the first one holds is what they all should.
        first = [holds(cell) for cell in rows[0]]
        found = [replace(column, holds=kind) for column, kind in zip(found, first, strict=False)]
    return found
