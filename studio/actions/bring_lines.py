"""What the lines of a brought table share: how it is meant, what each came to, what was made of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from studio.domain.bring_cells import DayOrder, LengthUnit, day_of
from studio.domain.problems import Problem
from studio.domain.say import say
from studio.models import Person

from .common import refuse


class Result(StrEnum):
    NEW = "new"
    FILLED = "filled"
    KNOWN = "known"
    WRONG = "wrong"


@dataclass
class Line:
    """One line of the file: what it is of, what comes of it, and what is worth saying."""

    number: int
    result: Result
    what: str
    notes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def is_(self, result: Result, what: str, *notes: str) -> None:
        self.result, self.what = result, what
        self.notes.extend(notes)

    def refused(self, problems: list[Problem]) -> None:
        self.result, self.problems = Result.WRONG, list(problems)


@dataclass(frozen=True)
class Choice:
    """How the tutor says a file is meant. Left out: as recognised.

    ``columns`` gives a column's place for a field's name, or None for "in no column".
    """

    columns: Mapping[str, int | None] = field(default_factory=dict)
    day_order: DayOrder | None = None
    length_unit: LengthUnit | None = None
    day_order_said: DayOrder | None = None
    length_unit_said: LengthUnit | None = None

    def columns_over(self, guessed: Mapping[str, int], *, wide: int) -> dict[str, int]:
        """The recognised columns with those said put over them; a column holds one thing."""
        said = {name: place for name, place in self.columns.items() if place is None or 0 <= place < wide}
        taken = {place for place in said.values() if place is not None}
        kept = {n: place for n, place in guessed.items() if n not in said and place not in taken}
        return {**kept, **{name: place for name, place in said.items() if place is not None}}


@dataclass
class Brought:
    """One entering of a file: who, when, how it is meant, and the primary keys of what came of it."""

    choice: Choice
    by: Person
    now: datetime
    today: date
    made: dict[str, list[int]] = field(default_factory=dict)
    _of_line: list[tuple[str, int]] = field(default_factory=list)

    def note(self, what: str, pk: int) -> None:
        """Something new: kept once the line is through."""
        self._of_line.append((what, pk))

    @contextmanager
    def line(self) -> Iterator[None]:
        """What a refused line made is forgotten with it."""
        self._of_line = []
        yield
        for what, pk in self._of_line:
            self.made.setdefault(what, []).append(pk)

    def day(self, cell: str) -> date | None:
        return day_of(cell, order=self.choice.day_order, today=self.today) if cell else None


class PeopleByName:
    """The people of the studio by address and by name, and whoever a file has brought since."""

    def __init__(self) -> None:
        self._of_line: list[tuple[Person, Person | None]] = []
        self._by_email: dict[str, Person] = {}
        self._by_name: dict[str, dict[int, Person]] = {}
        for person in Person.objects.current().select_related("guardian"):
            self._put(person)

    def start_line(self) -> None:
        self._of_line = []

    def forget_line(self) -> None:
        """Whoever a refused line added or changed is as before."""
        for person, before in reversed(self._of_line):
            self._drop(person)
            if before is not None:
                self._put(before)
        self._of_line = []

    def add(self, person: Person, *, before: Person | None = None) -> None:
        """Somebody new, or in place of how they were ``before``."""
        self._of_line.append((person, before))
        if before is not None:
            self._drop(before)
        self._put(person)

    def _put(self, person: Person) -> None:
        if person.email:
            self._by_email[person.email] = person
        self._by_name.setdefault(_plain(person.full_name), {})[person.pk] = person

    def _drop(self, person: Person) -> None:
        self._by_email.pop(person.email or "", None)
        self._by_name.get(_plain(person.full_name), {}).pop(person.pk, None)

    def with_email(self, email: str | None) -> Person | None:
        return self._by_email.get(email) if email else None

    def named(self, name: str) -> list[Person]:
        return list(self._by_name.get(_plain(name), {}).values())

    def the_one(self, *, name: str, email: str | None, what: str) -> Person:
        """The person meant. Refused when nobody is, or when several could be."""
        if email:
            found = self.with_email(email)
            if found is None:
                refuse(
                    "nobody-there",
                    say("Nobody here has the address {email}. Bring the people first.", email=email),
                )
            return found
        found = self.named(name)
        if not found:
            refuse(
                "nobody-there",
                say(
                    "Nobody here is called “{name}”. Check the {what}, or bring the people first.",
                    name=name,
                    what=what,
                ),
            )
        if len(found) > 1:
            refuse(
                "several-there",
                say(
                    "{count} people are called “{name}”. Say which by their email address.",
                    count=len(found),
                    name=name,
                ),
            )
        return found[0]


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())
