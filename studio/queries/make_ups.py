"""Make-up classes: what places and wheels a meeting has free, and where a missed class can be made up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, F, Q

from studio.models import MISSED, Attendance, Course, Enrolment, MakeUp, Person, Session, Waiting

#: How far ahead a missed class can be made up, and how many meetings are offered.
AHEAD, MOST_OFFERED = timedelta(days=35), 40


@dataclass(frozen=True, slots=True)
class RoomLeft:
    """Who comes to one meeting, and what that leaves. ``wheels_free`` None: it works without wheels."""

    coming: int
    places_free: int
    wheels_free: int | None

    @property
    def free(self) -> int:
        """How many more fit: a place and, where the class has wheels, a wheel for each."""
        left = self.places_free if self.wheels_free is None else min(self.places_free, self.wheels_free)
        return max(0, left)


def room_at(sessions: Iterable[Session], *, now: datetime) -> dict[int, RoomLeft]:
    """Primary key of a meeting -> its `RoomLeft`. Six queries, however many meetings.

    Who is enrolled comes, but for those who told us or are away; a place that is offered to somebody
    counts as taken, and so does a make-up that is booked.
    """
    sessions = list(sessions)
    keys = [session.pk for session in sessions]
    courses = Course.objects.in_bulk({session.course_id for session in sessions})
    taken = _usually_coming(courses, now)
    missing = Attendance.objects.filter(session__in=keys, word__in=MISSED)
    away = set(missing.values_list("session_id", "person_id"))
    guests = Counter(
        session
        for session, person in MakeUp.objects.filter(session__in=keys, given_up_at__isnull=True).values_list(
            "session_id", "person_id"
        )
        if (session, person) not in away
    )
    enrolled_away = Counter(
        missing.filter(
            person__enrolments__course_id=F("session__course_id"),
            person__enrolments__left_at__isnull=True,
        ).values_list("session_id", flat=True)
    )
    found = {}
    for session in sessions:
        course = courses[session.course_id]
        coming = taken[course.pk] - enrolled_away[session.pk] + guests[session.pk]
        found[session.pk] = RoomLeft(
            coming=coming,
            places_free=course.places - coming,
            wheels_free=course.wheels - coming if course.wheels else None,
        )
    return found


def _usually_coming(courses: Iterable[int], now: datetime) -> Counter[int]:
    """Primary key of a course -> who is enrolled, and who is offered a place. Two queries."""
    taken: Counter[int] = Counter()
    for rows in (
        Enrolment.objects.filter(course__in=courses, left_at__isnull=True),
        Waiting.objects.filter(course__in=courses, state=Waiting.State.OFFERED, offer_until__gt=now),
    ):
        taken.update(dict(rows.order_by().values_list("course").annotate(Count("id"))))
    return taken


def held_by_guests(course: Course, *, now: datetime) -> int:
    """Places of a course that can't be sold, as guests sit on them in some coming meeting.

    A guest on the place of somebody who told us holds none.
    """
    sessions = list(
        Session.objects.held()
        .filter(course=course, ends_at__gt=now, make_ups__given_up_at__isnull=True, make_ups__isnull=False)
        .distinct()
    )
    if not sessions:
        return 0
    usual = course.places - _usually_coming([course.pk], now)[course.pk]
    return max(0, *(usual - room.places_free for room in room_at(sessions, now=now).values()))


@dataclass(frozen=True, slots=True)
class Offer:
    """A coming meeting of another class with room in it."""

    session: Session
    room: RoomLeft


def make_up_offers(person: Person, *, now: datetime, day_age: int | None = None) -> list[Offer]:
    """Coming meetings of classes the person is not in, with a free place and wheel, the next first."""
    own = Course.objects.filter(Q(enrolments__person=person, enrolments__left_at__isnull=True)).values("pk")
    booked = MakeUp.objects.filter(person=person, given_up_at__isnull=True).values("session")
    coming = (
        Session.objects.held()
        .filter(ends_at__gt=now, starts_at__lte=now + AHEAD)
        .exclude(course__in=own)
        .exclude(pk__in=booked)
        .select_related("course__teacher", "course__room")
        .order_by("starts_at", "pk")
    )
    if day_age is not None:
        coming = coming.filter(
            Q(course__age_least__isnull=True) | Q(course__age_least__lte=day_age),
            Q(course__age_most__isnull=True) | Q(course__age_most__gte=day_age),
        )
    rows = list(coming[: 3 * MOST_OFFERED])
    room = room_at(rows, now=now)
    return [Offer(row, room[row.pk]) for row in rows if room[row.pk].free][:MOST_OFFERED]
