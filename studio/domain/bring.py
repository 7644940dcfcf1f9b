"""A table that people bring from elsewhere: its lines, and which column is which.

The first line names the columns, in whatever order and words; a name we do not know is left aside until
somebody says what it holds. Nothing is left out for being wrong: a line that can't be read is named by its
number.
"""

from __future__ import annotations

import csv
import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from io import StringIO

from .csv_cells import LEADS
from .problems import DomainError
from .say import later, listed, say

#: Lines of one file. Each is entered with all its checks, so more would keep the page waiting.
MOST_LINES = 1000
LONGEST_CELL = 4000
_SEPARATORS = (";", "\t", ",", "|")
_NOT_A_WORD = re.compile(r"[\W_]+")


class Subject(StrEnum):
    PEOPLE = "people"
    CLASSES = "classes"
    PIECES = "pieces"


@dataclass(frozen=True, slots=True)
class Field:
    """What a column may hold. ``headings``: other words that a table may have over it."""

    name: str
    words: str
    headings: tuple[str, ...] = ()


FIELDS: dict[Subject, tuple[Field, ...]] = {
    Subject.PEOPLE: (
        Field("name", later("Whole name"), ("full name", "student", "person", "who")),
        Field("first_name", later("First name"), ("given name", "forename", "first")),
        Field("last_name", later("Last name"), ("surname", "family name", "last")),
        Field("email", later("Email address"), ("email", "e-mail", "mail", "address of mail")),
        Field("phone", later("Phone"), ("telephone", "mobile", "phone number", "tel")),
        Field("born_on", later("Date of birth"), ("born", "born on", "birthday", "birth date", "dob")),
        Field("guardian", later("Guardian’s name"), ("guardian", "parent", "parent name", "guardian name")),
        Field("guardian_email", later("Guardian’s email address"), ("guardian email", "parent email")),
        Field("guardian_phone", later("Guardian’s phone"), ("guardian phone", "parent phone")),
        Field("consent_on", later("Consent signed on"),
              ("consent", "consent signed", "signed on", "consent on")),
        Field("classes", later("Classes they are in"), ("class", "course", "courses", "enrolled in")),
        Field("notes", later("Notes for the tutor"), ("note", "notes", "remarks", "comment", "comments")),
    ),
    Subject.CLASSES: (
        Field("name", later("Name"), ("class", "course", "class name", "course name", "title")),
        Field("kind", later("Kind"), ("type", "sort")),
        Field("first_day", later("First day"),
              ("starts", "starts on", "start", "date", "from", "start date")),
        Field("starts_at", later("Begins at"), ("time", "begins", "start time", "from time", "at")),
        Field("ends_at", later("Ends at"), ("until", "end", "ends", "end time", "to time", "till")),
        Field("minutes", later("Length in minutes"), ("length", "minutes", "duration")),
        Field("meetings", later("Number of meetings"),
              ("meetings", "sessions", "weeks", "times", "evenings")),
        Field("places", later("Places"), ("seats", "size", "capacity")),
        Field("room", later("Room"), ("where", "place", "studio")),
        Field("teacher", later("Who teaches"), ("teacher", "tutor", "with", "leader")),
        Field("litres", later("Litres of firing included"), ("litres", "firing litres", "allowance")),
    ),
    Subject.PIECES: (
        Field("mark", later("Mark"), ("id", "foot mark")),
        Field("maker", later("Maker, or “studio”"),
              ("who", "name", "student", "person", "whose", "maker name")),
        Field("maker_email", later("Maker’s email address"), ("email", "maker email", "mail")),
        Field("form", later("Form"), ("what", "shape", "piece", "item")),
        Field("technique", later("How it was made"), ("technique", "method", "how", "made by")),
        Field("clay", later("Clay"), ("body", "clay body")),
        Field("width", later("Width or diameter"), ("diameter", "wide", "across", "w")),
        Field("depth", later("Depth"), ("deep", "d", "length")),
        Field("height", later("Height"), ("high", "tall", "h")),
        Field("stage", later("Stage"), ("state", "status", "where in the work")),
        Field("made_on", later("Made on"), ("made", "date", "day")),
        Field("shelf", later("Shelf"), ("place", "where", "board")),
        Field("use", later("Meant for"), ("use", "for")),
        Field("cone", later("Cone"), ("glaze cone", "to cone")),
        Field("due_on", later("Wanted by"), ("due", "due date", "wanted")),
        Field("notes", later("Notes"), ("note", "remarks", "comment", "comments")),
    ),
}  # fmt: skip

#: Any of these sets of columns is enough to begin with.
_ENOUGH: dict[Subject, tuple[frozenset[str], ...]] = {
    Subject.PEOPLE: (frozenset({"name"}), frozenset({"first_name"})),
    Subject.CLASSES: (frozenset({"name", "first_day", "starts_at"}),),
    Subject.PIECES: (frozenset({"maker", "form"}), frozenset({"maker_email", "form"})),
}


