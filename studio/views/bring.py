"""Bringing tables of people, classes and pieces: sent, looked at, entered, taken back. The tutor's pages."""

from __future__ import annotations

import csv

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import bring as actions
from studio.actions.bring_back import take_back_file
from studio.actions.bring_lines import Choice
from studio.domain.bring import FIELDS, Subject
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.bring import SUBJECT_WORDS, BringChoiceForm, BringForm
from studio.models import BroughtFile

from . import access
from .editing import put_problems

#: Problems and lines shown; the rest is counted.
SHOWN_PROBLEMS, SHOWN_LINES = 20, 200
_NEWEST = 12


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def bring(request: HttpRequest) -> HttpResponse:
    """Send a table, and what was brought before."""
    form = BringForm(request.POST or None, request.FILES or None)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                kept = actions.keep_file(
                    subject=form.cleaned_data["subject"],
                    name=form.cleaned_data["file_name"],
                    text=form.cleaned_data["file"],
                    by=request.user,
                )
                return redirect("bring-file", code=kept.code)
            except Refused as refused:
                put_problems(form, refused)
    files = BroughtFile.objects.defer("data", "made")
    context = {
        "form": form,
        "waiting": files.filter(entered_at__isnull=True),
        "entered": files.filter(entered_at__isnull=False)[:_NEWEST],
        "subjects": SUBJECT_WORDS,
    }
    return render(request, "bring/send.html", context, status=status)


@access.tutor
@require_safe
def bring_empty(request: HttpRequest) -> HttpResponse:
    """An empty table with the columns that are known, to fill in: of people, unless it says of what."""
    said = request.GET.get("of", "")
    subject = said if said in set(Subject) else Subject.PEOPLE.value
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{subject}.csv"'
    response.write("\ufeff")
    csv.writer(response).writerow([str(field.words) for field in FIELDS[Subject(subject)]])
    return response


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def bring_file(request: HttpRequest, code: str) -> HttpResponse:
    """What a table would bring; the questions it leaves; and, when all is clear, its entering."""
    file = get_object_or_404(BroughtFile, code=code)
    if file.entered_at is not None:
        return render(request, "bring/entered.html", {"file": file, "what": _what(file)})
    try:
        form, found = _understood(request, file)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("bring")
    status = 200
    if request.method == "POST" and request.POST.get("act") == "enter":
        try:
            entered = actions.enter_file(file=file, by=request.user, choice=form.choice())
        except Refused:
            status = 422  # the page says why, line by line
        else:
            messages.success(request, _told(entered))
            return redirect("bring-file", code=code)
    problems = found.problems()
    context = {
        "file": file,
        "form": form,
        "found": found,
        "what": _what(file),
        "problems": problems[:SHOWN_PROBLEMS],
        "more_problems": len(problems) - SHOWN_PROBLEMS,
        "lines": found.lines[:SHOWN_LINES],
        "more_lines": len(found.lines) - SHOWN_LINES,
        "columns": _columns(file, found),
        "unused": [
            heading
            for place, heading in enumerate(found.table.headings)
            if heading and place not in found.columns.values()
        ],
    }
    return render(request, "bring/look.html", context, status=status)


@access.tutor
@require_POST
def bring_back(request: HttpRequest, code: str) -> HttpResponse:
    """Take back all that a table brought."""
    file = get_object_or_404(BroughtFile, code=code, entered_at__isnull=False)
    try:
        take_back_file(file=file, by=request.user)
        messages.success(request, say("What {name} brought is taken back.", name=file.name))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("bring-file", code=code)


def _understood(request: HttpRequest, file: BroughtFile) -> tuple[BringChoiceForm, actions.Looked]:
    """The form for what the tutor says of the table, and the table as read with what was said so far."""
    subject = Subject(file.subject)
    said = request.POST if request.method == "POST" else None
    if said is None:
        found = actions.look(file=file, by=request.user)
        return BringChoiceForm(subject=subject, found=found), found
    plain = actions.understand(file=file, choice=Choice())
    form = BringChoiceForm(said, subject=subject, found=plain)
    form.is_valid()
    found = actions.look(file=file, by=request.user, choice=form.choice())
    return form, found


def _columns(file: BroughtFile, found: actions.Looked) -> list[tuple[str, str, str]]:
    """What each field is read from: its words, the column's heading, and a sample."""
    headings = found.table.headings
    return [
        (
            field.words,
            headings[found.columns[field.name]]
            or say("Column {columns}", columns=found.columns[field.name] + 1),
            found.table.sample(found.columns[field.name]),
        )
        for field in FIELDS[Subject(file.subject)]
        if field.name in found.columns
    ]


def _what(file: BroughtFile) -> str:
    return SUBJECT_WORDS[Subject(file.subject)].lower()


def _told(file: BroughtFile) -> str:
    known = say(" {known} were here already.", known=file.known) if file.known else ""
    return say(
        "{name} is in: {brought} of its lines brought something.{known}",
        name=file.name,
        brought=file.brought,
        known=known,
    )
