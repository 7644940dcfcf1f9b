"""Pieces in a load: put in, moved, taken out again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import prefetch_related_objects

from studio.domain.load_rules import LoadFacts, rule_problems
from studio.domain.loading import Item
from studio.domain.loading import problems as problems_of_load
from studio.domain.packing import Placed
from studio.domain.problems import Problem
from studio.domain.stages import FiringKind
from studio.models import Firing, Layer, Person, Piece, Placement, Studio
from studio.queries.loads import Plan, empty_plan, item_for, plan_of
from studio.queries.loads_sizes import Size, fired_before, size_going_in
from studio.queries.loads_waiting import GLAZES, centimetres, load_facts, size_problems
from studio.queries.piece_facts import facts_of, refired_free

from .common import clean_whole, moment, must_be_staff, refuse
from .loads import hold_planned, name_of, overrule
from .pieces_events import hold_piece, load_held_by

_HIGHEST_STAND_MM = 120
_FARTHEST_MM = 1000


@transaction.atomic
def load_piece(
    *,
    firing: Firing,
    piece: Piece,
    layer: Layer,
    by: Person,
    x_mm: int | None = None,
    y_mm: int | None = None,
    turned: bool = False,
    stand_mm: int = 0,
    override_reason: str = "",
    now: datetime | None = None,
) -> Placement:
    """Put a piece into a load at the size it goes in, at a free place or at the one given.

    Refused with every reason at once. The tutor may overrule those that allow it by giving a reason, which
    stays with the firing. A piece that stands on this layer already is left where it is.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(firing)
    piece = hold_piece(piece)
    layer = _layer_of(firing, layer)
    stand_mm = clean_whole(stand_mm, label="height of the stand in mm", least=0, most=_HIGHEST_STAND_MM)
    if held := load_held_by(piece):
        if held.firing_id == firing.pk and held.layer_id == layer.pk and x_mm is None and y_mm is None:
            return held
        refuse("in-load", _in_load_words(piece, held, firing), about=piece.mark)

    prefetch_related_objects([piece], "clay", GLAZES)
    rules = rule_problems(
        load_facts(piece, facts_of(piece)), kind=FiringKind(firing.kind), cone=firing.cone, stand_mm=stand_mm
    )
    size = size_going_in(piece, fired_before=piece.pk in fired_before([piece]))
    plan = plan_of(firing)
    found = _Place.look_for(
        plan, item_for(piece.mark, size, stand_mm=stand_mm), layer.number, x_mm=x_mm, y_mm=y_mm, turned=turned
    )
    overrule(
        firing=firing,
        problems=[*rules, *found.problems],
        pieces={piece.mark: piece},
        reason=override_reason,
        by=by,
        now=now,
    )
    assert found.place is not None
    return Placement.objects.create(
        firing=firing,
        layer=layer,
        piece=piece,
        x_mm=found.place.x_mm,
        y_mm=found.place.y_mm,
        turned=found.place.turned,
        stand_mm=stand_mm,
        refire_free=piece.pk in refired_free([piece]),
        added_at=now,
        added_by=by,
        holds_piece=piece,
        **_columns(size),
    )


@transaction.atomic
def move_placement(
    *,
    placement: Placement,
    by: Person,
    layer: Layer | None = None,
    x_mm: int | None = None,
    y_mm: int | None = None,
    turned: bool | None = None,
    stand_mm: int | None = None,
    override_reason: str = "",
    now: datetime | None = None,
) -> Placement:
    """Move a piece within its load: to another layer, another place, or onto another stand."""
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(placement.firing)
    placement = _standing(placement)
    piece = hold_piece(placement.piece)
    layer = _layer_of(firing, layer or placement.layer)
    stand = placement.stand_mm if stand_mm is None else stand_mm
    stand = clean_whole(stand, label="height of the stand in mm", least=0, most=_HIGHEST_STAND_MM)
    same_layer = layer.pk == placement.layer_id
    if x_mm is None and y_mm is None and same_layer and stand == placement.stand_mm:
        x_mm, y_mm = placement.x_mm, placement.y_mm

    prefetch_related_objects([piece], "clay", GLAZES)
    rules = rule_problems(
        load_facts(piece, facts_of(piece)), kind=FiringKind(firing.kind), cone=firing.cone, stand_mm=stand
    )
    size = size_going_in(piece, fired_before=piece.pk in fired_before([piece]))
    plan = plan_of(firing).without(piece.mark)
    found = _Place.look_for(
        plan,
        item_for(piece.mark, size, stand_mm=stand),
        layer.number,
        x_mm=x_mm,
        y_mm=y_mm,
        turned=placement.turned if turned is None else turned,
    )
    overrule(
        firing=firing,
        problems=[*rules, *found.problems],
        pieces={piece.mark: piece},
        reason=override_reason,
        by=by,
        now=now,
    )
    assert found.place is not None
    values = {
        "layer": layer,
        "x_mm": found.place.x_mm,
        "y_mm": found.place.y_mm,
        "turned": found.place.turned,
        "stand_mm": stand,
        **_columns(size),
    }
    Placement.objects.filter(pk=placement.pk).update(**values)
    placement.refresh_from_db()
    return placement


