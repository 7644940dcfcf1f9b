"""The care of a kiln: its log, how often reminders ask, and holding one silent for a while."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import kiln_care as actions
from studio.domain.kiln_care import CARE_ASKS, REMINDED, CareKind
from studio.domain.problems import Refused
from studio.domain.say import date_words, midway, say
from studio.forms.kiln_care import CareForm, RemindersForm, SilenceForm
from studio.models import Kiln, KilnCare
from studio.queries import kiln_care as queries

from . import access
from .editing import put_problems


@access.staff
@require_safe
def care(request: HttpRequest, code: str) -> HttpResponse:
    """All of the log, and for the tutor a form to write into it."""
    kiln = get_object_or_404(Kiln, code=code)
    return _log(request, kiln, CareForm(initial={"done_on": timezone.localdate(), **_asked(request)}))


@access.tutor
@require_POST
def care_new(request: HttpRequest, code: str) -> HttpResponse:
    kiln = get_object_or_404(Kiln, code=code)
    form = CareForm(request.POST)
    if form.is_valid():
        try:
            row = actions.note_care(kiln=kiln, by=request.user, **form.values())
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("Noted: {kind}.", kind=midway(row.get_kind_display())))
            return redirect("kiln-care", code=kiln.code)
    return _log(request, kiln, form, status=422)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def care_correct(request: HttpRequest, code: str, care_code: str) -> HttpResponse:
    row = _entry(code, care_code)
    form = CareForm(request.POST) if request.method == "POST" else CareForm.of(row)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                actions.correct_care(care=row, by=request.user, **form.values())
            except Refused as refused:
                put_problems(form, refused)
            else:
                messages.success(request, say("Corrected. The old entry stays to be read, crossed out."))
                return redirect("kiln-care", code=row.kiln.code)
    page = {"kiln": row.kiln, "form": form, "entry": row}
    return render(request, "kilns/care_correct.html", page, status=status)


@access.tutor
@require_POST
def care_take_back(request: HttpRequest, code: str, care_code: str) -> HttpResponse:
    """Take an entry back, or with ``do=put-back`` undo that."""
    row = _entry(code, care_code)
    try:
        if request.POST.get("do") == "put-back":
            actions.put_back_care(care=row, by=request.user)
            messages.success(request, say("It counts again: {kind}.", kind=midway(row.get_kind_display())))
        else:
            actions.take_back_care(care=row, by=request.user)
            messages.success(request, say("Taken back. It stays crossed out, and can be put back."))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("kiln-care", code=row.kiln.code)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def care_reminders(request: HttpRequest, code: str) -> HttpResponse:
    kiln = get_object_or_404(Kiln, code=code)
    lines = queries.care_lines([kiln], now=timezone.now(), studio=request.studio)[kiln.pk]
    form = RemindersForm(request.POST or None, lines=lines)
    if request.method == "POST" and form.is_valid():
        try:
            actions.set_reminders(kiln=kiln, intervals=form.intervals(), by=request.user)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("Saved."))
            return redirect("kiln", code=kiln.code)
    status = 422 if request.method == "POST" else 200
    return render(request, "kilns/reminders.html", {"kiln": kiln, "form": form}, status=status)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def care_silence(request: HttpRequest, code: str, kind: str) -> HttpResponse:
    kiln = get_object_or_404(Kiln, code=code)
    kind = _kind(kind)
    form = (
        SilenceForm(request.POST)
        if request.method == "POST"
        else SilenceForm.from_today(timezone.localdate())
    )
    if request.method == "POST" and form.is_valid():
        try:
            row = actions.silence_reminder(kiln=kiln, kind=kind, by=request.user, **form.cleaned_data)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(
                request,
                say(
                    "Silent until {until}. It is kept on the kiln’s page.",
                    until=date_words(row.until, "j F Y"),
                ),
            )
            return redirect("kiln", code=kiln.code)
    status = 422 if request.method == "POST" else 200
    page = {"kiln": kiln, "form": form, "kind": kind, "asks": CARE_ASKS[kind]}
    return render(request, "kilns/silence.html", page, status=status)


@access.tutor
@require_POST
def care_wake(request: HttpRequest, code: str, kind: str) -> HttpResponse:
    kiln = get_object_or_404(Kiln, code=code)
    if actions.wake_reminder(kiln=kiln, kind=_kind(kind), by=request.user):
        messages.success(request, say("The reminder speaks again."))
    return redirect("kiln", code=kiln.code)


def _log(request: HttpRequest, kiln: Kiln, form: CareForm, *, status: int = 200) -> HttpResponse:
    log = queries.care_log(kiln, studio=request.studio)
    page = {"kiln": kiln, "form": form, "log": log}
    return render(request, "kilns/care.html", page, status=status)


def _entry(code: str, care_code: str) -> KilnCare:
    return get_object_or_404(KilnCare.objects.select_related("kiln"), kiln__code=code, code=care_code)


def _kind(text: str) -> CareKind:
    if text not in {kind.value for kind in REMINDED}:
        raise Http404
    return CareKind(text)


def _asked(request: HttpRequest) -> dict[str, str]:
    """The kind that a link on the kiln's page asks to note."""
    kind = request.GET.get("kind", "")
    return {"kind": kind} if kind in {each.value for each in CareKind} else {}
