"""Places in courses: taken, given up, exchanged, waited for, and the page of an offered one."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from studio.actions import consents, waiting
from studio.actions import enrolments as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.places import EnrolForm, LeaveForm, OfferForm, TransferForm, WaitForm
from studio.models import Course, Enrolment, Waiting
from studio.queries import courses as course_queries
from studio.queries import people as people_queries
from studio.queries import places as queries

from . import access
from .classes import show_course
from .editing import edit_page, put_problems

_SECRET_LONGEST = 40


@access.tutor
@require_POST
def enrol(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Course, code=code)
    form = EnrolForm(request.POST, course=row, papers_wanted=people_queries.consents_wanted(request.today))
    if not form.is_valid():
        if "person" in form.errors:
            messages.error(request, say("Choose who joins from the list."))
        return show_course(request, code, enrol_form=form)
    person = form.cleaned_data["person"]
    try:
        actions.enrol(
            course=row,
            person=person,
            by=request.user,
            override_reason=form.cleaned_data.get("override_reason", ""),
            with_fee=form.cleaned_data.get("with_fee", False),
            consent_signed_on=form.cleaned_data.get("consent_signed_on"),
        )
        messages.success(request, say("{full_name} is in {name}.", full_name=person.full_name, name=row.name))
    except Refused as refused:
        messages.error(request, str(refused))
        return show_course(request, code, enrol_form=form)
    return redirect("course", code=code)


def _enrolment(code: str, person_code: str) -> Enrolment:
    return get_object_or_404(
        Enrolment.objects.select_related("person", "course", "charge"),
        course__code=code,
        person__code=person_code,
        left_at__isnull=True,
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def enrolment_end(request: HttpRequest, code: str, person_code: str) -> HttpResponse:
    """What the studio's rule gives back today, and the word to let somebody go."""
    row = _enrolment(code, person_code)
    rule = actions.by_the_rule(row, timezone.now())
    # All of it may be empty: then the rule decides.
    sent = request.POST if request.method == "POST" else None
    form = LeaveForm(sent, initial={"back_minor": rule.back_minor})
    if not rule.fee_minor:
        del form.fields["back_minor"]
    url = reverse("course", args=[code])
    return edit_page(
        request,
        form=form,
        save=lambda: actions.leave(
            enrolment=row,
            by=request.user,
            back_minor=form.cleaned_data.get("back_minor"),
            reason=form.cleaned_data["reason"],
        ),
        heading=say("{full_name} leaves {name}", full_name=row.person.full_name, name=row.course.name),
        done_url=url,
        back_url=url,
        done_words=say("{full_name} is out of {name}.", full_name=row.person.full_name, name=row.course.name),
        template="classes/leave.html",
        enrolment=row,
        rule=rule,
        sentences=actions.refund_rule().sentences(),
        submit_words=say("Give the place up"),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def enrolment_move(request: HttpRequest, code: str, person_code: str) -> HttpResponse:
    row = _enrolment(code, person_code)
    now = timezone.now()
    form = TransferForm(
        request.POST or None,
        courses=queries.with_room(row, now),
        paper_wanted=consents.is_wanted(row.person, now),
    )
    return edit_page(
        request,
        form=form,
        save=lambda: actions.transfer(enrolment=row, by=request.user, **form.cleaned_data),
        heading=say("Move {full_name} to another class", full_name=row.person.full_name),
        done_url=lambda new: reverse("course", args=[new.course.code]),
        back_url=reverse("course", args=[code]),
        done_words=say(
            "{full_name} has moved. The account carries the difference.", full_name=row.person.full_name
        ),
        submit_words=say("Move"),
    )


@access.tutor
@require_POST
def wait_add(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Course, code=code)
    form = WaitForm(request.POST, course=row)
    if not form.is_valid():
        messages.error(request, say("Choose who waits from the list."))
        return redirect("course", code=code)
    person = form.cleaned_data["person"]
    try:
        waiting.wait(course=row, person=person, by=request.user)
        messages.success(
            request,
            say("{full_name} waits for a place in {name}.", full_name=person.full_name, name=row.name),
        )
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("course", code=code)


@access.tutor
@require_POST
def wait_off(request: HttpRequest, code: str, waiting_code: str) -> HttpResponse:
    row = get_object_or_404(
        Waiting.objects.select_related("course", "person"), course__code=code, code=waiting_code
    )
    waiting.take_off(waiting=row, by=request.user)
    messages.success(request, say("{full_name} does not wait any more.", full_name=row.person.full_name))
    return redirect("course", code=code)


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def place_offer(request: HttpRequest, secret: str) -> HttpResponse:
    """The page behind the link in the mail. Opening it does nothing, as mail scanners do that."""
    if len(secret) > _SECRET_LONGEST or not secret.isascii() or not secret.isprintable():
        raise Http404
    row = get_object_or_404(
        Waiting.objects.select_related("course__teacher", "course__room", "person__guardian"), secret=secret
    )
    now = timezone.now()
    form = OfferForm(request.POST or None)
    status = 200
    if request.method == "POST":
        try:
            if request.POST.get("answer") == "no":
                waiting.decline(waiting=row, now=now)
                return redirect("place-offer", secret=secret)
            if form.is_valid():
                waiting.accept(waiting=row, now=now, **form.cleaned_data)
                return redirect("place-offer", secret=secret)
        except Refused as refused:
            put_problems(form, refused)
        status = 422
        row.refresh_from_db()
    wanted = waiting.consent_wanted(row, now)
    context = {
        "waiting": row,
        "course": row.course,
        "next": queries.next_meeting(row.course, now),
        "rule_words": course_queries.rule_words(row.course),
        "form": form,
        "open": row.state == Waiting.State.OFFERED and row.offer_until > now,
        "consent_wanted": wanted,
        "consent_words": consents.words_for(row.person.first_name) if wanted else "",
        "refunds": actions.refund_rule().sentences(),
    }
    return render(request, "classes/offer.html", context, status=status)
