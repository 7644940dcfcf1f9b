"""The load on paper: layers from the bottom up, what to fetch, where each piece stands, what to mind."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from studio.models import Firing
from studio.queries import loads as queries
from studio.queries.glaze_hints import minds_of
from studio.queries.load_sheet import props_to_fetch, sheet_layers, stands_to_fetch

from . import access
from .load_drawn import drawn_load

#: Above this a layer's pieces are listed in more columns and without pictures, so that it stays on one page.
MOST_PICTURED = 30


@access.staff
@require_safe
def load_sheet(request: HttpRequest, number: int) -> HttpResponse:
    firing = get_object_or_404(Firing.objects.select_related("kiln"), number=number)
    plan = queries.plan_of(firing, studio=request.studio)
    fill = queries.fill_of(plan)
    drawn = drawn_load(plan)
    layers = sheet_layers(plan, fill.layers)
    context = {
        "firing": firing,
        "drawn": drawn,
        "pages": list(zip(layers, reversed(drawn.layers), strict=True)),
        "fill": fill,
        "props": props_to_fetch(plan),
        "stands": stands_to_fetch(plan),
        "most_pictured": MOST_PICTURED,
        "gap_mm": request.studio.clearance_mm if firing.kind != "bisque" else 0,
        "minds": minds_of(firing, plan.placements),
        "overrides": firing.overrides.select_related("piece", "by"),
    }
    return render(request, "firings/sheet.html", context)
