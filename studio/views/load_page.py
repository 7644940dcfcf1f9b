"""The page of a load: what it shows, whole or in the parts that the editor in the browser renews."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from studio.domain.glaze_hints import to_mind, without_met
from studio.domain.problems import Problem, Refused
from studio.domain.props import heights_possible
from studio.domain.say import midway, said_now, say
from studio.domain.stages import FiringKind
from studio.forms.firings import LayersForm, LightForm
from studio.forms.loads import NUDGE_MM, MoveForm, PutForm, SwapForm, WaitingFilter
from studio.forms.parts import code_from
from studio.models import Firing, Placement
from studio.queries import loads as queries
from studio.queries import loads_waiting
from studio.queries.glaze_hints import hints_for, minds_of
from studio.queries.load_worth import worth_of
from studio.queries.loads_changes import last_undoable, latest_changes
from studio.queries.loads_waiting import Waiting

from .load_drawn import drawn_load
from .load_state import load_state

WAITING_A_PAGE = 12
LEFT_OUT_SHOWN = 80
SHOWN_PROBLEMS = 6
#: Of a piece that is not in the load yet; its page has the rest.
HINTS_SHOWN = 2
#: Sent by the editor in the browser, which wants the parts that have changed instead of a page.
EDITOR_HEADER = "X-Load-Editor"


def load_page(
    request: HttpRequest, firing: Firing, *, status: int = 200, chosen: str = "", **forms: BaseForm
) -> HttpResponse:
    """The load as it stands. ``forms`` are those that were refused, with what was typed in them; ``chosen``
    is the code of the piece in hand."""
    context = board_context(request, firing, chosen=chosen, **forms)
    context |= waiting_context(request, firing, plan=context["plan"], **forms)
    context |= {"light_form": LightForm(), **forms}
    return render(request, "firings/load.html", context, status=status)


def names_of_layers(firing: Firing) -> dict[int, str]:
    """Layers by number, the top one first, as people say them."""
    return names_of(firing.layers.values_list("number", flat=True))


def names_of(numbers: Iterable[int]) -> dict[int, str]:
    """Numbers of layers, the top one first, as people say them."""
    ordered = sorted(numbers, reverse=True)
    return {number: queries.layer_name(number, len(ordered)) for number in ordered}


def board_context(
    request: HttpRequest, firing: Firing, *, chosen: str = "", **forms: BaseForm
) -> dict[str, Any]:
    """Everything but who waits: side view, layers, the piece in hand, how full it is, the last change."""
    number = firing.number
    plan = queries.plan_of(firing, studio=request.studio)
    planned = firing.state == Firing.State.PLANNED
    picked = chosen or code_from(request.GET.get("piece"))
    in_hand = next((place for place in plan.placements if place.piece.code == picked), None)
    base = reverse("load", args=[number])
    drawn = drawn_load(
        plan,
        href=lambda place: f"{base}?piece={place.piece.code}#chosen",
        picked=in_hand.pk if in_hand else None,
    )
    fill = queries.fill_of(plan)
    layers = {layer.row.number: layer.name for layer in fill.layers}
    places = {layer.row.number: [] for layer in fill.layers}
    for place in plan.placements:
        places[place.layer.number].append(place)
    context: dict[str, Any] = {
        "firing": firing,
        "planned": planned,
        "plan": plan,
        "drawn": drawn,
        "fill": fill,
        "rows": [
            (layer, drawing, places[layer.row.number])
            for layer, drawing in zip(fill.layers, drawn.layers, strict=True)
        ],
        "layers": fill.layers,
        "chosen": in_hand if planned else None,
        "gap_mm": request.studio.clearance_mm if firing.kind != "bisque" else 0,
        "nudge_mm": NUDGE_MM,
        "overrides": firing.overrides.select_related("piece", "by"),
        "minds": minds_of(firing, plan.placements),
        "layers_form": LayersForm(
            heights=heights_possible(plan.load.stock.props), props_mm=[row.prop_mm for row in plan.layers]
        ),
    }
    if planned:
        context |= {"state": load_state(plan), "last_change": last_undoable(firing)}
        context["changes"] = latest_changes(firing)
    if in_hand and planned:
        others = {
            place.piece.code: f"{place.piece.mark} {midway(place.piece.get_form_display())}"
            for place in plan.placements
            if place.pk != in_hand.pk
        }
        context |= {
            "seen": queries.place_seen(in_hand),
            "move_form": MoveForm.of(in_hand, layers),
            "swap_form": SwapForm(others=others) if others else None,
        }
    return {**context, **forms}


def waiting_context(
    request: HttpRequest, firing: Firing, *, plan: queries.Plan, **forms: BaseForm
) -> dict[str, Any]:
    """Who waits, filtered and by the page, who is left out and why, and what the load is worth."""
    if firing.state != Firing.State.PLANNED:
        return {}
    now = timezone.now()
    waiting = loads_waiting.waiting_for_firing(firing, now=now, plan=plan, studio=request.studio)
    may = [row for row in waiting if row.may_go_in]
    sent = request.POST if request.method == "POST" else request.GET
    cones = sorted({row.piece.cone_wanted for row in may if row.piece.cone_wanted})
    wanted = WaitingFilter(sent, cones=cones)
    listed = [row for row in may if _wanted(row, wanted.values)]
    put_form = forms.get("put_form") or PutForm(layers=names_of(row.number for row in plan.layers))
    ticked = getattr(put_form, "ticked", [])
    # What was ticked and refused stays on the page, whatever page of the list it was on.
    listed.sort(key=lambda row: row.piece.code not in ticked)
    page = Paginator(listed, max(WAITING_A_PAGE, len(ticked))).get_page(wanted.values["page"] or 1)
    _tell_hints(firing, page.object_list)
    return {
        "waiting": waiting,
        "may_go_in": may,
        "listed": page,
        "wanted": wanted,
        "wanted_query": _query(wanted.values),
        "ticked": ticked,
        "left_out": [row for row in waiting if not row.may_go_in][:LEFT_OUT_SHOWN],
        "left_out_count": len(waiting) - len(may),
        "put_form": put_form,
        "worth": worth_of(plan, waiting, now=now, studio=request.studio),
    }


def _tell_hints(firing: Firing, rows: list[Waiting]) -> None:
    """Give each listed piece ``hints``: what to mind about its glazes besides the stand, which it says."""
    found = {}
    if firing.kind != FiringKind.BISQUE:
        found = hints_for([row.piece for row in rows], cone=firing.cone)
    for row in rows:
        row.piece.hints = to_mind(without_met(found.get(row.piece.pk, []), stand_mm=1))[:HINTS_SHOWN]


def _wanted(row: Waiting, values: dict[str, Any]) -> bool:
    piece = row.piece
    if values["form"] and piece.form != values["form"]:
        return False
    if values["cone"] and piece.cone_wanted != ("" if values["cone"] == "none" else values["cone"]):
        return False
    maker = piece.maker.full_name if piece.maker else ""
    return values["mark"].casefold() in f"{piece.mark} {maker}".casefold()


def _query(values: dict[str, Any]) -> str:
    """The filter as it stands in an address, without the page."""
    query = QueryDict(mutable=True)
    query.update({f"w-{name}": value for name, value in values.items() if value and name != "page"})
    return query.urlencode()


# Answers to a change


def wants_parts(request: HttpRequest) -> bool:
    return request.headers.get(EDITOR_HEADER) == "1" or request.GET.get("part") == "board"


def parts(
    request: HttpRequest,
    firing: Firing,
    *,
    said: str = "",
    problems: list[str] | None = None,
    chosen: str = "",
    waiting: bool = False,
    ok: bool = False,
    **forms: BaseForm,
) -> JsonResponse:
    """What the editor in the browser renews: the board, and the waiting list where that has changed.

    ``problems`` are told as a refusal, unless something was done all the same (``ok``).
    """
    context = board_context(request, firing, chosen=chosen, **forms)
    found = {"board": render_to_string("firings/load_board.html", context, request)}
    if waiting:
        context |= waiting_context(request, firing, plan=context["plan"], **forms)
        for name in ("waiting", "worth"):
            found[name] = render_to_string(f"firings/load_{name}.html", context, request)
    told = {"said": said, "problems": problems or [], "parts": found}
    return JsonResponse(said_now(told), status=422 if problems and not ok else 200)


def done(
    request: HttpRequest,
    firing: Firing,
    said: str,
    *,
    chosen: str = "",
    waiting: bool = False,
    but: list[Problem] | None = None,
) -> HttpResponse:
    """A change was made: the parts that show it, or the page again with a word about it.

    ``but`` is what of it was not.
    """
    sentences = [problem.message for problem in but or []]
    if wants_parts(request):
        return parts(
            request,
            firing,
            said=said,
            problems=sentences[:SHOWN_PROBLEMS],
            ok=True,
            chosen=chosen,
            waiting=waiting,
        )
    messages.success(request, said)
    tell(request, sentences)
    url = reverse("load", args=[firing.number])
    return redirect(f"{url}?piece={chosen}#chosen" if chosen else url)


def refused(
    request: HttpRequest,
    firing: Firing,
    why: BaseForm | Refused | list[Problem],
    *,
    chosen: str = "",
    **forms: BaseForm,
) -> HttpResponse:
    """A change was refused: the same page with what was typed in it, and why."""
    if isinstance(why, BaseForm):
        sentences = [str(words) for name in why.errors for words in why.errors[name]]
    else:
        sentences = [problem.message for problem in (why.problems if isinstance(why, Refused) else why)]
    firing.refresh_from_db()
    if wants_parts(request):
        return parts(
            request, firing, problems=sentences[:SHOWN_PROBLEMS], chosen=chosen, waiting=True, **forms
        )
    if not forms or not _shown(firing, chosen):
        tell(request, sentences)
    return load_page(request, firing, status=422, chosen=chosen, **forms)


def _shown(firing: Firing, chosen: str) -> bool:
    """Whether the page still has the form that was refused: not after the load is lit or the piece is out."""
    if firing.state != Firing.State.PLANNED:
        return False
    standing = firing.placements.filter(piece__code=chosen, taken_out_at__isnull=True, pinned=False)
    return not chosen or standing.exists()


def tell(request: HttpRequest, sentences: list[str]) -> None:
    for sentence in sentences[:SHOWN_PROBLEMS]:
        messages.error(request, sentence)
    if len(sentences) > SHOWN_PROBLEMS:
        messages.error(request, say("And {count} more were left out.", count=len(sentences) - SHOWN_PROBLEMS))


def placement_of(number: int, code: str) -> Placement | None:
    """The latest place of a piece in a firing, taken out or not; None when it never had one."""
    rows = Placement.objects.select_related("firing__kiln", "piece", "layer")
    return rows.filter(firing__number=number, piece__code=code_from(code)).order_by("-pk").first()
