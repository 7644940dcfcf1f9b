"""Who gets an announcement: everybody in the chosen classes or at all, and who reads it for whom."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Count, Q, QuerySet

from studio.models import Announcement, Course, MailOff, Notice, Person, Role

from . import notices as queries


@dataclass(slots=True)
class Reader:
    """One mail. ``whose`` are the young people it is about; ``reached`` is mail, off or nowhere."""

    person: Person
    whose: list[Person] = field(default_factory=list)
    is_off: bool = False
    address: str = ""


def latest(*, most: int = 40) -> QuerySet[Announcement]:
    """The newest first, each with how many mails of it there are and how many have gone."""
    return (
        Announcement.objects.select_related("made_by")
        .prefetch_related("courses")
        .annotate(
            mails=Count("notices", distinct=True),
            gone=Count("notices", filter=Q(notices__state=Notice.State.SENT), distinct=True),
        )
        .order_by("-made_at", "-id")[:most]
    )


def courses_to_write_to(day: date) -> list[Course]:
    """Courses that somebody is in, and that are not long over: four weeks at most."""
    over = Q(ends_on__isnull=False, ends_on__lt=day - timedelta(weeks=4))
    enrolled = Course.objects.filter(enrolments__left_at__isnull=True, enrolments__isnull=False)
    return list(enrolled.exclude(over).distinct().order_by("name", "id"))


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
