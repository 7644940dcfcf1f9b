"""Planning a load: the firing itself, its layers and props, and its end without a fire."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.cones import hotter
from studio.domain.loading import problems as problems_of_load
from studio.domain.problems import Problem
from studio.domain.say import later, say
from studio.domain.stages import FiringKind
from studio.models import Firing, Kiln, Layer, LoadChange, Person, Placement, Programme, Studio
from studio.queries.loads import Plan, plan_of

from .common import (
    clean_choice,
    clean_client_id,
    clean_cone,
    clean_text,
    clean_whole,
    moment,
    must_be_staff,
    refuse,
    refuse_all,
)
from .load_changes import record_change, repeated_change, snapshot
from .loads_hold import hold_firing, hold_planned, move_on, name_of
from .loads_hold import overrule as overrule
from .programmes import refuse_programme

#: Layers in a kiln, and the highest layer in mm; the database allows no more layers.
MOST_LAYERS = 12
_HIGHEST_LAYER_MM = 1500


@transaction.atomic
def plan_firing(
    *,
    kiln: Kiln,
    kind: FiringKind | str,
    cone: str,
    by: Person,
    planned_for: datetime | None = None,
    programme: Programme | None = None,
    notes: str = "",
    client_id: str = "",
    now: datetime | None = None,
) -> Firing:
    """A new firing with one bare layer and the next number, without gaps and never given twice.

    The same ``client_id`` sent again gives the firing it planned the first time.
    """
    must_be_staff(by)
    now = moment(now)
    client_id = clean_client_id(client_id) if client_id else ""
    kind = FiringKind(
        clean_choice(str(kind), [each.value for each in FiringKind], label=say("kind of firing"))
    )
    cone = clean_cone(cone, required=True)
    if kiln.retired_at is not None:
        refuse("kiln-retired", say("{name} is not in use any more. Choose another kiln.", name=kiln.name))
    if hotter(cone, kiln.highest_cone):
        refuse(
            "kiln-too-cool",
            say(
                "{name} fires to cone {highest_cone} at most, not to cone {cone}. Choose a cooler "
                "cone or another kiln.",
                name=kiln.name,
                highest_cone=kiln.highest_cone,
                cone=cone,
            ),
        )
    if programme is not None:
        refuse_programme(programme, kiln=kiln, kind=kind)
    # The studio's row is the gate: whoever holds it gives the next number, and the others wait for it.
    Studio.the()
    Studio.objects.select_for_update(no_key=True).get(pk=1)
    if client_id and (done := Firing.objects.filter(client_id=client_id).first()):
        return done
    last = Firing.objects.order_by("-number").values_list("number", flat=True).first()
    firing = Firing.objects.create(
        number=(last or 0) + 1,
        kiln=kiln,
        kind=kind,
        cone=cone,
        planned_for=moment(planned_for) if planned_for else None,
        programme=programme,
        notes=clean_text(notes, label=later("notes"), longest=2000, lines=True),
        made_by=by,
        made_at=now,
        client_id=client_id or None,
    )
    Layer.objects.create(firing=firing, number=1)
    return firing


@transaction.atomic
def set_layers(
    *,
    firing: Firing,
    props_mm: list[int],
    by: Person,
    client_id: str = "",
    now: datetime | None = None,
) -> Firing:
    """The layers of a load by the height of their props in mm, bottom first; the last, on top, is 0.

    Refused whole when the props or kiln shelves are not there, the layers don't fit under the lid, a layer
    that goes is not empty, or a piece becomes too tall. A piece that stands where a prop comes to stand is
    moved aside on its layer where there is room, unless it is pinned.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(firing)
    if repeated_change(client_id, firing=firing, kind=LoadChange.Kind.LAYERS):
        return firing
    heights = [
        clean_whole(height, label=say("height of a layer's props"), least=0, most=_HIGHEST_LAYER_MM)
        for height in props_mm
    ]
    if not 1 <= len(heights) <= MOST_LAYERS:
        refuse("layer-count", say("A load has 1 to {most_layers} layers.", most_layers=MOST_LAYERS))
    if heights[-1]:
        refuse("props-idle", say("The top layer carries no shelf. Give it no props."))
    bare = [number for number, height in enumerate(heights[:-1], start=1) if not height]
    refuse_all(
        Problem(
            "no-props", say("Layer {number} has a shelf above it and no props. Choose props.", number=number)
        )
        for number in bare
    )
    _refuse_to_drop(firing, keep=len(heights))

    was = snapshot(firing)
    plan = plan_of(firing, heights_mm=heights)
    plan = _clear_of_props(plan)
    refuse_all(problems_of_load(load=plan.load, items=plan.items.values()))

    rows = {row.number: row for row in firing.layers.all()}
    for number, height in enumerate(heights, start=1):
        if number in rows:
            Layer.objects.filter(pk=rows[number].pk).update(prop_mm=height)
        else:
            rows[number] = Layer.objects.create(firing=firing, number=number, prop_mm=height)
    gone = [row.pk for number, row in rows.items() if number > len(heights)]
    # What was once planned there and taken out again keeps its row, on the layer that is now on top.
    Placement.objects.filter(layer__in=gone).update(layer=rows[len(heights)])
    Layer.objects.filter(pk__in=gone).delete()
    _save_moved(plan)
    words = (
        say("{count} layers", count=len(heights))
        if len(heights) > 1
        else say("{count} layer", count=len(heights))
    )
    if len(heights) > 1:
        words += say(", props of {heights} mm", heights=", ".join(str(height) for height in heights[:-1]))
    record_change(
        firing=firing,
        kind=LoadChange.Kind.LAYERS,
        was=was,
        words=words,
        by=by,
        now=now,
        client_id=client_id,
    )
    return firing


