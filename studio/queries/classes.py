"""Courses with their meetings and who is enrolled."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Count, Min, Prefetch, Q, QuerySet

from studio.domain.stages import ENDED, Stage
from studio.models import Course, Enrolment, Session


def courses(*, now: datetime) -> QuerySet[Course]:
    """All courses, those that still meet first, with the next meeting and the places taken."""
    return (
        Course.objects.select_related("teacher")
        .annotate(
            next_at=Min(
                "sessions__starts_at",
                filter=Q(sessions__ends_at__gte=now, sessions__cancelled_at__isnull=True),
            ),
            taken=Count("enrolments", filter=Q(enrolments__left_at__isnull=True), distinct=True),
        )
        .order_by("next_at", "name")
    )


def course_page(code: str) -> QuerySet[Course]:
    enrolled = (
        Enrolment.objects.filter(left_at__isnull=True)
        .select_related("person__guardian")
        .annotate(live_pieces=Count("person__pieces", filter=~Q(person__pieces__stage__in=ENDED)))
        .order_by("person__first_name", "person__last_name")
    )
    return (
        Course.objects.filter(code=code)
        .select_related("teacher", "room")
        .prefetch_related(Prefetch("enrolments", queryset=enrolled, to_attr="enrolled_now"))
    )


def sessions_with_pieces(course: Course, *, now: datetime) -> QuerySet[Session]:
    """The course’s meetings that are over, the newest first, with how many pieces were made in each."""
    return (
        course.sessions.filter(ends_at__lte=now)
        .annotate(made=Count("pieces", filter=~Q(pieces__stage=Stage.WITHDRAWN)))
        .order_by("-starts_at")
    )
