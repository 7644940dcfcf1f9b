"""Courses, their meetings and who is enrolled."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import classes as actions
from studio.domain.problems import Refused
from studio.forms.classes import EnrolForm
from studio.models import Course, Enrolment
from studio.queries import classes as queries
from studio.queries import courses as course_queries

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
        "enrol_form": EnrolForm(course=row) if request.user.is_tutor else None,
    }
    return render(request, "classes/course.html", context)


@access.tutor
@require_POST
def enrol(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Course, code=code)
    form = EnrolForm(request.POST, course=row)
    if not form.is_valid():
        messages.error(request, "Choose who joins from the list.")
        return redirect("course", code=code)
    person = form.cleaned_data["person"]
    try:
        actions.enrol(course=row, person=person, by=request.user)
        messages.success(request, f"{person.full_name} is in {row.name}.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("course", code=code)


@access.tutor
@require_POST
def enrolment_end(request: HttpRequest, code: str, person_code: str) -> HttpResponse:
    enrolment = get_object_or_404(
        Enrolment.objects.select_related("person", "course"),
        course__code=code,
        person__code=person_code,
        left_at__isnull=True,
    )
    try:
        actions.leave(enrolment=enrolment, by=request.user)
        messages.success(request, f"{enrolment.person.full_name} is out of {enrolment.course.name}.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("course", code=code)
