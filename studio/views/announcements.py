"""The tutor writes to a class: who will get it and how it looks, then it is queued, once."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import announcements as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.announcements import AnnouncementForm
from studio.models import Announcement, Course
from studio.queries import announcements as queries
from studio.queries.notices import today

from . import access
from .editing import put_problems


@access.tutor
@require_safe
def announcements(request: HttpRequest) -> HttpResponse:
    return render(request, "announcements/list.html", {"rows": queries.latest()})


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def announcement_new(request: HttpRequest) -> HttpResponse:
    """First press: who gets it and how it reads. Second press: it is sent. What is typed stays throughout."""
    now = timezone.now()
    courses = queries.courses_to_write_to(today(now))
    first = request.GET.get("course", "")
    form = AnnouncementForm(
        request.POST if request.method == "POST" else None, courses=courses, initial={"courses": [first]}
    )
    page: dict[str, object] = {"form": form, "looked": False}
    if request.method == "POST" and form.is_valid():
        named = {
            "title": form.cleaned_data["title"],
            "words": form.cleaned_data["words"],
        }
        whom = {"courses": form.chosen, "to_everybody": form.cleaned_data["to_everybody"]}
        try:
            if request.POST.get("act") == "send":
                client_id = request.POST.get("client_id", "")
                made = actions.announce(**named, **whom, by=request.user, client_id=client_id, now=now)
                messages.success(request, say("It is on its way. Until it goes you can still hold it."))
                return redirect("announcement", code=made.code)
            actions.checked(**named)
            page |= _look(**named, **whom)
        except Refused as refused:
            put_problems(form, refused)
    wrong = request.method == "POST" and not page["looked"]
    return render(request, "announcements/new.html", page, status=422 if wrong else 200)


def _look(*, title: str, words: str, courses: list[Course], to_everybody: bool) -> dict[str, object]:
    day = today(timezone.now())
    readers = queries.readers_of(queries.people_of(courses, to_everybody=to_everybody), day)
    return {
        "looked": True,
        "title": title,
        "paragraphs": [part for part in words.split("\n\n") if part.strip()],
        "by_mail": [row for row in readers if row.address and not row.is_off],
        "by_hand": [row for row in readers if not row.address and not row.is_off],
        "off": [row for row in readers if row.is_off],
    }


@access.tutor
@require_safe
def announcement(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(Announcement, code=code)
    notices = found.notices.select_related("recipient").prefetch_related("about")
    page = {
        "announcement": found,
        "courses": list(found.courses.all()),
        "paragraphs": [part for part in found.words.split("\n\n") if part.strip()],
        "notices": list(notices.order_by("recipient__first_name", "recipient__last_name", "id")),
    }
    page["may_hold"] = any(notice.state == "queued" for notice in page["notices"])
    return render(request, "announcements/one.html", page)


@access.tutor
@require_POST
def announcement_hold(request: HttpRequest, code: str) -> HttpResponse:
    """Hold every mail of it that has not gone."""
    held = actions.hold(announcement=get_object_or_404(Announcement, code=code), by=request.user)
    if held:
        messages.success(
            request, say("What has not gone yet is held. Let each go or drop it on its own page.")
        )
    else:
        messages.error(request, say("It is too late: none of it waits any more."))
    return redirect("announcement", code=code)
