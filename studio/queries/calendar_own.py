"""Somebody's own calendar: the classes they teach, and those that they or their young people go to."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from django.db.models import Q

from studio.domain.say import say
from studio.models import Enrolment, MakeUp, Person, Session, Teaching

from .calendar import Entry, meeting


def teaching(person: Person, *, begin: datetime, end: datetime, now: datetime) -> list[Entry]:
    """Meetings of the courses that this person teaches or has taught, cancelled ones too. Two queries.

    Of a course that somebody else teaches by now, what has been taught stays; what was to come stays too, as
    cancelled and with a higher revision, so that calendars take it off. Taking it again raises it once more.
    """
    handed = {each.course_id: each for each in Teaching.objects.filter(person=person)}
    rows = Session.objects.filter(
        Q(course__teacher=person) | Q(course__in=handed), starts_at__gte=begin, starts_at__lt=end
    )
    found = []
    for row in rows.select_related("course__room", "replaces").order_by("starts_at", "pk"):
        entry, teaching = meeting(row, now), handed.get(row.course_id)
        if teaching is not None:
            left = teaching.left_at is not None and row.starts_at >= teaching.left_at
            entry = replace(
                entry,
                state="cancelled" if left else entry.state,
                detail=say("Somebody else teaches it now") if left else entry.detail,
                revision=entry.revision + teaching.revisions,
            )
        found.append(entry)
    return found


def going(person: Person, *, begin: datetime, end: datetime, now: datetime) -> list[Entry]:
    """Meetings this person goes to, and the young people they answer for, in order of time. Four queries.

    What somebody left or gave up stays as cancelled, under the same key and with a higher revision, so that
    calendars take it off. Coming back raises it again.
    """
    people = {each.pk: each for each in Person.objects.filter(Q(pk=person.pk) | Q(guardian=person))}
    enrolments = list(Enrolment.objects.filter(person__in=people))
    meetings: dict[int, list[Session]] = {}
    rows = Session.objects.filter(
        course__in={each.course_id for each in enrolments}, starts_at__gte=begin, starts_at__lt=end
    )
    for row in rows.select_related("course__room", "replaces"):
        meetings.setdefault(row.course_id, []).append(row)
    found = [
        _entry(
            row,
            people[each.person_id],
            person,
            now,
            off=each.left_at is not None and row.starts_at >= each.left_at,
            times=2 * (each.round - 1) + (each.left_at is not None),
        )
        for each in enrolments
        for row in meetings.get(each.course_id, ())
        if row.ends_at >= each.enrolled_at
    ]
    found += _made_up(people, person, begin, end, now)
    return sorted(found, key=lambda entry: (entry.starts_at, entry.key))


def _made_up(
    people: dict[int, Person], reader: Person, begin: datetime, end: datetime, now: datetime
) -> list[Entry]:
    rows = MakeUp.objects.filter(person__in=people, session__starts_at__gte=begin, session__starts_at__lt=end)
    latest: dict[str, Entry] = {}
    before: dict[tuple[int, int], int] = {}
    for row in rows.select_related("session__course__room", "session__replaces").order_by("pk"):
        times = before.get((row.person_id, row.session_id), 0)
        before[row.person_id, row.session_id] = times + 2
        off = row.given_up_at is not None
        entry = _entry(row.session, people[row.person_id], reader, now, off=off, times=times + off)
        latest[entry.key] = replace(entry, detail=say("To make up for a class that was missed"))
    return list(latest.values())


def _entry(row: Session, who: Person, reader: Person, now: datetime, *, off: bool, times: int) -> Entry:
    entry = meeting(row, now)
    return replace(
        entry,
        key=f"{entry.key}-{who.code}",
        title=entry.title if who.pk == reader.pk else f"{who.first_name}: {entry.title}",
        state="cancelled" if off else entry.state,
        revision=entry.revision + times,
    )