@dataclass(frozen=True, slots=True)
class Table:
    """``headings``: the cells of the first line; ``lines``: number in the file and cells, none empty."""

    separator: str
    headings: tuple[str, ...]
    lines: tuple[tuple[int, tuple[str, ...]], ...]

    def sample(self, place: int) -> str:
        """The first thing that stands in a column, cut short."""
        cells = (cells[place] for _, cells in self.lines if place < len(cells) and cells[place])
        return next(cells, "")[:40]

    def column(self, place: int | None) -> list[str]:
        """All that stands in a column."""
        if place is None:
            return []
        return [cells[place] for _, cells in self.lines if place < len(cells) and cells[place]]


@dataclass(frozen=True, slots=True)
class Row:
    """One line by what its cells hold. ``key`` is the same for the same line sent again."""

    number: int
    cells: Mapping[str, str]
    spare: int
    key: str

    def __getitem__(self, name: str) -> str:
        return self.cells.get(name, "")


def read_table(text: str) -> Table:
    """The lines of a file with a heading. Raises `DomainError` for what is no such table."""
    written = text.lstrip("\ufeff")
    separator = _separator(written)
    try:
        read = list(_read(written, separator))
    except csv.Error:
        raise DomainError(
            say("A line of the file never ends: a quotation mark is open. Save the table as CSV again."),
            code="no-table",
        ) from None
    if not read:
        raise DomainError(say("The file is empty. Save the table as CSV and send that."), code="no-table")
    (_, headings), lines = read[0], read[1:]
    if not lines:
        raise DomainError(
            say(
                "The file has one line only. "
                "The first names the columns, each one after it is a row of its own."
            ),
            code="no-lines",
        )
    if len(lines) > MOST_LINES:
        raise DomainError(
            say(
                "The file has {lines} lines. At most {most} go in at once: send it in parts, "
                "each with the first line on top. What is sent twice is entered once.",
                lines=f"{len(lines):,}",
                most=f"{MOST_LINES:,}",
            ),
            code="too-many-lines",
        )
    return Table(separator, headings, tuple(lines))


def guess_columns(headings: Sequence[str], subject: Subject) -> dict[str, int]:
    """Which column holds what, by the words over it. Each field and each column once."""
    plain = [_plain(heading) for heading in headings]
    found: dict[str, int] = {}
    for exact in (True, False):
        for field in FIELDS[subject]:
            own = (field.name, field.words, str(field.words))
            names = {_plain(word) for word in (own if exact else (*own, *field.headings))}
            for place, heading in enumerate(plain):
                if heading in names and field.name not in found and place not in found.values():
                    found[field.name] = place
                    break
    return found


def missing_columns(columns: Mapping[str, int], subject: Subject) -> str:
    """A sentence that says which column is wanted, or nothing when there is enough to begin with."""
    if any(enough <= columns.keys() for enough in _ENOUGH[subject]):
        return ""
    words = {field.name: field.words for field in FIELDS[subject]}
    wanted = [name for name in words if name in _ENOUGH[subject][0] and name not in columns]
    names = listed([f"“{words[name]}”" for name in wanted])
    return say("No column is known to hold {names}. Say below which one does.", names=names)


def rows(table: Table, columns: Mapping[str, int]) -> list[Row]:
    """The lines by what their cells hold; an apostrophe that keeps a sign from being a formula goes."""
    found, seen = [], Counter()
    for number, cells in table.lines:
        held = {
            name: _without_guard(cells[place])
            for name, place in columns.items()
            if place < len(cells) and cells[place]
        }
        content = "\x1f".join(f"{name}={held[name]}" for name in sorted(held))
        seen[content] += 1
        spare = sum(bool(cell) for cell in cells[len(table.headings) :])
        found.append(Row(number, held, spare, _key(content, seen[content])))
    return found


def _key(content: str, nth: int) -> str:
    """Of the second of two lines alike it is another, so that two bowls alike are two bowls."""
    return hashlib.sha256(f"{content}\x1e{nth}".encode("utf-8", "replace")).hexdigest()[:40]


def _without_guard(cell: str) -> str:
    return cell[1:] if len(cell) > 1 and cell[0] == "'" and cell[1] in LEADS else cell


def _plain(heading: str) -> str:
    return _NOT_A_WORD.sub(" ", heading.casefold().replace("’s", "").replace("'s", "")).strip()


def _separator(text: str) -> str:
    """The sign that parts the first line into most cells; a comma when none does."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    counts = {sign: sum(1 for _ in _cells_of(first, sign)) for sign in _SEPARATORS}
    best = max(_SEPARATORS, key=lambda sign: counts[sign])
    return best if counts[best] > 1 else ","


def _cells_of(line: str, separator: str) -> Iterable[str]:
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except csv.Error:
        return []


def _read(text: str, separator: str) -> Iterable[tuple[int, tuple[str, ...]]]:
    reader, before = csv.reader(StringIO(text, newline=""), delimiter=separator), 0
    for cells in reader:
        number, before = before + 1, reader.line_num
        stripped = [cell.strip()[:LONGEST_CELL] for cell in cells]
        while stripped and not stripped[-1]:
            stripped.pop()
        if stripped:
            yield number, tuple(stripped)
