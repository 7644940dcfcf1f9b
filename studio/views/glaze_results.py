"""How combinations of glazes turn out: the list, one of them, and two held against each other."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from studio.actions import glaze_results as actions
from studio.domain.glaze_search import Asked
from studio.domain.glaze_verdict import verdict
from studio.domain.problems import Refused
from studio.domain.say import later, say
from studio.forms.glaze_results import CombinationNotesForm, ResultsForm
from studio.forms.parts import code_from
from studio.models import Combination, Kiln
from studio.queries import glaze_results as queries

from . import access

LEAST_TO_COMPARE = 2
SPLITS = (
    (later("Clay"), "clay"),
    (later("Cone"), "cone"),
    (later("Kiln"), "kiln"),
    (later("Thick or thin"), "thick"),
)


@access.staff
@require_safe
def glaze_results(request: HttpRequest) -> HttpResponse:
    form = ResultsForm(request.GET)
    rows = queries.summaries(
        form.asked() if request.GET else Asked(),
        kiln=form.cleaned_data.get("kiln", ""),
        reliability=form.cleaned_data.get("said", ""),
    )
    context = {
        "form": form,
        "rows": rows[: queries.SHOWN_COMBINATIONS],
        "more": max(0, len(rows) - queries.SHOWN_COMBINATIONS),
        "asked": any(request.GET.values()),
        "can_compare": len(rows) >= LEAST_TO_COMPARE,
    }
    return render(request, "glazes/results.html", context)


@access.staff
@require_safe
def combination(request: HttpRequest, code: str) -> HttpResponse:
    return _combination(request, get_object_or_404(Combination, code=code))


def _combination(
    request: HttpRequest, row: Combination, form: CombinationNotesForm | None = None, status: int = 200
) -> HttpResponse:
    everything = queries.results().filter(combination=row)
    kilns = list(Kiln.objects.filter(glaze_results__combination=row).distinct())
    asked = code_from(request.GET.get("kiln"))
    kiln = next((kiln for kiln in kilns if kiln.code == asked), None)
    rows = everything.filter(kiln=kiln) if kiln else everything
    said = verdict(**queries.outcomes(rows)[row.pk])
    glazes = queries.glazes_of([row.pk])[row.pk]
    parted = ((words, queries.split_by(rows, field)) for words, field in SPLITS)
    context = {
        "combination": row,
        "glazes": glazes,
        "title": say(" over ").join(glaze.name for glaze in reversed(glazes)),
        "said": said,
        "rates": [("sound", said.sound), ("flawed", said.flawed), ("lost", said.lost)] if said else [],
        "wrong": queries.went_wrong(rows),
        "kilns": kilns,
        "kiln": kiln,
        "layers": queries.by_layer(rows),
        "splits": [(words, parts) for words, parts in parted if len(parts) > 1],
        "pieces": queries.newest(rows),
        "form": form or CombinationNotesForm(initial={"notes": row.notes}),
    }
    return render(request, "glazes/combination.html", context, status=status)


@access.tutor
@require_POST
def combination_note(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Combination, code=code)
    form = CombinationNotesForm(request.POST)
    if form.is_valid():
        try:
            actions.note_combination(combination=row, notes=form.cleaned_data["notes"], by=request.user)
        except Refused as refused:
            form.add_error("notes", str(refused))
        else:
            messages.success(request, say("Noted."))
            return redirect(reverse("combination", args=[code]))
    return _combination(request, row, form, status=422)


@access.staff
@require_safe
def compare(request: HttpRequest) -> HttpResponse:
    """Two combinations side by side, and whether one comes out sound more often."""
    rows = queries.summaries()
    by_code = {row.combination.code: row for row in rows}
    first, second = (by_code.get(code_from(request.GET.get(name))) for name in ("first", "second"))
    both = first is not None and second is not None and first is not second
    sides = [
        (row, queries.newest(queries.results().filter(combination=row.combination), most=6))
        for row in ((first, second) if both else ())
    ]
    context = {
        "rows": rows,
        "first": first,
        "second": second,
        "sides": sides,
        "difference": queries.compared(first.verdict, second.verdict) if both else None,
    }
    return render(request, "glazes/compare.html", context)
