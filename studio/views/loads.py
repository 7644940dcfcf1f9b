"""Planning a load by hand: who waits, what is in, on which layer; and the sheet to print."""

from __future__ import annotations

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import loads as actions
from studio.actions import loads_many, loads_places
from studio.domain.problems import Problem, Refused
from studio.forms.firings import FiringForm, LayersForm, LightForm
from studio.forms.parts import code_from, codes_from
from studio.models import Firing, Kiln, Piece, Placement
from studio.queries import loads as queries
from studio.queries import loads_waiting

from . import access
from .editing import edit_page
from .load_drawn import drawn_load

WAITING_SHOWN = 80
NEW_LAYER_PROP_MM = 127
SHOWN_PROBLEMS = 6


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def firing_new(request: HttpRequest) -> HttpResponse:
    kilns = Kiln.objects.filter(retired_at__isnull=True)
    asked = kilns.filter(code=code_from(request.GET.get("kiln"))).first() or kilns.first()
    form = FiringForm(
        request.POST or None,
        initial={"kiln": asked.code if asked else None, "kind": request.GET.get("kind", "bisque")},
    )
    return edit_page(
        request,
        form=form,
        save=lambda: actions.plan_firing(by=request.user, **form.cleaned_data),
        heading="Plan a firing",
        done_url=lambda firing: reverse("load", args=[firing.number]),
        back_url=reverse("kilns"),
        done_words="Planned. Put the pieces in below.",
        submit_words="Start the load",
        template="firings/new.html",
        waiting=loads_waiting.waiting_counts(),
    )


