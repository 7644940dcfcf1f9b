"""Which waiting pieces go into a kiln next, on which layer, and where.

``plan`` proposes a load, ``problems`` proves one legal, ``spot`` finds a place for one more piece by hand.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from .loading_check import LoadProblem, problems
from .loading_layers import Build, Furnisher
from .loading_plan import (
    LayerFill,
    LeftOut,
    Plan,
    Reasons,
    area_share,
    fills,
    fits_alone,
    value_bound,
    volume_share,
)
from .loading_room import edge_mm, kept_clear_on
from .loading_search import nest_the_rest, search_load
from .loading_shapes import (
    Chamber,
    Clearances,
    Item,
    KeptClear,
    Layer,
    Load,
    Position,
    Shelf,
    Stock,
)
from .loading_value import Weights
from .packing_budget import Budget
from .packing_shapes import Board, Placed
from .packing_spot import spot as _spot_on_shelf
from .problems import DomainError
from .say import say

__all__ = [
    "Chamber",
    "Clearances",
    "Item",
    "KeptClear",
    "Layer",
    "LayerFill",
    "LeftOut",
    "Load",
    "LoadProblem",
    "Plan",
    "Position",
    "Shelf",
    "Stock",
    "Weights",
    "edge_mm",
    "kept_clear_on",
    "plan",
    "problems",
    "spot",
]


def spot(*, load: Load, items: Mapping[str, Item], item: Item, layer: Layer) -> Placed | None:
    """A free legal place for one more piece on a layer of a load, or None; nothing else moves.

    ``items`` are the pieces of the load by key. A piece that is too tall for the layer has no place on it.
    """
    if item.height_mm > load.room_mm(layer):
        return None
    standing = [
        (items[p.key].footprint, p.place)
        for p in load.positions
        if p.layer == layer.number and p.rests_on is None
    ]
    return _spot_on_shelf(
        shelf=layer.shelf.outline,
        placed=standing,
        footprint=item.footprint,
        gap_mm=load.clearances.ware_mm,
        kept_clear=kept_clear_on(load, layer, height_mm=item.height_mm),
        edge_mm=edge_mm(load, layer),
    )


def plan(
    *,
    items: Iterable[Item],
    chamber: Chamber,
    stock: Stock,
    clearances: Clearances | None = None,
    bisque: bool = False,
    may_stack: bool = False,
    cone: str | None = None,
    compromise: Collection[str] = (),
    damp_allowed: bool = False,
    pinned: Sequence[Position] = (),
    layers: Sequence[Layer] = (),
    weights: Weights | None = None,
    seconds: float = 2,
    seed: int = 0,
    clock: Callable[[], float] | None = None,
) -> Plan:
    """A legal load of the greatest value found, with a reason for each piece left out.

    ``cone``: the cone to plan for; None takes the one whose pieces are worth most. Pieces that want another
    stay out, unless ``compromise`` names theirs. ``pinned`` pieces stay where they are; ``layers``, when
    given, are kept as they are, and pinned pieces need them. ``may_stack`` lets bisque ware be nested and
    boxed. Positions are in whole millimetres. ``seconds`` are counted in steps, so that the same seed gives
    the same load; with a ``clock`` (time.monotonic) the search also ends on time on a slow machine. Raises
    DomainError for pinned pieces that do not stand legally.
    """
    weights = weights or Weights()
    clearances = clearances or (Clearances.for_bisque() if bisque else Clearances())
    pieces = list(items)
    by_key = {item.key: item for item in pieces}
    if len(by_key) != len(pieces):
        raise DomainError(say("Each piece must come once."))
    bare = Load(chamber, tuple(layers), tuple(pinned), stock, clearances, bisque, may_stack)
    _sound_pins(bare, by_key)
    held = {position.key: by_key[position.key] for position in pinned}
    furnisher = Furnisher(chamber, stock, clearances)
    cone = _cone(pieces, held, weights) if cone is None else cone
    eligible, left_out = _gate(pieces, held, cone, compromise, damp_allowed)
    reasons, eligible, more = _possible(bare, furnisher, eligible)
    left_out += more
    budget, chance = Budget(seconds, clock), random.Random(seed)  # noqa: S311 - a search, not a secret
    load = search_load(bare, furnisher, eligible, held, weights, budget, chance)
    load = replace(load, positions=(*load.positions, *nest_the_rest(load, eligible, by_key, weights)))
    inside = {position.key for position in load.positions}
    left_out += [reasons.left_out(item, load, by_key) for item in eligible if item.key not in inside]
    order = {item.key: k for k, item in enumerate(pieces)}
    return Plan(
        load=load,
        cone=cone,
        left_out=tuple(sorted(left_out, key=lambda out: order[out.key])),
        value=sum(weights.of(by_key[key]) for key in sorted(inside)),
        value_bound=value_bound(
            items=[*eligible, *held.values()],
            furnisher=furnisher,
            weights=weights,
            stacked=bisque and may_stack,
            layers=layers,
        ),
        layers=fills(load, by_key),
        area_share=area_share(load, by_key),
        volume_share=volume_share(load, by_key),
    )


def _sound_pins(bare: Load, by_key: Mapping[str, Item]) -> None:
    if bare.positions and not bare.layers:
        raise DomainError(say("Pinned pieces need the layers they stand on."))
    wrong = [problem for problem in problems(load=bare, items=by_key.values()) if not problem.overridable]
    if wrong:
        raise DomainError(
            say("The load cannot be planned round what is fixed. {message}", message=wrong[0].message)
        )


def _cone(pieces: Sequence[Item], held: Mapping[str, Item], weights: Weights) -> str:
    """The cone of the pinned pieces, or the one whose pieces are worth most together."""
    worth: dict[str, float] = {}
    for item in [i for i in held.values() if i.cone] or pieces:
        if item.cone:
            worth[item.cone] = worth.get(item.cone, 0.0) + weights.of(item)
    return min(worth, key=lambda cone: (-worth[cone], cone), default="")


def _gate(
    pieces: Sequence[Item],
    held: Mapping[str, Item],
    cone: str,
    compromise: Collection[str],
    damp_allowed: bool,
) -> tuple[list[Item], list[LeftOut]]:
    eligible, left_out = [], []
    for item in pieces:
        if item.key in held:
            continue
        if item.cone and item.cone != cone and item.cone not in compromise:
            message = say(
                "{key} wants cone {cone} and this load is for cone {cone_2}.",
                key=item.key,
                cone=item.cone,
                cone_2=cone,
            )
            help_ = say(
                "A load for cone {cone}, or your decision to fire it at cone {cone_2}.",
                cone=item.cone,
                cone_2=cone,
            )
            left_out.append(LeftOut("other-cone", message, True, item.key, help_))
        elif not item.bone_dry and not damp_allowed:
            message = say("{key} is not marked bone dry and may burst.", key=item.key)
            left_out.append(LeftOut("damp", message, True, item.key, say("Let it dry and mark it bone dry.")))
        else:
            eligible.append(item)
    return eligible, left_out


def _possible(
    bare: Load, furnisher: Furnisher, eligible: Sequence[Item]
) -> tuple[Reasons, list[Item], list[LeftOut]]:
    """Sort out what cannot go into this kiln at all."""
    singles = [bare] if bare.layers else []
    if not singles:
        for shelf in dict.fromkeys(furnisher.whole_shelves):
            singles.append(replace(bare, layers=(Layer(1, shelf),)))
        if furnisher.has_halves:
            halves = furnisher.layers(Build((), (), ()))
            if halves:
                singles.append(replace(bare, layers=halves))
    rooms = [(load, layer) for load in singles for layer in load.layers]
    # With layers given, a piece too tall for them is told so as such, not as too tall for the kiln.
    tallest = max((load.room_mm(layer) for load, layer in rooms), default=0.0)
    if bare.layers:
        tallest = bare.chamber.height_mm - bare.clearances.lid_mm - bare.base_mm(bare.layers[0])
    reasons = Reasons(furnisher, tallest, singles[0] if singles else None)
    boards = []
    for load, layer in rooms:
        outline = layer.shelf.outline
        board = Board(outline, gap_mm=load.clearances.ware_mm, edge_mm=edge_mm(load, layer))
        always = [z for z in load.chamber.kept_clear if z.to_mm is None]
        bald = replace(load, chamber=replace(load.chamber, kept_clear=tuple(always), prop_side_mm=0))
        boards.append((board, kept_clear_on(bald, layer, height_mm=1)))
    possible, left_out, seen = [], [], {}
    for item in eligible:
        why = reasons.never(item)
        if why is None:
            if item.footprint not in seen:
                seen[item.footprint] = fits_alone(item, boards=boards)
            if not seen[item.footprint]:
                message = say(
                    "{key} is too wide for this kiln's shelves with the room kept round it.", key=item.key
                )
                why = LeftOut(
                    "too-wide", message, about=item.key, would_help=say("A larger kiln would help.")
                )
        if why is None:
            possible.append(item)
        else:
            left_out.append(why)
    return reasons, possible, left_out
