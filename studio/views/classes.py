"""Courses, their meetings and who is enrolled."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.forms.places import EnrolForm, WaitForm
from studio.queries import classes as queries
from studio.queries import courses as course_queries
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
    row = get_object_or_404(queries.course_page(code))
    now = timezone.now()
    context = {
        "course": row,
        "rule_words": course_queries.rule_words(row),
        "next": row.sessions.held().filter(ends_at__gte=now).first(),
        "sessions": queries.sessions_with_pieces(row, now=now)[:SESSIONS_SHOWN],
        "coming": row.sessions.filter(ends_at__gt=now).order_by("starts_at")[:SESSIONS_SHOWN],
        "waiting": list(place_queries.in_line(row)),
        "free": place_queries.free_places(row, now),
        "enrol_form": EnrolForm(course=row) if request.user.is_tutor else None,
        "wait_form": WaitForm(course=row) if request.user.is_tutor else None,
    }
    return render(request, "classes/course.html", context)