def _planned_or_gone(number: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln"), number=number)


@access.staff
@require_safe
def load(request: HttpRequest, number: int) -> HttpResponse:
    return load_page(request, _planned_or_gone(number))


def load_page(request: HttpRequest, firing: Firing, *, status: int = 200, **forms: Form) -> HttpResponse:
    """The load as it stands; ``forms`` are those that were refused, with what was typed in them."""
    number = firing.number
    plan = queries.plan_of(firing, studio=request.studio)
    waiting = []
    if firing.state == Firing.State.PLANNED:
        waiting = loads_waiting.waiting_for_firing(firing, now=timezone.now(), plan=plan)
    picked = request.GET.get("piece", "")
    chosen = next((place for place in plan.placements if place.piece.code == picked), None)
    base = reverse("load", args=[number])
    drawn = drawn_load(
        plan,
        href=lambda place: f"{base}?piece={place.piece.code}#chosen",
        picked=chosen.pk if chosen else None,
    )
    fill = queries.fill_of(plan)
    context = {
        "firing": firing,
        "planned": firing.state == Firing.State.PLANNED,
        "plan": plan,
        "drawn": drawn,
        "fill": fill,
        "rows": list(zip(fill.layers, drawn.layers, strict=True)),
        "layers": fill.layers,
        "chosen": chosen,
        "may_go_in": [row for row in waiting if row.may_go_in][:WAITING_SHOWN],
        "left_out": [row for row in waiting if not row.may_go_in][:WAITING_SHOWN],
        "gap_mm": request.studio.clearance_mm if firing.kind != "bisque" else 0,
        "overrides": firing.overrides.select_related("piece", "by"),
        "layers_form": LayersForm(
            heights=queries.prop_heights(firing.kiln), props_mm=[row.prop_mm for row in plan.layers]
        ),
        "light_form": LightForm(),
        **forms,
    }
    return render(request, "firings/load.html", context, status=status)


@access.staff
@require_safe
def load_sheet(request: HttpRequest, number: int) -> HttpResponse:
    """The load on paper: layers from the bottom up, positions, marks, props to fetch, cautions."""
    firing = _planned_or_gone(number)
    plan = queries.plan_of(firing, studio=request.studio)
    fill = queries.fill_of(plan)
    drawn = drawn_load(plan)
    pages = []
    for layer, picture in zip(reversed(fill.layers), reversed(drawn.layers), strict=True):
        places = [place for place in plan.placements if place.layer_id == layer.row.pk]
        pages.append({"fill": layer, "drawn": picture, "places": places})
    context = {
        "firing": firing,
        "drawn": drawn,
        "pages": pages,
        "fill": fill,
        "props": _props_to_fetch(plan),
        "overrides": firing.overrides.select_related("piece", "by"),
    }
    return render(request, "firings/sheet.html", context)


def _props_to_fetch(plan: queries.Plan) -> list[tuple[int, int]]:
    """``[(length_mm, how many), …]`` for the whole load, three to a stack."""
    counts: dict[int, int] = {}
    for layer in plan.load.layers:
        for length in layer.props_mm:
            counts[int(length)] = counts.get(int(length), 0) + 3
    return sorted(counts.items())


def _tell(request: HttpRequest, problems: list[Problem]) -> None:
    for problem in problems[:SHOWN_PROBLEMS]:
        messages.error(request, problem.message)
    if len(problems) > SHOWN_PROBLEMS:
        messages.error(request, f"And {len(problems) - SHOWN_PROBLEMS} more were left out.")


@access.staff
@require_POST
def load_put(request: HttpRequest, number: int) -> HttpResponse:
    """Put the ticked pieces in: on the chosen layer, or wherever there is room."""
    firing = _planned_or_gone(number)
    pieces = list(Piece.objects.filter(code__in=codes_from(request.POST.getlist("piece"), WAITING_SHOWN)))
    layer = firing.layers.filter(number=_whole(request.POST.get("layer"))).first()
    stand_mm = _whole(request.POST.get("stand_mm"))
    reason = request.POST.get("override_reason", "").strip()
    if not pieces:
        messages.error(request, "Tick the pieces that are to go in.")
        return redirect("load", number=number)
    try:
        if reason and len(pieces) == 1:
            into = layer or firing.layers.order_by("number").first()
            loads_places.load_piece(
                firing=firing,
                piece=pieces[0],
                layer=into,
                by=request.user,
                stand_mm=stand_mm,
                override_reason=reason,
            )
            placed, left_out = 1, []
        else:
            done = loads_many.load_pieces(
                firing=firing, pieces=pieces, layer=layer, by=request.user, stand_mm=stand_mm
            )
            placed, left_out = len(done.placed), list(done.left_out)
    except Refused as refused:
        placed, left_out = 0, refused.problems
    if placed:
        messages.success(request, f"{placed} {'piece is' if placed == 1 else 'pieces are'} in.")
    _tell(request, left_out)
    return redirect("load", number=number)


def _whole(text: str | None) -> int:
    return int(text) if text and text.isdecimal() and len(text) < 5 else 0


def _placement(number: int, code: str) -> Placement:
    return get_object_or_404(
        Placement.objects.select_related("firing__kiln", "piece", "layer"),
        firing__number=number,
        piece__code=code,
        taken_out_at__isnull=True,
    )


@access.staff
@require_POST
def load_take_out(request: HttpRequest, number: int, code: str) -> HttpResponse:
    place = _placement(number, code)
    try:
        loads_places.take_out(placement=place, by=request.user)
        messages.success(request, f"{place.piece.mark} is out of the load.")
    except Refused as refused:
        _tell(request, refused.problems)
    return redirect("load", number=number)


@access.staff
@require_POST
def load_move(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Move a placed piece: to another layer, to a place in mm, turned, or onto a stand."""
    place = _placement(number, code)
    layer = place.firing.layers.filter(number=_whole(request.POST.get("layer"))).first() or place.layer
    fields: dict[str, object] = {}
    if layer.pk == place.layer_id:
        fields = {"x_mm": _signed(request.POST.get("x_mm")), "y_mm": _signed(request.POST.get("y_mm"))}
    try:
        loads_places.move_placement(
            placement=place,
            by=request.user,
            layer=layer,
            turned=request.POST.get("turned") == "1",
            stand_mm=_whole(request.POST.get("stand_mm")),
            override_reason=request.POST.get("override_reason", ""),
            **fields,
        )
        messages.success(request, f"{place.piece.mark} stands in its new place.")
    except Refused as refused:
        _tell(request, refused.problems)
    return redirect(f"{reverse('load', args=[number])}?piece={place.piece.code}#chosen")


def _signed(text: str | None) -> int | None:
    try:
        value = int((text or "").strip())
    except ValueError:
        return None
    return value if -2000 <= value <= 2000 else None


@access.staff
@require_POST
def load_layers(request: HttpRequest, number: int) -> HttpResponse:
    """Add or take away the top layer, or change the props."""
    firing = _planned_or_gone(number)
    props = list(firing.layers.order_by("number").values_list("prop_mm", flat=True))
    heights = queries.prop_heights(firing.kiln)
    what = request.POST.get("what", "")
    if what == "add":
        usual = min(heights, key=lambda mm: abs(mm - NEW_LAYER_PROP_MM), default=0)
        props = [*props[:-1], usual, 0]
    elif what == "remove":
        props = [*props[:-2], 0]
    else:
        form = LayersForm(request.POST, heights=heights, props_mm=props)
        if not form.is_valid():
            messages.error(request, "Choose the props from the list.")
            return redirect("load", number=number)
        props = form.props_mm()
    try:
        actions.set_layers(firing=firing, props_mm=props, by=request.user)
        messages.success(request, "The layers are changed.")
    except Refused as refused:
        _tell(request, refused.problems)
    return redirect("load", number=number)


@access.staff
@require_POST
def load_cancel(request: HttpRequest, number: int) -> HttpResponse:
    firing = _planned_or_gone(number)
    try:
        if firing.state == Firing.State.CANCELLED:
            actions.restore_firing(firing=firing, by=request.user)
            messages.success(request, "The load is planned again.")
            return redirect("load", number=number)
        actions.cancel_firing(firing=firing, by=request.user)
        messages.success(request, f"{firing} is given up. Its pieces wait for the next one.")
    except Refused as refused:
        _tell(request, refused.problems)
        return redirect("load", number=number)
    return redirect("firing", number=number)
