"""Test tiles: series planned and answered, their grids, and each tile."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import tiles as actions
from studio.domain.problems import Refused
from studio.domain.say import say, say_many
from studio.domain.stages import STAGE_WORDS, Stage
from studio.forms.parts import ActForm
from studio.forms.tiles import TileForm, TileSeriesForm
from studio.models import SeriesTile, TileSeries
from studio.queries import tiles as queries

from . import access
from .editing import edit_page, put_problems


@access.staff
@require_safe
def tile_series_list(request: HttpRequest) -> HttpResponse:
    context = {"series": queries.all_series(), "away": queries.all_series(away=True)[:60]}
    return render(request, "tiles/list.html", context)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def tile_series_new(request: HttpRequest) -> HttpResponse:
    form = TileSeriesForm(request.POST or None, initial={"client_id": uuid.uuid4()})
    return edit_page(
        request,
        form=form,
        save=lambda: actions.plan_series(by=request.user, **form.cleaned_data),
        heading=say("What do you want to find out?"),
        done_url=lambda series: reverse("tile-series", args=[series.code]),
        back_url=reverse("tiles"),
        done_words=say("Planned. Scratch each tile's mark into its back while it is soft."),
        template="tiles/new.html",
    )


@access.staff
@require_safe
def tile_series(request: HttpRequest, code: str) -> HttpResponse:
    series = get_object_or_404(TileSeries.objects.select_related("clay", "blended_with"), code=code)
    rows = queries.tiles_of(series)
    context = {
        "series": series,
        "rows": rows,
        "bases": queries.by_base(rows),
        "next_stages": [
            {"to": to, "words": STAGE_WORDS[to], "count": count, "board": to == Stage.COLLECTED}
            for to, count in queries.next_stages(rows)
        ],
        "other": series.blended_with or series.addition,
        "any_fired": any(row.outcome for row in rows),
    }
    return render(request, "tiles/series.html", context)


@access.staff
@require_POST
def tile_series_move(request: HttpRequest, code: str) -> HttpResponse:
    """Move on all tiles that can go: a series is dried, glazed and hung up together."""
    series, form = get_object_or_404(TileSeries, code=code), ActForm(request.POST)
    try:
        if not form.is_valid():
            for sentence in form.sentences():
                messages.error(request, sentence)
            return redirect("tile-series", code=code)
        moved = actions.move_series(
            series=series,
            to=request.POST.get("to", ""),
            by=request.user,
            client_id=form.cleaned_data["client_id"],
        )
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    else:
        messages.success(request, say_many("{count} tile moved on.", "{count} tiles moved on.", moved))
    return redirect("tile-series", code=code)


@access.tutor
@require_POST
def tile_series_away(request: HttpRequest, code: str) -> HttpResponse:
    series = actions.put_series_away(series=get_object_or_404(TileSeries, code=code), by=request.user)
    messages.success(
        request,
        (
            say("{series} is put away.", series=series)
            if series.put_away_at
            else say("{series} is out again.", series=series)
        ),
    )
    return redirect("tile-series", code=code)


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def tile(request: HttpRequest, code: str, place: int) -> HttpResponse:
    """One tile: its mix, its photo and what was seen."""
    found = get_object_or_404(
        SeriesTile.objects.select_related("series__blended_with", "series__clay", "piece", "base"),
        series__code=code,
        place=place,
    )
    rows = queries.tiles_of(found.series)
    at = next(number for number, row in enumerate(rows) if row.tile.pk == found.pk)
    if request.method == "POST":
        form = TileForm(request.POST, request.FILES)
        if form.is_valid():
            try:
                actions.note_tile(tile=found, by=request.user, **form.cleaned_data)
            except Refused as refused:
                put_problems(form, refused)
            else:
                messages.success(request, say("Written down."))
                return redirect("tile-series", code=code)
    else:
        form = TileForm(initial={"seen": found.seen, "liked": found.liked})
    context = {
        "series": found.series,
        "row": rows[at],
        "before": rows[at - 1] if at else None,
        "after": rows[at + 1] if at + 1 < len(rows) else None,
        "form": form,
        "other": found.series.blended_with or found.series.addition,
    }
    return render(request, "tiles/tile.html", context, status=422 if request.method == "POST" else 200)
