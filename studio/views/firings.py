"""A firing from lighting to opening: its curve, its readings, and when it may be opened."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import firings as actions
from studio.actions import unload as unload_actions
from studio.domain.problems import Refused
from studio.domain.readings_file import parse_readings
from studio.forms.firings import EndForm, LightForm, OpenForm, ReadingForm, ReadingsFileForm
from studio.imaging import curves
from studio.models import Firing, Reading
from studio.queries import firings as queries
from studio.queries.readings import curve_of

from . import access
from .kiln_day import still_to_come
from .loads import load_page

A_PAGE = 30
READINGS_SHOWN = 60


def _firing(number: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln"), number=number)


def _tell(request: HttpRequest, refused: Refused) -> None:
    for problem in refused.problems:
        messages.error(request, problem.message)


def _tell_form(request: HttpRequest, form: object) -> None:
    for name, errors in form.errors.items():
        label = form.fields[name].label if name in form.fields else ""
        messages.error(request, f"{label}: {' '.join(errors)}" if label else " ".join(errors))


@access.staff
@require_safe
def firings(request: HttpRequest) -> HttpResponse:
    page = Paginator(queries.past_firings(), A_PAGE).get_page(request.GET.get("page"))
    return render(request, "firings/list.html", {"page": page, "open": queries.open_firings()})


@access.staff
@require_safe
def firing(request: HttpRequest, number: int) -> HttpResponse:
    return _page(request, _firing(number))


def _page(request: HttpRequest, row: Firing, *, status: int = 200, **forms: Form) -> HttpResponse:
    """The firing as it stands; ``forms`` are those that were refused, with what was typed in them."""
    if row.state == Firing.State.PLANNED:
        return redirect("load", number=row.number)
    now = timezone.now()
    opening = queries.safe_to_open(row, now, studio=request.studio)
    context = {
        "firing": row,
        "facts": queries.firing_facts(row),
        "opening": opening,
        "plot": _plot(row, opening, now),
        "readings": row.readings.order_by("-at")[:READINGS_SHOWN],
        "overrides": row.overrides.select_related("piece", "by"),
        "reading_form": ReadingForm(),
        "file_form": ReadingsFileForm(),
        "end_form": EndForm(),
        "open_form": OpenForm(),
        "past": queries.past_firings(row.kiln).filter(kind=row.kind).exclude(pk=row.pk)[:5],
        **forms,
    }
    return render(request, "firings/firing.html", context, status=status)


def _plot(row: Firing, opening: queries.SafeToOpen, now: object) -> dict[str, object] | None:
    measured = [curves.Reading(timezone.localtime(at), celsius) for at, celsius in curve_of(row)]
    if not measured:
        return None
    hot = row.state in {Firing.State.FIRING, Firing.State.COOLING}
    start, end = measured[0].at, measured[-1].at
    to_come, band, labels = [], None, []
    if hot:
        end = max(end, timezone.localtime(now))
        if opening.latest:
            band = (timezone.localtime(opening.earliest), timezone.localtime(opening.latest))
            end = max(end, band[1] + timedelta(hours=1))
            to_come = still_to_come(measured, opening, end)
    if end <= start:
        end = start + timedelta(hours=1)
    peak = max(measured, key=lambda reading: reading.temperature_c)
    labels.append(
        curves.Label(peak.at, peak.temperature_c, f"{peak.temperature_c:.0f} °C at {peak.at:%H:%M}")
    )
    return {
        "start": start,
        "end": end,
        "asked": [],
        "measured": measured,
        "to_come": to_come,
        "band": band,
        "now": timezone.localtime(now) if hot else None,
        "labels": labels,
        "summary": curves.summary_of(measured=measured),
    }


@access.staff
@require_POST
def firing_light(request: HttpRequest, number: int) -> HttpResponse:
    row = _firing(number)
    form = LightForm(request.POST)
    if not form.is_valid():
        _tell_form(request, form)
        return load_page(request, row, light_form=form, status=422)
    try:
        actions.light(
            firing=row, by=request.user, client_id=request.POST.get("client_id", ""), **form.cleaned_data
        )
    except Refused as refused:
        _tell(request, refused)
        if refused.overridable:
            messages.warning(request, "The tutor may light it all the same, by giving a reason below.")
        return load_page(request, row, light_form=form, status=422)
    messages.success(request, f"{row.kiln} is lit. Note its temperature now and then.")
    return redirect("firing", number=number)


@access.staff
@require_POST
def firing_unlight(request: HttpRequest, number: int) -> HttpResponse:
    row = _firing(number)
    try:
        actions.undo_light(firing=row, by=request.user, client_id=request.POST.get("client_id", ""))
        messages.success(request, "The lighting is taken back. The load can be changed again.")
    except Refused as refused:
        _tell(request, refused)
    return redirect("firing", number=number)


@access.staff
@require_POST
def reading_new(request: HttpRequest, number: int) -> HttpResponse:
    row = _firing(number)
    form = ReadingForm(request.POST)
    if not form.is_valid():
        _tell_form(request, form)
        return _page(request, row, reading_form=form, status=422)
    try:
        reading = actions.note_reading(firing=row, by=request.user, **form.cleaned_data)
    except Refused as refused:
        _tell(request, refused)
        return _page(request, row, reading_form=form, status=422)
    messages.success(request, f"{reading.temperature_c.normalize():f} °C is noted.")
    return redirect("firing", number=number)


@access.staff
@require_POST
def reading_drop(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    reading = get_object_or_404(Reading, pk=pk, firing__number=number)
    actions.drop_reading(reading=reading, by=request.user)
    messages.success(request, f"{reading.temperature_c.normalize():f} °C is struck out.")
    return redirect("firing", number=number)


@access.staff
@require_POST
def readings_import(request: HttpRequest, number: int) -> HttpResponse:
    row = _firing(number)
    form = ReadingsFileForm(request.POST, request.FILES)
    if not form.is_valid():
        _tell_form(request, form)
        return _page(request, row, file_form=form, status=422)
    if row.lit_at is None:
        messages.error(request, f"{row} has not been lit yet, so it can have no readings.")
        return redirect("firing", number=number)
    try:
        rows = parse_readings(
            form.cleaned_data["file"], lit_at=row.lit_at, zone=timezone.get_current_timezone()
        )
        fresh = actions.import_readings(firing=row, rows=rows, by=request.user)
        messages.success(request, f"{fresh} new readings are in; {len(rows) - fresh} were there already.")
    except Refused as refused:
        _tell(request, refused)
        messages.error(request, "Nothing was read in.")
    return redirect("firing", number=number)


@access.staff
@require_POST
def firing_end(request: HttpRequest, number: int) -> HttpResponse:
    row = _firing(number)
    form = EndForm(request.POST)
    if not form.is_valid():
        _tell_form(request, form)
        return _page(request, row, end_form=form, status=422)
    try:
        actions.end_firing(firing=row, by=request.user, **form.cleaned_data)
    except Refused as refused:
        _tell(request, refused)
        return _page(request, row, end_form=form, status=422)
    messages.success(request, f"{row.kiln} is off and cools. Leave the lid shut.")
    return redirect("firing", number=number)


@access.staff
@require_POST
def firing_unend(request: HttpRequest, number: int) -> HttpResponse:
    row = _firing(number)
    try:
        actions.undo_end(firing=row, by=request.user)
        messages.success(request, f"{row.kiln} is firing again by the books.")
    except Refused as refused:
        _tell(request, refused)
    return redirect("firing", number=number)


@access.staff
@require_POST
def firing_open(request: HttpRequest, number: int) -> HttpResponse:
    """Open the kiln and begin to unload; above the studio's limit the tutor gives a reason."""
    row = _firing(number)
    form = OpenForm(request.POST)
    form.is_valid()
    try:
        unload_actions.start_unload(
            firing=row, by=request.user, override_reason=form.cleaned_data.get("override_reason", "")
        )
    except Refused as refused:
        _tell(request, refused)
        return _page(request, row, open_form=form, status=422)
    return redirect("unload", number=number)