@transaction.atomic
def cancel_firing(*, firing: Firing, by: Person, now: datetime | None = None) -> Firing:
    """Give up a planned firing. Its pieces are free for another load; the number is not used again."""
    must_be_staff(by)
    firing = hold_planned(firing)
    now = moment(now)
    firing.placements.filter(taken_out_at__isnull=True).update(holds_piece=None, taken_out_at=now)
    move_on(firing, Firing.State.PLANNED, Firing.State.CANCELLED, closed_at=now)
    return firing


@transaction.atomic
def restore_firing(*, firing: Firing, by: Person, now: datetime | None = None) -> Firing:
    """Undo a cancelling: the load as it was, without the pieces that have gone elsewhere meanwhile."""
    must_be_staff(by)
    moment(now)
    firing = hold_firing(firing)
    if firing.state != Firing.State.CANCELLED:
        refuse("not-cancelled", say("{name_of} has not been cancelled.", name_of=name_of(firing)))
    places = firing.placements.filter(taken_out_at=firing.closed_at).select_related("piece")
    for place in places:
        if not Placement.objects.filter(holds_piece=place.piece).exists() and place.piece.is_live:
            Placement.objects.filter(pk=place.pk).update(holds_piece=place.piece, taken_out_at=None)
    move_on(firing, Firing.State.CANCELLED, Firing.State.PLANNED, closed_at=None)
    return firing


def _refuse_to_drop(firing: Firing, *, keep: int) -> None:
    """Layers that go must be empty."""
    problems = []
    for layer in firing.layers.filter(number__gt=keep).order_by("number"):
        marks = list(
            layer.placements.filter(taken_out_at__isnull=True)
            .order_by("pk")
            .values_list("piece__mark", flat=True)
        )
        if marks:
            words = say(
                "Layer {number} still holds {marks}. Take them out first.",
                number=layer.number,
                marks=", ".join(marks),
            )
            problems.append(Problem("layer-not-empty", words))
    refuse_all(problems)


def _clear_of_props(plan: Plan) -> Plan:
    """The plan with pieces that stand where a prop goes moved aside, as far as there is room."""
    pinned = {row.piece.mark for row in plan.placements if row.pinned}
    for problem in problems_of_load(load=plan.load, items=plan.items.values()):
        if problem.code != "prop" or problem.about in pinned:
            continue
        mark, layer = problem.about, problem.layer
        assert layer is not None
        item = plan.items[mark]
        place = plan.without(mark).free_place(item, layer=layer)
        if place is not None:
            plan = plan.with_place(item, layer=layer, place=place)
    return plan


def _save_moved(plan: Plan) -> None:
    now_at = {position.key: position.place for position in plan.load.positions}
    for row in plan.placements:
        place = now_at[row.piece.mark]
        if (row.x_mm, row.y_mm, row.turned) != (place.x_mm, place.y_mm, place.turned):
            Placement.objects.filter(pk=row.pk).update(x_mm=place.x_mm, y_mm=place.y_mm, turned=place.turned)
