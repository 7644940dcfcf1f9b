"""What clays shrink by: pairs measured, the figure they give, the size to make, a lid, a ruler to print."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import shrinkage as actions
from studio.domain.lengths import Unit, unit_in_force
from studio.domain.problems import DomainError, Refused
from studio.domain.say import say
from studio.forms.shrinkage import LidForm, PairForm, RulerForm
from studio.imaging.shrink_ruler import ruler_page
from studio.models import ClayBody, LengthPair
from studio.queries import shrinkage as queries
from studio.queries import sizes_to_make as sizes

from . import access
from .editing import put_problems

SHOWN = 60


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def clay_measured(request: HttpRequest, code: str) -> HttpResponse:
    """What a clay shrinks by, as it was measured here; posting enters another pair."""
    clay = get_object_or_404(ClayBody, code=code)
    form = PairForm(request.POST or None, initial={"client_id": uuid.uuid4()})
    if request.method == "POST" and form.is_valid():
        try:
            actions.enter_pair(clay=clay, by=request.user, **form.cleaned_data)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("The pair is in the books."))
            return redirect("clay-measured", code=code)
    pairs = queries.pairs_of(clay)
    context = {
        "clay": clay,
        "form": form,
        "figures": queries.figures_of(clay, pairs),
        "usual_size": 4 if unit_in_force() is Unit.INCH else 100,
        "pairs": pairs[:SHOWN],
        "more": max(0, len(pairs) - SHOWN),
        "taken_back": clay.length_pairs.filter(taken_back_at__isnull=False)[:SHOWN],
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "clays/measured.html", context, status=status)


@access.staff
@require_POST
def pair_take_back(request: HttpRequest, code: str, pair_code: str) -> HttpResponse:
    pair = get_object_or_404(LengthPair, clay__code=code, code=pair_code)
    pair = actions.take_back_pair(pair=pair, by=request.user)
    messages.success(
        request, say("It counts for nothing any more.") if pair.taken_back_at else say("It counts again.")
    )
    return redirect("clay-measured", code=code)


@access.tutor
@require_POST
def clay_use_measured(request: HttpRequest, code: str) -> HttpResponse:
    clay = get_object_or_404(ClayBody, code=code)
    try:
        actions.use_measured(clay=clay, stage=request.POST.get("stage", ""), by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    else:
        messages.success(request, say("Sizes and loads are worked out with the measured figure from now on."))
    return redirect("clay-measured", code=code)


@access.signed_in
@require_safe
def ruler(request: HttpRequest) -> HttpResponse:
    """Fired size wanted, wet size to make: one answer, and a table of usual sizes."""
    asked = "size_mm" in request.GET or "clay" in request.GET
    form = RulerForm(request.GET if asked else None)
    clay = answer = None
    figure = None
    if asked and form.is_valid():
        clay = form.cleaned_data["clay"]
    clay = clay or form.fields["clay"].queryset.first()
    if clay:
        figure = sizes.measured_fired(clay)
        if asked and form.is_valid():
            answer = sizes.to_make(clay, float(form.cleaned_data["size_mm"]), figure)
    context = {
        "form": form,
        "clay": clay,
        "answer": answer,
        "figure": figure,
        "table": [sizes.to_make(clay, size, figure) for size in sizes.usual_sizes_mm()] if clay else [],
    }
    return render(request, "clays/ruler.html", context, status=422 if asked and not form.is_valid() else 200)


@access.signed_in
@require_safe
def lid_fit(request: HttpRequest) -> HttpResponse:
    """How wide a lid is to be for a gallery that is there."""
    asked = "gallery_mm" in request.GET
    form = LidForm(request.GET if asked else None)
    answer = None
    if asked and form.is_valid():
        data = form.cleaned_data
        try:
            answer = sizes.lid_to_make(
                **{**data, "gallery_mm": float(data["gallery_mm"]), "gap_mm": float(data["gap_mm"])}
            )
        except DomainError as error:
            form.add_error(None, error.message)
    status = 422 if asked and answer is None else 200
    return render(request, "clays/lid.html", {"form": form, "answer": answer}, status=status)


@access.signed_in
@require_safe
def shrink_ruler(request: HttpRequest, code: str) -> HttpResponse:
    """A ruler to print that is longer by what the clay shrinks."""
    clay = get_object_or_404(ClayBody, code=code)
    context = {
        "pages": [ruler_page(name=clay.name, percent=float(clay.shrinkage_fired_pct))],
        "title": say("Shrink ruler"),
        "back": reverse("ruler"),
        "codes": [],
        "done_url": "",
        "count": 1,
    }
    return render(request, "print.html", context)
