"""The register of one meeting, taken with a thumb: a tap for each person, another to change it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import attendance as actions
from studio.actions import make_ups as make_up_actions
from studio.domain import say as speech
from studio.domain.problems import Refused
from studio.forms.parts import ActForm
from studio.forms.register import UNDO, BookForm, TapForm
from studio.models import MISSED, Attendance, MakeUp, Person, Session
from studio.queries import make_ups as make_up_queries
from studio.queries import registers as queries

from . import access
from .care_notes import may_read_notes

#: The word, its sign, and what the pressed button is coloured like.
WORDS = (
    (Attendance.Word.HERE, "sign-here", "sound"),
    (Attendance.Word.LATE, "sign-late", "late"),
    (Attendance.Word.AWAY, "sign-away", "away"),
    (Attendance.Word.TOLD_US, "mail", "away"),
)


def meeting_or_404(code: str) -> Session:
    return get_object_or_404(Session.objects.select_related("course__teacher", "replaced_by"), code=code)


@access.staff
@require_safe
def register(request: HttpRequest, code: str) -> HttpResponse:
    """Who is here? The whole class, by name."""
    meeting, now = meeting_or_404(code), timezone.now()
    rows = queries.register_of(meeting, studio=request.studio)
    others = meeting.course.sessions.held()
    context = _context(request, meeting, now) | {
        "rows": rows,
        "tally": queries.tally([row.word for row in rows]),
        "before": others.filter(starts_at__lt=meeting.starts_at).last(),
        "after": others.filter(starts_at__gt=meeting.starts_at).first(),
    }
    return render(request, "register/register.html", context)


def _context(request: HttpRequest, meeting: Session, now: object) -> dict[str, object]:
    return {
        "meeting": meeting,
        "words": WORDS,
        "begun": meeting.starts_at <= now + queries.OPEN_BEFORE,
        "notes": may_read_notes(request.user, meeting, now),
    }


@access.staff
@require_POST
def say(request: HttpRequest, code: str) -> HttpResponse:
    """One tap. With a script the row alone comes back, else the page at that row."""
    meeting, form = meeting_or_404(code), TapForm(request.POST)
    sentences = []
    if form.is_valid():
        person, (word, client_id) = form.cleaned_data["person"], form.cleaned_data["tap"]
        act = {"session": meeting, "person": person, "by": request.user, "client_id": client_id}
        try:
            if word == UNDO:
                actions.take_back(**act)
            else:
                actions.say(word=word, **act)
        except Refused as refused:
            sentences = [problem.message for problem in refused.problems]
    else:
        sentences = form.sentences()
    for sentence in sentences:
        messages.error(request, sentence)
    url = reverse("register", args=[meeting.code])
    if request.htmx and sentences:
        # The page comes anew, with what went wrong at its head.
        answer = HttpResponse(status=422)
        answer["HX-Refresh"] = "true"
        return answer
    if request.htmx:
        now = timezone.now()
        rows = queries.register_of(meeting, studio=request.studio, only=person)
        context = _context(request, meeting, now) | {
            "row": rows[0] if rows else None,
            "tally": queries.tally_of(meeting),
            "swapped": True,
        }
        return render(request, "register/answer.html", context)
    return redirect(url if sentences else f"{url}#p-{person.code}")


@access.staff
@require_POST
def all_here(request: HttpRequest, code: str) -> HttpResponse:
    """Everybody of whom nothing is said is here; then the exceptions."""
    meeting, form = meeting_or_404(code), ActForm(request.POST)
    sentences = form.sentences()
    if not sentences:
        try:
            actions.everybody_here(session=meeting, by=request.user, client_id=form.cleaned_data["client_id"])
        except Refused as refused:
            sentences = [problem.message for problem in refused.problems]
    for sentence in sentences:
        messages.error(request, sentence)
    return redirect("register", meeting.code)


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def make_up(request: HttpRequest, code: str, person_code: str) -> HttpResponse:
    """Where can this class be made up? Coming meetings of other classes with a place and a wheel free."""
    meeting, now = meeting_or_404(code), timezone.now()
    person = get_object_or_404(
        Person.objects.select_related("guardian"),
        code=person_code,
        attendance__session=meeting,
        attendance__word__in=MISSED,
    )
    form = BookForm(request.POST or None)
    if form.is_valid():
        try:
            booked = make_up_actions.book_make_up(
                person=person,
                missed=meeting,
                session=form.cleaned_data["session"],
                by=request.user,
                client_id=form.cleaned_data["client_id"],
            )
        except Refused as refused:
            for problem in refused.problems:
                form.add_error(None, problem.message)
        else:
            messages.success(
                request,
                speech.say(
                    "{first_name} has a place in {name}.",
                    first_name=person.first_name,
                    name=booked.session.course.name,
                ),
            )
            return redirect(f"{reverse('register', args=[meeting.code])}#p-{person.code}")
    age = person.age_on(timezone.localdate())
    booked = person.make_ups.filter(missed=meeting, given_up_at__isnull=True)
    context = {
        "meeting": meeting,
        "person": person,
        "form": form,
        "booked": booked.select_related("session__course").first(),
        "offers": make_up_queries.make_up_offers(person, now=now, day_age=age),
    }
    status = 422 if form.errors else 200
    return render(request, "register/make_up.html", context, status=status)


@access.staff
@require_POST
def make_up_give_up(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(MakeUp.objects.select_related("missed", "person", "session__course"), code=code)
    try:
        make_up_actions.give_up_make_up(make_up=row, by=request.user)
        messages.success(
            request, speech.say("The place in {name} is free again.", name=row.session.course.name)
        )
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    return redirect(f"{reverse('register', args=[row.missed.code])}#p-{row.person.code}")
