"""Places in courses: taken, held by an offer, free; and who waits for one."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Count, Exists, F, IntegerField, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce, Greatest

from studio.models import ClassRules, Course, Enrolment, Session, Waiting

from .make_ups import held_by_guests

OPEN = (Waiting.State.WAITING, Waiting.State.OFFERED)


def enrolled(course: Course) -> QuerySet[Enrolment]:
    return Enrolment.objects.filter(course=course, left_at__isnull=True)


def offers(course: Course, now: datetime) -> QuerySet[Waiting]:
    """Offers that hold a place."""
    return Waiting.objects.filter(course=course, state=Waiting.State.OFFERED, offer_until__gt=now)


def free_places(course: Course, now: datetime) -> int:
    """Places nobody has, nobody is offered and no guest makes up a class on. Sure only while the
    course's row is held.
    """
    taken = enrolled(course).count() + offers(course, now).count() + held_by_guests(course, now=now)
    return course.places - taken


def with_places(courses: QuerySet[Course], now: datetime) -> QuerySet[Course]:
    """Courses with ``taken``, ``offered``, ``waits`` and ``free``, counted by the database without joins that
    multiply.
    """
    held = Waiting.objects.filter(course=OuterRef("pk"))
    return courses.annotate(
        taken=_counted(Enrolment.objects.filter(course=OuterRef("pk"), left_at__isnull=True)),
        offered=_counted(held.filter(state=Waiting.State.OFFERED, offer_until__gt=now)),
        waits=_counted(held.filter(state=Waiting.State.WAITING)),
    ).annotate(free=Greatest(F("places") - F("taken") - F("offered"), Value(0)))


def coming(now: datetime) -> QuerySet[Course]:
    """What the public page shows: courses that have not begun, and open studio hours that go on; the soonest
    first. None where the studio keeps the page off.
    """
    if not ClassRules.the().public_page:
        return Course.objects.none()
    meetings = Session.objects.held().filter(course=OuterRef("pk")).order_by("starts_at")
    shown = Course.objects.filter(is_public=True).annotate(
        first_at=Subquery(meetings.values("starts_at")[:1]),
        next_at=Subquery(meetings.filter(starts_at__gt=now).values("starts_at")[:1]),
        next_ends_at=Subquery(meetings.filter(starts_at__gt=now).values("ends_at")[:1]),
    )
    begun = shown.exclude(kind=Course.Kind.OPEN).filter(first_at__lte=now)
    shown = shown.filter(next_at__isnull=False).exclude(pk__in=begun.values("pk"))
    return with_places(shown.select_related("teacher", "room"), now).order_by("next_at", "name", "pk")


def is_open(course: Course, now: datetime) -> bool:
    """Whether somebody may still take a place by themself."""
    return coming(now).filter(pk=course.pk).exists()


def next_meeting(course: Course, now: datetime) -> Session | None:
    return course.sessions.held().filter(starts_at__gt=now).order_by("starts_at").first()


def first_meeting(course: Course) -> Session | None:
    return course.sessions.held().order_by("starts_at").first()


def in_line(course: Course) -> QuerySet[Waiting]:
    """Those who wait and those who are offered a place, in their order."""
    return (
        Waiting.objects.filter(course=course, state__in=OPEN)
        .select_related("person__guardian")
        .order_by("asked_at", "id")
    )


def _counted(rows: QuerySet) -> Coalesce:
    counted = rows.order_by().values("course").annotate(count=Count("pk")).values("count")
    return Coalesce(Subquery(counted, output_field=IntegerField()), 0)


def with_room(enrolment: Enrolment, now: datetime) -> QuerySet[Course]:
    """Other courses that still meet and have a place free for this person to move to."""
    meets = Session.objects.held().filter(course=OuterRef("pk"), starts_at__gt=now)
    theirs = Enrolment.objects.filter(person=enrolment.person, left_at__isnull=True).values("course")
    return (
        with_places(Course.objects.filter(Exists(meets)), now)
        .filter(free__gt=0)
        .exclude(pk__in=theirs)
        .order_by("starts_on", "name", "pk")
    )
