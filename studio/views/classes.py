"""Courses, their meetings and who is enrolled."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.forms.places import EnrolForm, WaitForm
from studio.models import Course
from studio.queries import classes as queries
from studio.queries import courses as course_queries
from studio.queries import people as people_queries
from studio.queries import places as place_queries

from . import access

SESSIONS_SHOWN = 12


@access.staff
@require_safe
def classes(request: HttpRequest) -> HttpResponse:
    rows = list(queries.courses(now=timezone.now()))
    context = {
        "coming": [row for row in rows if row.next_at],
        "over": [row for row in rows if not row.next_at],
    }
    return render(request, "classes/list.html", context)


@access.staff
@require_safe
def course(request: HttpRequest, code: str) -> HttpResponse:
    return show_course(request, code)


def show_course(request: HttpRequest, code: str, *, enrol_form: EnrolForm | None = None) -> HttpResponse:
    """A course's page; with a form that was refused it keeps what was typed."""
    row = get_object_or_404(queries.course_page(code))
    now = timezone.now()
    coming = row.sessions.filter(ends_at__gt=now).select_related("replaces", "replaced_by")
    context = {
        "course": row,
        "rule_words": course_queries.rule_words(row),
        "next": row.sessions.held().filter(ends_at__gte=now).first(),
        "sessions": queries.sessions_with_pieces(row, now=now)[:SESSIONS_SHOWN],
        "coming": coming.order_by("starts_at")[:SESSIONS_SHOWN],
        "waiting": list(place_queries.in_line(row)),
        "free": place_queries.free_places(row, now),
        "enrol_form": enrol_form or (_enrol_form(request, row) if request.user.is_tutor else None),
        "wait_form": WaitForm(course=row) if request.user.is_tutor else None,
    }
    return render(request, "classes/course.html", context, status=200 if enrol_form is None else 422)


def _enrol_form(request: HttpRequest, row: Course) -> EnrolForm:
    return EnrolForm(course=row, papers_wanted=people_queries.consents_wanted(request.today))
