"""Pieces in a load: put in, moved, taken out again.

Each change is written down with what it changed (`load_changes`), once for a page's ``client_id``. ``seen``
is where the page showed the piece (`queries.loads.place_seen`): when somebody else has moved it meanwhile,
the move is refused and says so.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import prefetch_related_objects

from studio.domain.load_rules import LoadFacts, rule_problems
from studio.domain.problems import Problem
from studio.domain.say import midway, say
from studio.domain.stages import FiringKind
from studio.models import Firing, Layer, LoadChange, Person, Piece, Placement
from studio.queries.loads import item_for, layer_name, place_seen, plan_of
from studio.queries.loads_sizes import Size, fired_before, size_going_in
from studio.queries.loads_waiting import GLAZES, load_facts
from studio.queries.piece_facts import facts_of, refired_free

from .common import clean_whole, moment, must_be_staff, refuse
from .load_changes import record_change, repeated_change, snapshot
from .loads_hold import hold_planned, name_of, overrule
from .loads_room import FoundPlace
from .pieces_events import hold_piece, load_held_by

_HIGHEST_STAND_MM = 120


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
    client_id: str = "",
    now: datetime | None = None,
) -> Placement:
    """Put a piece into a load at the size it goes in, at a free place or at the one given.

    Refused with every reason at once. The tutor may overrule those that allow it by giving a reason, which
    stays with the firing. A piece that stands on this layer already is left where it is.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(firing)
    if repeated_change(client_id, firing=firing, kind=LoadChange.Kind.PUT):
        return firing.placements.filter(piece=piece).latest("pk")
    was = snapshot(firing)
    placement = stand_in(
        firing=firing,
        piece=piece,
        layer=layer,
        by=by,
        x_mm=x_mm,
        y_mm=y_mm,
        turned=turned,
        stand_mm=stand_mm,
        override_reason=override_reason,
        now=now,
    )
    record_change(
        firing=firing,
        kind=LoadChange.Kind.PUT,
        was=was,
        words=say("{mark} put in", mark=piece.mark),
        by=by,
        now=now,
        client_id=client_id,
    )
    return placement


def stand_in(
    *,
    firing: Firing,
    piece: Piece,
    layer: Layer,
    by: Person,
    now: datetime,
    x_mm: int | None = None,
    y_mm: int | None = None,
    turned: bool = False,
    stand_mm: int = 0,
    override_reason: str = "",
) -> Placement:
    """`load_piece` without writing the change down, for those who put in many; ``firing`` is held."""
    piece = hold_piece(piece)
    layer = _layer_of(firing, layer)
    stand_mm = clean_whole(stand_mm, label=say("height of the stand in mm"), least=0, most=_HIGHEST_STAND_MM)
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
    found = FoundPlace.look_for(
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
    client_id: str = "",
    seen: str = "",
    now: datetime | None = None,
) -> Placement:
    """Move a piece within its load: to another layer, another place, turned, or onto another stand.

    Without a place it stays where it is, or is given a free place where it can't. A pinned one stays.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(placement.firing)
    if repeated_change(client_id, firing=firing, kind=LoadChange.Kind.MOVED):
        placement.refresh_from_db()
        return placement
    placement = held_place(placement, seen=seen)
    piece = hold_piece(placement.piece)
    layer = _layer_of(firing, layer or placement.layer)
    stand = placement.stand_mm if stand_mm is None else stand_mm
    stand = clean_whole(stand, label=say("height of the stand in mm"), least=0, most=_HIGHEST_STAND_MM)
    same_layer = layer.pk == placement.layer_id
    if x_mm is None and y_mm is None and same_layer and stand == placement.stand_mm:
        x_mm, y_mm = placement.x_mm, placement.y_mm

    prefetch_related_objects([piece], "clay", GLAZES)
    rules = rule_problems(
        load_facts(piece, facts_of(piece)), kind=FiringKind(firing.kind), cone=firing.cone, stand_mm=stand
    )
    size = size_going_in(piece, fired_before=piece.pk in fired_before([piece]))
    plan = plan_of(firing).without(piece.mark)
    found = FoundPlace.look_for(
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
    was = snapshot(firing)
    Placement.objects.filter(pk=placement.pk).update(
        layer=layer,
        x_mm=found.place.x_mm,
        y_mm=found.place.y_mm,
        turned=found.place.turned,
        stand_mm=stand,
        **_columns(size),
    )
    where = (
        ""
        if same_layer
        else say(" to {layer_name}", layer_name=midway(layer_name(layer.number, len(plan.layers))))
    )
    record_change(
        firing=firing,
        kind=LoadChange.Kind.MOVED,
        was=was,
        words=say("{mark} moved{where}", mark=piece.mark, where=where),
        by=by,
        now=now,
        client_id=client_id,
    )
    placement.refresh_from_db()
    return placement


@transaction.atomic
def take_out(
    *,
    placement: Placement,
    by: Person,
    client_id: str = "",
    seen: str = "",
    now: datetime | None = None,
) -> Placement:
    """Take a piece out of a load that is not lit yet. Out already counts as done; a pinned one stays."""
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(placement.firing)
    placement.refresh_from_db()
    done = repeated_change(client_id, firing=firing, kind=LoadChange.Kind.TAKEN_OUT)
    if done or placement.taken_out_at is not None:
        return placement
    held_place(placement, seen=seen)
    was = snapshot(firing)
    Placement.objects.filter(pk=placement.pk).update(taken_out_at=now, holds_piece=None)
    record_change(
        firing=firing,
        kind=LoadChange.Kind.TAKEN_OUT,
        was=was,
        words=say("{mark} taken out", mark=placement.piece.mark),
        by=by,
        now=now,
        client_id=client_id,
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
        refuse(
            "layer-gone",
            say("{name_of} has no such layer any more. Load the page again.", name_of=name_of(firing)),
        )
    return row


def held_place(placement: Placement, *, seen: str = "", pinned_too: bool = False) -> Placement:
    """The place as it is now. Refused when the piece has been taken out, stands elsewhere than the page
    showed it, or is pinned (unless ``pinned_too``)."""
    row = Placement.objects.select_related("piece", "layer").get(pk=placement.pk)
    mark = row.piece.mark
    if row.taken_out_at is not None:
        refuse("taken-out", say("{mark} has been taken out of this load.", mark=mark), about=mark)
    if seen and seen != place_seen(row):
        count = Layer.objects.filter(firing=row.firing_id).count()
        where = midway(layer_name(row.layer.number, count))
        refuse(
            "moved-meanwhile",
            say(
                "{mark} has been moved meanwhile and now stands on the {where}. Look where it is, "
                "then do this.",
                mark=mark,
                where=where,
            ),
            about=mark,
        )
    if row.pinned and not pinned_too:
        refuse("pinned", say("{mark} is pinned. Unpin it first.", mark=mark), about=mark)
    return row


def _in_load_words(piece: Piece, held: Placement, firing: Firing) -> str:
    if held.firing_id == firing.pk:
        return say(
            "{mark} stands on layer {number} of this load already. Move it there instead.",
            mark=piece.mark,
            number=held.layer.number,
        )
    return say(
        "{mark} stands in the load of {name_of}. Take it out of that load first, or leave it there.",
        mark=piece.mark,
        name_of=midway(name_of(held.firing)),
    )
