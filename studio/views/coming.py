"""The public page of coming classes, and how somebody without an account takes a place in one."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from studio.actions import consents, enrolments
from studio.actions import enrol_requests as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.coming import PlaceCodeForm, PlaceForm, YoungPlaceForm
from studio.models import ClassRules, Course, EnrolRequest
from studio.queries import courses as course_queries
from studio.queries import places as queries

from . import access
from .editing import put_problems
from .sign_in import WAITS_SECONDS, requester_key

ASKED = "place-asked"
SHOWN = 200


@access.anyone
@require_safe
def coming(request: HttpRequest) -> HttpResponse:
    if not ClassRules.the().public_page:
        raise Http404
    courses = list(queries.coming(timezone.now())[:SHOWN])
    for row in courses:
        row.said = course_queries.rule_words(row, request.studio)
    return render(request, "coming/list.html", {"courses": courses})


def _course(code: str) -> Course:
    return get_object_or_404(queries.coming(timezone.now()), code=code)


def _facts(course: Course, request: HttpRequest) -> dict[str, Any]:
    return {
        "course": course,
        "next": queries.next_meeting(course, timezone.now()),
        "rule_words": course_queries.rule_words(course, request.studio),
        "refunds": enrolments.refund_rule().sentences(),
        "for_young": course.age_least is None or course.age_least < 18,
        "for_grown_up": course.age_most is None or course.age_most >= 18,
    }


@access.anyone
@require_safe
def coming_course(request: HttpRequest, code: str) -> HttpResponse:
    """What a class is, and two ways on: for oneself, or for somebody under 18."""
    return render(request, "coming/course.html", _facts(_course(code), request))


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def place_for_me(request: HttpRequest, code: str) -> HttpResponse:
    row = _course(code)
    # All we know of an adult is that they are 18 or over; some classes ask more.
    age_matters = (row.age_least or 0) > 18 or row.age_most is not None
    form = PlaceForm(request.POST or None, age_matters=age_matters)
    return _ask(request, row, form, young=False)


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def place_for_young(request: HttpRequest, code: str) -> HttpResponse:
    return _ask(request, _course(code), YoungPlaceForm(request.POST or None), young=True)


def _ask(request: HttpRequest, course: Course, form: PlaceForm, *, young: bool) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        try:
            token = actions.ask(
                course=course,
                email=form.cleaned_data["email"],
                details=form.details(),
                young=young,
                requester_key=requester_key(request),
            )
        except Refused as refused:
            put_problems(form, refused)
        else:
            if not request.user.is_authenticated:
                request.session.set_expiry(WAITS_SECONDS * 3)
            request.session[ASKED] = token
            return redirect("place-code")
    context = {
        **_facts(course, request),
        "form": form,
        "young": young,
        "consent_words": consents.words_for(say("the young person named above")) if young else "",
    }
    return render(request, "coming/ask.html", context, status=422 if request.method == "POST" else 200)


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def place_code(request: HttpRequest) -> HttpResponse:
    """Takes the code from the mail, in the browser that asked; then says what has been got."""
    asked = (
        EnrolRequest.objects.select_related("course", "enrolment__person", "waiting__person")
        .filter(token=request.session.get(ASKED) or "")
        .first()
    )
    if asked is None:
        return redirect("coming" if ClassRules.the().public_page else "home")
    if asked.used_at:
        return render(request, "coming/done.html", {"asked": asked, **_done(asked, request)})
    free = queries.free_places(asked.course, timezone.now())
    form = PlaceCodeForm(request.POST or None, initial={"wait": free <= 0})
    if request.method == "POST" and form.is_valid():
        try:
            actions.confirm(
                token=asked.token,
                typed=form.cleaned_data["code"],
                wait=form.cleaned_data["wait"],
                requester_key=requester_key(request),
            )
        except Refused as refused:
            form.add_error("code", str(refused))
        else:
            return redirect("place-code")
    context = {"asked": asked, "form": form, "full": free <= 0}
    return render(request, "coming/code.html", context, status=422 if request.method == "POST" else 200)


def _done(asked: EnrolRequest, request: HttpRequest) -> dict[str, Any]:
    return {
        "course": asked.course,
        "next": queries.next_meeting(asked.course, timezone.now()),
        "rule_words": course_queries.rule_words(asked.course, request.studio),
        "refunds": enrolments.refund_rule().sentences(),
    }