@transaction.atomic
def take_out(*, placement: Placement, by: Person, now: datetime | None = None) -> Placement:
    """Take a piece out of a load that is not lit yet; taken out already counts as done."""
    must_be_staff(by)
    now = moment(now)
    hold_planned(placement.firing)
    Placement.objects.filter(pk=placement.pk, taken_out_at__isnull=True).update(
        taken_out_at=now, holds_piece=None
    )
    placement.refresh_from_db()
    return placement


def recheck(firing: Firing, placement: Placement, facts: LoadFacts) -> list[Problem]:
    """What speaks against a placed piece by the rules, as it is now."""
    return rule_problems(
        facts,
        kind=FiringKind(firing.kind),
        cone=firing.cone,
        stand_mm=placement.stand_mm,
    )


@dataclass(frozen=True, slots=True)
class _Place:
    """A place for a piece, or why there is none."""

    place: Placed | None
    problems: list[Problem]

    @classmethod
    def look_for(
        cls, plan: Plan, item: Item, layer: int, *, x_mm: int | None, y_mm: int | None, turned: bool
    ) -> _Place:
        kiln, kind = plan.firing.kiln, FiringKind(plan.firing.kind)
        bare = empty_plan(kiln, kind, Studio.the())
        if never := size_problems(item, bare):
            return cls(None, never)
        if item.height_mm > plan.room_mm(layer):
            words = (
                f"{item.key} is {centimetres(item.height_mm)} tall as it stands. Layer {layer} has room for "
                f"{centimetres(plan.room_mm(layer))}. Use longer props or another layer."
            )
            return cls(None, [Problem("too-tall", words, about=item.key)])
        if x_mm is not None and y_mm is not None:
            x_mm = clean_whole(
                x_mm, label="place from the middle in mm", least=-_FARTHEST_MM, most=_FARTHEST_MM
            )
            y_mm = clean_whole(
                y_mm, label="place from the middle in mm", least=-_FARTHEST_MM, most=_FARTHEST_MM
            )
            place = Placed(x_mm, y_mm, turned)
            tried = plan.with_place(item, layer=layer, place=place)
            wrong = [
                problem
                for problem in problems_of_load(load=tried.load, items=tried.items.values())
                if item.key in problem.keys
            ]
            return cls(None if wrong else place, list(wrong))
        free = plan.free_place(item, layer=layer)
        if free is None:
            words = (
                f"There is no room left for {item.key} on layer {layer}. "
                "Try another layer, or take something out."
            )
            return cls(None, [Problem("no-room", words, about=item.key)])
        return cls(free, [])


def _columns(size: Size) -> dict[str, object]:
    return {
        "is_round": size.is_round,
        "width_mm": size.width_mm,
        "depth_mm": size.depth_mm,
        "height_mm": size.height_mm,
    }


def _layer_of(firing: Firing, layer: Layer) -> Layer:
    row = Layer.objects.filter(pk=layer.pk, firing=firing).first()
    if row is None:
        refuse("layer-gone", f"{name_of(firing)} has no such layer any more. Load the page again.")
    return row


def _standing(placement: Placement) -> Placement:
    row = Placement.objects.select_related("piece", "layer").get(pk=placement.pk)
    if row.taken_out_at is not None:
        refuse("taken-out", f"{row.piece.mark} has been taken out of this load.", about=row.piece.mark)
    return row


def _in_load_words(piece: Piece, held: Placement, firing: Firing) -> str:
    if held.firing_id == firing.pk:
        return (
            f"{piece.mark} stands on layer {held.layer.number} of this load already. Move it there instead."
        )
    return (
        f"{piece.mark} stands in the load of {name_of(held.firing).lower()}. Take it out of that load first, "
        "or leave it there."
    )
