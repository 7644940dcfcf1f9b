"""Checks of shelves and props: where they lie, how high, and whether there are enough."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from .loading_check_distances import depth, edge_of
from .loading_check_found import LoadProblem
from .loading_shapes import PROPS_PER_SHELF, STACKED_PROPS, Layer, Load, Shelf
from .packing_shapes import HalfRound
from .say import figure, say

#: Below this a distance counts as kept: a thousandth of a millimetre.
SLACK_MM = 1e-3


def layer_problems(load: Load) -> list[LoadProblem]:
    found = []
    counts = Counter(layer.number for layer in load.layers)
    for number, count in counts.items():
        if count > 1:
            found.append(
                layer_problem(
                    "layer-twice",
                    number,
                    say(
                        "Layer {number} is there {count} times. Number each once.", number=number, count=count
                    ),
                )
            )
    for layer in load.layers:
        n, above = layer.number, load.above(layer)
        if layer.side == "whole" and any(o.side != "whole" and o.number < n for o in load.layers):
            found.append(
                layer_problem(
                    "whole-over-halves",
                    n,
                    say("Layer {n} is a whole shelf over half shelves. Put whole shelves lower.", n=n),
                )
            )
        if (layer.side == "whole") == layer.shelf.half:
            kind = say("a half shelf") if layer.shelf.half else say("a whole shelf")
            found.append(
                layer_problem(
                    "shelf-side",
                    n,
                    say("Layer {n} is marked {side} but uses {kind}.", n=n, side=layer.side, kind=kind),
                )
            )
        if above and not layer.props_mm:
            found.append(
                layer_problem(
                    "no-props", n, say("Layer {n} has a shelf above it and no props. Choose props.", n=n)
                )
            )
        if not above and layer.props_mm:
            found.append(
                layer_problem(
                    "props-idle", n, say("Layer {n} has props and no shelf above. Take them out.", n=n)
                )
            )
        if len(layer.props_mm) > STACKED_PROPS:
            found.append(
                layer_problem(
                    "props-stacked",
                    n,
                    say("Layer {n} stacks {count} props. Stack two at most.", n=n, count=len(layer.props_mm)),
                )
            )
        if load.base_mm(layer) > load.chamber.height_mm - load.clearances.lid_mm + SLACK_MM:
            found.append(
                layer_problem(
                    "too-high", n, say("The shelf of layer {n} is too near the lid. Use shorter props.", n=n)
                )
            )
        found += _shelf_in_chamber(load, layer)
    return found


def _shelf_in_chamber(load: Load, layer: Layer) -> list[LoadProblem]:
    corners, radius = edge_of(layer.shelf.outline)
    n, top = layer.number, load.base_mm(layer)
    moved = [(x + layer.x_mm, y + layer.y_mm) for x, y in corners]
    found = []
    if any(depth(load.chamber.outline, x, y) < radius - SLACK_MM for x, y in moved):
        found.append(
            layer_problem(
                "shelf-outside", n, say("The shelf of layer {n} does not fit into the chamber there.", n=n)
            )
        )
    for zone in load.chamber.kept_clear:
        level = top > zone.from_mm and top - layer.shelf.thickness_mm < zone.top_mm
        x, y = zone.x_mm - layer.x_mm, zone.y_mm - layer.y_mm
        if zone.to_mm is not None and level and depth(layer.shelf.outline, x, y) > -zone.radius_mm + SLACK_MM:
            message = say(
                "The shelf of layer {n} is too near the thermocouple. Change the props below it.", n=n
            )
            found.append(layer_problem("shelf-thermocouple", n, message))
    for other in load.layers:
        if {layer.side, other.side} == {"left", "right"} and layer.side == "left":
            low = max(top - layer.shelf.thickness_mm, load.base_mm(other) - other.shelf.thickness_mm)
            if low < min(top, load.base_mm(other)) and _shelves_cross(layer, other):
                message = say(
                    "The half shelves of layers {n} and {number} overlap. Move them apart.",
                    n=n,
                    number=other.number,
                )
                found.append(layer_problem("shelves-overlap", n, message))
    return found


def _shelves_cross(left: Layer, right: Layer) -> bool:
    """Half shelves may touch along the middle; each must keep to its own half."""
    left_corners, left_radius = edge_of(left.shelf.outline)
    right_corners, right_radius = edge_of(right.shelf.outline)
    left_most = max(x + left.x_mm + left_radius for x, _ in left_corners)
    right_most = min(x + right.x_mm - right_radius for x, _ in right_corners)
    return left_most > right_most + SLACK_MM


def stock_problems(load: Load) -> list[LoadProblem]:
    found = []
    props: Counter[float] = Counter()
    for layer in load.layers:
        for length in layer.props_mm:
            props[length] += PROPS_PER_SHELF * len(load.above(layer))
    for length, need in sorted(props.items()):
        have = load.stock.props.get(length, 0)
        if need > have:
            message = say(
                "The layers need {need} props of {length} mm and there are {have}. Choose other lengths.",
                need=need,
                length=figure(length, "g"),
                have=have,
            )
            found.append(LoadProblem("props-short", message))
    shelves = Counter(_either_way(layer.shelf) for layer in load.layers)
    for shelf, need in shelves.items():
        have = sum(count for other, count in load.stock.shelves.items() if _either_way(other) == shelf)
        if need > have:
            kind = say("half shelves") if shelf.half else say("kiln shelves")
            found.append(
                LoadProblem(
                    "shelves-short",
                    say(
                        "The layers need {need} {kind} of one kind and there are {have}.",
                        need=need,
                        kind=kind,
                        have=have,
                    ),
                )
            )
    return found


def _either_way(shelf: Shelf) -> Shelf:
    """Half a round shelf turned about lies on the other side: it is one and the same shelf."""
    if isinstance(shelf.outline, HalfRound):
        return replace(shelf, outline=replace(shelf.outline, side="left"))
    return shelf


def layer_problem(code: str, number: int, message: str) -> LoadProblem:
    return LoadProblem(code, message, layer=number)
