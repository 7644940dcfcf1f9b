"""What a class waits for, and the end of its term."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.models import Attendance, Course
from studio.queries import class_waiting as waiting_queries
from studio.queries import term_end as queries
from studio.queries.class_due import ClassDue, due_by_class
from studio.queries.loads_waiting import COURSE_SOON

from . import access

#: Meetings beside each other in the table of who came; earlier ones are counted.
MEETINGS_SHOWN = 12


@access.staff
@require_safe
def class_waiting(request: HttpRequest, code: str) -> HttpResponse:
    """Which firing will their pieces be in? All that the class made and that is still here."""
    course, now = get_object_or_404(Course, code=code), timezone.now()
    found = waiting_queries.class_waiting(course, now=now)
    context = {
        "course": course,
        "found": found,
        "ends_soon": course.ends_on and course.ends_on <= timezone.localdate(now) + COURSE_SOON,
        "is_over": found.last is not None and found.last < now,
        "soon_days": COURSE_SOON.days,
    }
    return render(request, "register/waiting.html", context)


@access.staff
@require_safe
def class_due(request: HttpRequest) -> HttpResponse:
    """What is due by the next class? Pieces to take home or to glaze, by person; classes attended count."""
    rows = due_by_class(studio=request.studio, now=timezone.now())
    by_maker: dict[int, list[ClassDue]] = {}
    for row in rows:
        by_maker.setdefault(row.maker.pk, []).append(row)
    return render(request, "register/due.html", {"makers": list(by_maker.values()), "count": len(rows)})


@access.tutor
@require_safe
def term(request: HttpRequest) -> HttpResponse:
    """Which courses end, and what is left to do? Those whose last meeting is near."""
    now = timezone.now()
    return render(request, "register/term.html", {"rows": queries.ending_courses(now=now), "now": now})


@access.tutor
@require_safe
def term_end(request: HttpRequest, code: str) -> HttpResponse:
    """The end of one course: pieces by person, who came, and the places."""
    course, now = get_object_or_404(Course, code=code), timezone.now()
    found = queries.term_end(course, now=now)
    shown = found.meetings[-MEETINGS_SHOWN:]
    words = Attendance.Word
    context = {
        "course": course,
        "found": found,
        "is_over": found.last is not None and found.last < now,
        "meetings": shown,
        "earlier": len(found.meetings) - len(shown),
        "rows": [
            (row, [words(word).label if word else "" for word in row.words[-MEETINGS_SHOWN:]])
            for row in found.people
        ],
    }
    return render(request, "register/term_end.html", context)
