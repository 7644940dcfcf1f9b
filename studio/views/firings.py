"""A firing from lighting to opening: its curve, its readings, and when it may be opened."""

from __future__ import annotations

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
from studio.domain.say import say
from studio.forms.firings import EndForm, LightForm, OpenForm
from studio.forms.readings import ReadingForm, ReadingsFileForm
from studio.models import Firing
from studio.queries import firings as queries
from studio.queries.firing_live import live
from studio.queries.readings import files_of

from . import access
from .firing_plot import plot_of, table_of
from .firing_words import told_of
from .loads import load_page

A_PAGE = 30
READINGS_SHOWN = 60


def lit_firing(number: int) -> Firing:
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
    return firing_page(request, lit_firing(number))


def firing_page(request: HttpRequest, row: Firing, *, status: int = 200, **forms: Form) -> HttpResponse:
    """The firing as it stands; ``forms`` are those that were refused, with what was typed in them."""
    if row.state == Firing.State.PLANNED:
        return redirect("load", number=row.number)
    now = timezone.now()
    opening = queries.safe_to_open(row, now, studio=request.studio)
    seen = live(row, now)
    context = {
        "firing": row,
        "facts": queries.firing_facts(row),
        "opening": opening,
        "live": seen,
        "told": told_of(seen),
        "plot": (plot := plot_of(seen, opening, now)),
        "table": table_of(plot),
        "readings": row.readings.order_by("-at")[:READINGS_SHOWN],
        "overrides": row.overrides.select_related("piece", "by"),
        "files": files_of(row),
        "reading_form": ReadingForm(),
        "file_form": ReadingsFileForm(),
        "end_form": EndForm(),
        "open_form": OpenForm(),
        "past": queries.past_firings(row.kiln).filter(kind=row.kind).exclude(pk=row.pk)[:5],
        **forms,
    }
    return render(request, "firings/firing.html", context, status=status)


@access.staff
@require_POST
def firing_light(request: HttpRequest, number: int) -> HttpResponse:
    row = lit_firing(number)
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
            messages.warning(request, say("The tutor may light it all the same, by giving a reason below."))
        return load_page(request, row, light_form=form, status=422)
    messages.success(request, say("{kiln} is lit. Note its temperature now and then.", kiln=row.kiln))
    return redirect("firing", number=number)


@access.staff
@require_POST
def firing_unlight(request: HttpRequest, number: int) -> HttpResponse:
    row = lit_firing(number)
    try:
        actions.undo_light(firing=row, by=request.user, client_id=request.POST.get("client_id", ""))
        messages.success(request, say("The lighting is taken back. The load can be changed again."))
    except Refused as refused:
        _tell(request, refused)
    return redirect("firing", number=number)


@access.staff
@require_POST
def firing_end(request: HttpRequest, number: int) -> HttpResponse:
    row = lit_firing(number)
    form = EndForm(request.POST)
    if not form.is_valid():
        _tell_form(request, form)
        return firing_page(request, row, end_form=form, status=422)
    try:
        actions.end_firing(firing=row, by=request.user, **form.cleaned_data)
    except Refused as refused:
        _tell(request, refused)
        return firing_page(request, row, end_form=form, status=422)
    messages.success(request, say("{kiln} is off and cools. Leave the lid shut.", kiln=row.kiln))
    return redirect("firing", number=number)


@access.staff
@require_POST
def firing_unend(request: HttpRequest, number: int) -> HttpResponse:
    row = lit_firing(number)
    try:
        actions.undo_end(firing=row, by=request.user)
        messages.success(request, say("{kiln} is firing again by the books.", kiln=row.kiln))
    except Refused as refused:
        _tell(request, refused)
    return redirect("firing", number=number)


@access.staff
@require_POST
def firing_open(request: HttpRequest, number: int) -> HttpResponse:
    """Open the kiln and begin to unload; above the studio's limit the tutor gives a reason."""
    row = lit_firing(number)
    form = OpenForm(request.POST)
    form.is_valid()
    try:
        unload_actions.start_unload(
            firing=row, by=request.user, override_reason=form.cleaned_data.get("override_reason", "")
        )
    except Refused as refused:
        _tell(request, refused)
        return firing_page(request, row, open_form=form, status=422)
    return redirect("unload", number=number)
