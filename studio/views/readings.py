"""Readings of a firing: by hand, or a controller's file looked at before it is saved; either taken back."""

from __future__ import annotations

from datetime import timedelta
from operator import itemgetter

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from studio.actions import readings as actions
from studio.domain.problems import Refused
from studio.domain.readings_file import FileRead
from studio.domain.readings_times import TIME_WORDS
from studio.domain.say import figure, later, say
from studio.forms.readings import FileChoiceForm, ReadingForm, ReadingsFileForm
from studio.imaging import curves
from studio.models import Reading, ReadingsFile
from studio.queries.readings import known_among

from . import access
from .editing import put_problems
from .firing_plot import HEADROOM
from .firings import firing_page, lit_firing

#: Lines, gaps and problems shown of a file; the rest is counted.
SHOWN = 12
_DRAWN = 600
_PARTED_BY = {
    ";": later("semicolons"),
    "\t": later("tabs"),
    "|": later("upright strokes"),
    ",": later("commas"),
    " ": later("spaces"),
}


@access.staff
@require_POST
def reading_new(request: HttpRequest, number: int) -> HttpResponse:
    row = lit_firing(number)
    form = ReadingForm(request.POST)
    if form.is_valid():
        try:
            actions.note_reading(firing=row, by=request.user, **form.cleaned_data)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(
                request,
                say(
                    "{normalize} °C is noted.",
                    normalize=figure(form.cleaned_data["temperature_c"].normalize(), "f"),
                ),
            )
            return redirect("firing", number=number)
    return firing_page(request, row, reading_form=form, status=422)


@access.staff
@require_POST
def reading_drop(request: HttpRequest, number: int, stamp: str) -> HttpResponse:
    """Strike out one reading, named by its moment."""
    row = lit_firing(number)
    reading = row.readings.filter(at=Reading.moment_of(stamp)).first()
    if reading is None:
        messages.info(request, "That reading is struck out already.")
        return redirect("firing", number=number)
    try:
        actions.drop_reading(reading=reading, by=request.user)
        messages.success(
            request,
            say("{normalize} °C is struck out.", normalize=figure(reading.temperature_c.normalize(), "f")),
        )
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("firing", number=number)


@access.staff
@require_POST
def readings_import(request: HttpRequest, number: int) -> HttpResponse:
    """Take a controller's file to look at. Nothing of it is saved yet."""
    row = lit_firing(number)
    form = ReadingsFileForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            kept = actions.keep_file(
                firing=row,
                name=form.cleaned_data["file_name"],
                text=form.cleaned_data["file"],
                by=request.user,
            )
        except Refused as refused:
            put_problems(form, refused)
            if row.lit_at is None:  # the page of a load has no place for a file
                messages.error(request, str(refused))
        else:
            return redirect("readings-file", number=number, code=kept.code)
    return firing_page(request, row, file_form=form, status=422)


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def readings_file(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """What was understood of a file; the questions it leaves; and, when all is clear, its saving."""
    file = _file(number, code)
    if file.saved_at is not None:
        messages.info(request, f"{file.name} is in: {file.brought} readings.")
        return redirect("firing", number=number)
    try:
        form, found = _understood(request, file)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("firing", number=number)
    status = 200
    if request.method == "POST" and request.POST.get("act") == "save":
        try:
            saved = actions.save_file(file=file, by=request.user, choice=form.choice())
        except Refused as refused:
            status = 422
            for problem in refused.problems[:SHOWN]:
                messages.error(request, problem.message)
        else:
            messages.success(request, _told(saved))
            return redirect("firing", number=number)
    return render(request, "firings/readings_file.html", _context(file, form, found), status=status)


@access.staff
@require_POST
def readings_take_back(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Strike out all that a file brought."""
    file = _file(number, code)
    try:
        gone = actions.take_back_file(file=file, by=request.user)
        messages.success(request, say("{gone} readings of {name} are struck out.", gone=gone, name=file.name))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("firing", number=number)


def _file(number: int, code: str) -> ReadingsFile:
    files = ReadingsFile.objects.select_related("firing__kiln").filter(taken_back_at__isnull=True)
    return get_object_or_404(files, firing__number=number, code=code)


def _understood(request: HttpRequest, file: ReadingsFile) -> tuple[FileChoiceForm, FileRead]:
    """The form for what the tutor says of the file, and the file as read with what was said so far."""
    first = actions.look(file=file)
    said = request.POST or request.GET
    if not said:
        return FileChoiceForm(found=first), first
    asking = FileChoiceForm(said, found=first)
    asking.is_valid()
    return asking, actions.look(file=file, choice=asking.choice())


def _told(saved: actions.Saved) -> str:
    told = say("{fresh} readings are in.", fresh=format(saved.fresh, ","))
    if saved.known:
        told += say(" {known} were there already.", known=format(saved.known, ","))
    if saved.kept:
        told += say(" {kept} moments keep what was noted before.", kept=format(saved.kept, ","))
    return told


def _context(file: ReadingsFile, form: FileChoiceForm, found: FileRead) -> dict[str, object]:
    alike, differing = known_among(file.firing, found.rows)
    lines = dict(found.table.lines[:2] + found.table.lines[-1:])
    return {
        "file": file,
        "firing": file.firing,
        "form": form,
        "found": found,
        "plot": _plot(found) if found.rows else None,
        # What is wrong may be so only as long as it is read the wrong way.
        "problems": [] if found.questions else found.problems,
        "known": alike,
        "noted_otherwise": differing,
        "fresh": len(found.rows) - alike - differing,
        "gaps": found.gaps[:SHOWN],
        "repeats": found.repeats[:SHOWN],
        "parted_by": _PARTED_BY[found.table.separator],
        "time_words": TIME_WORDS[found.time_kind],
        "samples": [
            (number, found.table.separator.join(lines[number])[:80], at, celsius)
            for at, celsius in found.rows
            if (number := found.line_of[at]) in lines
        ],
    }


def _plot(found: FileRead) -> dict[str, object]:
    stretch = max(1, len(found.rows) // (_DRAWN // 2))
    kept = {found.rows[0], found.rows[-1]}
    for start in range(0, len(found.rows), stretch):
        part = found.rows[start : start + stretch]
        kept |= {min(part, key=itemgetter(1)), max(part, key=itemgetter(1))}
    measured = [curves.Reading(timezone.localtime(at), float(celsius)) for at, celsius in sorted(kept)]
    return {
        "start": measured[0].at,
        "end": max(measured[-1].at, measured[0].at + timedelta(minutes=30)),
        "measured": measured,
        "top_c": max(float(found.top[1]) * HEADROOM, 200.0),
        "summary": curves.summary_of(measured=measured),
    }
