"""The register of one meeting: who belongs in it, what was said of each, and which meetings are on today."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import F, Q, QuerySet

from studio.models import Attendance, Person, Session

#: A register is offered first from so long before the class to so long after it.
OPEN_BEFORE, OPEN_AFTER = timedelta(hours=1), timedelta(hours=3)


def people_of(session: Session) -> QuerySet[Person]:
    """Everybody in this meeting's register, by name: who was enrolled then, who makes up a class in it, and
    anybody of whom something was said.
    """
    enrolled = Q(
        Q(enrolments__left_at__isnull=True) | Q(enrolments__left_at__gt=session.starts_at),
        enrolments__course=session.course_id,
        enrolments__enrolled_at__lte=session.ends_at,
    )
    keys = Person.objects.filter(enrolled).values("pk")
    guests = Person.objects.filter(make_ups__session=session.pk, make_ups__given_up_at__isnull=True).values(
        "pk"
    )
    spoken_of = Attendance.objects.filter(session=session.pk).exclude(word="").values("person")
    return (
        Person.objects.filter(Q(pk__in=keys) | Q(pk__in=guests) | Q(pk__in=spoken_of))
        .select_related("guardian")
        .order_by("first_name", "last_name", "pk")
    )


def meetings_of_day(now: datetime) -> QuerySet[Session]:
    """Meetings whose register is wanted now: running ones first, then those that begin soonest."""
    return (
        Session.objects.filter(starts_at__lte=now + OPEN_BEFORE, ends_at__gte=now - OPEN_AFTER)
        .select_related("course__teacher")
        .order_by(F("starts_at").asc(), "pk")
    )
