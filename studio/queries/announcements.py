"""Who gets an announcement: everybody in the chosen classes or at all, and who reads it for whom."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from studio.models import Course, MailOff, Person, Role

from . import notices as queries


@dataclass(slots=True)
class Reader:
    """One mail. ``whose`` are the young people it is about; ``reached`` is mail, off or nowhere."""

    person: Person
    whose: list[Person] = field(default_factory=list)
    is_off: bool = False
    address: str = ""


def people_of(courses: Iterable[Course], *, to_everybody: bool) -> list[Person]:
    """The students it is for: now enrolled in these courses, or everybody with the studio who is no staff."""
    people = Person.objects.current().select_related("guardian").order_by("first_name", "last_name", "id")
    if to_everybody:
        return list(people.filter(role=Role.MEMBER))
    enrolled = people.filter(enrolments__course__in=list(courses), enrolments__left_at__isnull=True)
    return list(enrolled.distinct())


def readers_of(people: Iterable[Person], day: date) -> list[Reader]:
    """Who will get it, once each, guardians in the place of the young."""
    found: dict[int, Reader] = {}
    for person in people:
        reader = person.answers_for(day)
        row = found.setdefault(reader.pk, Reader(reader, address=queries.address_of(reader, day)))
        if reader.pk != person.pk:
            row.whose.append(person)
    off = MailOff.objects.filter(person__in=list(found), list=MailOff.List.ANNOUNCEMENTS)
    for key in off.values_list("person", flat=True):
        found[key].is_off = True
    return sorted(
        found.values(), key=lambda row: (row.person.first_name, row.person.last_name, row.person.pk)
    )
