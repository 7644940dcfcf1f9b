"""People out of a table: new ones are entered, what is empty on those who are here is filled in.

What the studio has written down is never overwritten by a file: where the two differ, that is said.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from inspect import signature
from typing import Any

from studio.domain.bring import Row
from studio.domain.bring_cells import names_of, plain
from studio.domain.say import later, say
from studio.models import Course, Enrolment, Person

from . import consents
from .bring_lines import Brought, Line, PeopleByName, Result
from .common import clean_email, refuse
from .enrolments import enrol
from .people import save_person

_WORDS = {
    "last_name": later("last name"),
    "email": later("email address"),
    "phone": "phone",
    "born_on": later("date of birth"),
    "guardian": "guardian",
    "notes": "notes",
}
#: What saving somebody writes: all of it stays but what is filled in.
_KEPT = tuple(
    name
    for name in signature(save_person).parameters
    if name in {column.name for column in Person._meta.get_fields()}
)


class PeopleBringer:
    def __init__(self, brought: Brought) -> None:
        self.brought = brought
        self.people = PeopleByName()
        self.courses: dict[str, Course] = {}
        for course in Course.objects.order_by("starts_on"):  # of courses called alike, the newest
            self.courses[plain(course.name)] = course

    def start_line(self) -> None:
        self.people.start_line()

    def forget_line(self) -> None:
        self.people.forget_line()

    def in_order(self, rows: list[Row]) -> Iterable[Row]:
        """Those who may answer for others come first, wherever they stand in the file."""
        return sorted(rows, key=lambda row: bool(row["guardian"] or row["guardian_email"]))

    def enter(self, row: Row, line: Line) -> None:
        first, last = row["first_name"], row["last_name"]
        if row["name"] and not first:
            first, last = names_of(row["name"])
        line.what = f"{first} {last}".strip()
        if not first:
            refuse("missing", say("The name is missing. Fill it in."))
        said: dict[str, Any] = {
            "last_name": last,
            "email": clean_email(row["email"]),
            "phone": row["phone"],
            "born_on": self.brought.day(row["born_on"]),
            "notes": row["notes"],
            "guardian": self._guardian(row, line),
        }
        person = self._who(first, last, said["email"], said["born_on"])
        if person is None:
            values = {name: value for name, value in said.items() if value}
            person = self._save(None, first_name=first, **values)
            self.brought.note("people", person.pk)
            line.is_(Result.NEW, line.what)
        else:
            self._fill_in(person, said, line)
        self._consent(person, self.brought.day(row["consent_on"]), line)
        self._enrol(person, row["classes"], line)

    def _who(self, first: str, last: str, email: str | None, born_on: date | None) -> Person | None:
        """The person of this line, if they are here: by address, else by name where that leaves no doubt."""
        if found := self.people.with_email(email):
            return found
        alike = [
            person
            for person in self.people.named(f"{first} {last}")
            if not (person.born_on and born_on and person.born_on != born_on) and not (email and person.email)
        ]
        if len(alike) > 1:
            refuse(
                "several-there",
                say(
                    "{count} people here are called {first} {last}. Add an address or a date of birth.",
                    count=len(alike),
                    first=first,
                    last=last,
                ),
            )
        return alike[0] if alike else None

    def _guardian(self, row: Row, line: Line) -> Person | None:
        email, name = (
            clean_email(row["guardian_email"], label=say("guardian’s email address")),
            row["guardian"],
        )
        if not email and not name:
            return None
        if found := self.people.with_email(email):
            return found
        if not email:
            return self.people.the_one(name=name, email=None, what=later("guardian"))
        if not name:
            refuse(
                "guardian-name",
                say("Nobody here has the address {email}. Write the guardian’s name beside it.", email=email),
            )
        first, last = names_of(name)
        alike = [person for person in self.people.named(f"{first} {last}") if not person.email]
        if len(alike) == 1:
            guardian = self._save(alike[0], email=email)
            line.notes.append(
                say("{full_name} gets the address {email}.", full_name=guardian.full_name, email=email)
            )
            return guardian
        guardian = self._save(
            None, first_name=first, last_name=last, email=email, phone=row["guardian_phone"]
        )
        self.brought.note("people", guardian.pk)
        line.notes.append(say("{full_name}, the guardian, is entered too.", full_name=guardian.full_name))
        return guardian

    def _fill_in(self, person: Person, said: dict[str, Any], line: Line) -> None:
        filled, differs = {}, []
        for name, value in said.items():
            here = getattr(person, name)
            if not value or value == here:
                continue
            if here:
                differs.append(_WORDS[name])
            else:
                filled[name] = value
        if filled:
            self._save(person, **filled)
            words = ", ".join(_WORDS[name] for name in filled)
            line.is_(Result.FILLED, person.full_name, say("Filled in: {words}.", words=words))
        else:
            line.is_(Result.KNOWN, person.full_name)
        if differs:
            line.notes.append(
                say(
                    "The file says something else here: {differs}. What the studio has stays.",
                    differs=", ".join(differs),
                )
            )

    def _consent(self, person: Person, signed_on: date | None, line: Line) -> None:
        """Note the paper a guardian signed, where none is on file; of grown-ups it says nothing."""
        if signed_on is None or not consents.is_wanted(person, self.brought.now):
            return
        row = consents.note_signed_paper(
            person=person, signed_on=signed_on, course=None, by=self.brought.by, now=self.brought.now
        )
        self.brought.note("consents", row.pk)
        line.notes.append(say("The consent of {name} is noted.", name=row.signed))
        if line.result == Result.KNOWN:
            line.result = Result.FILLED

    def _enrol(self, person: Person, classes: str, line: Line) -> None:
        for name in filter(None, (part.strip() for part in classes.replace("|", ";").split(";"))):
            course = self.courses.get(plain(name))
            if course is None:
                refuse(
                    "no-such-class",
                    say(
                        "No class is called “{name}”. Bring the classes first, or check the name.", name=name
                    ),
                )
            if Enrolment.objects.filter(course=course, person=person, left_at__isnull=True).exists():
                continue
            if consents.is_wanted(person, self.brought.now) and person.guardian:
                refuse(
                    "consent-missing",
                    say(
                        "{name} is under 18, and no consent is on file. Have {guardian} sign on paper, and "
                        "write the day in a column “Consent signed on”.",
                        name=person.first_name,
                        guardian=person.guardian.full_name,
                    ),
                )
            # Who is in a class already has paid by the books they come from.
            row = enrol(
                course=course, person=person, by=self.brought.by, with_fee=False, now=self.brought.now
            )
            self.brought.note("enrolments", row.pk)
            line.notes.append(say("Enrolled in {name}.", name=course.name))
            if line.result == Result.KNOWN:
                line.result = Result.FILLED

    def _save(self, person: Person | None, **values: Any) -> Person:
        kept = {name: getattr(person, name) for name in _KEPT} if person else {}
        saved = save_person(by=self.brought.by, person=person, now=self.brought.now, **{**kept, **values})
        self.people.add(saved, before=person)
        return saved
