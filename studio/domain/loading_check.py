"""Proof that a load is legal, by arithmetic of its own: nothing here is shared with the planner.

Footprints are taken as a polygon (a point for round ware) grown by a radius, and distances are measured
corner to edge. ``problems`` names everything that is wrong; an empty list means the load may be built as it
is.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from .loading_check_distances import depth, edge_of, gap_between
from .loading_check_found import LoadProblem, Stood, in_mm, piece_problem
from .loading_check_layers import SLACK_MM, layer_problems, stock_problems
from .loading_check_stacks import same_stack, stack_problems
from .loading_shapes import Item, Layer, Load, Position
from .packing_shapes import Round
from .say import figure, say


def problems(*, load: Load, items: Iterable[Item]) -> list[LoadProblem]:
    """Everything that keeps this load from being legal; empty when nothing does.

    ``items`` are the pieces by key; the load's positions refer to them. Checked: layers, shelves and props in
    stock, props of one height and at most two stacked, chamber height, thermocouple, each piece on its shelf,
    clear of wall, props, neighbours and the shelf or lid above, one cone, bone dry, stacks allowed and sound.
    """
    by_key = {item.key: item for item in items}
    found = [*layer_problems(load), *stock_problems(load)]
    stood, wrong = _stand(load, by_key)
    found += wrong
    for piece in stood:
        found += _one(load, piece)
    found += _pairs(load, stood)
    found += stack_problems(load, stood, by_key)
    found += _firing(load, [piece.item for piece in stood])
    return found


def _stand(load: Load, items: Mapping[str, Item]) -> tuple[list[Stood], list[LoadProblem]]:
    stood: dict[str, Stood] = {}
    found = []
    waiting = list(load.positions)
    for key, count in Counter(p.key for p in waiting).items():
        if count > 1:
            found.append(
                LoadProblem(
                    "piece-twice",
                    say("Piece {key} stands in {count} places.", key=key, count=count),
                    about=key,
                    keys=(key,),
                )
            )
    while waiting:
        later = []
        for position in waiting:
            item, layer = items.get(position.key), load.layer(position.layer)
            if item is None:
                message = say("Piece {key} is not known here. Take it out of the load.", key=position.key)
                found.append(LoadProblem("piece-unknown", message, about=position.key, keys=(position.key,)))
            elif layer is None:
                found.append(
                    piece_problem(
                        "layer-unknown",
                        item,
                        say("stands on layer {layer}, which is not there.", layer=position.layer),
                    )
                )
            elif position.rests_on is not None and position.rests_on not in stood:
                later.append(position)
            else:
                stood[position.key] = _stood(load, item, position, layer, stood)
        if len(later) == len(waiting):
            for position in later:
                message = say(
                    "Piece {key} stands in or on {rests_on}, which is not in the load.",
                    key=position.key,
                    rests_on=position.rests_on,
                )
                found.append(
                    LoadProblem("rests-on-nothing", message, about=position.key, keys=(position.key,))
                )
            break
        waiting = later
    return list(stood.values()), found


def _stood(load: Load, item: Item, position: Position, layer: Layer, stood: Mapping[str, Stood]) -> Stood:
    low = load.base_mm(layer)
    if position.rests_on is not None:
        lower = stood[position.rests_on]
        low = lower.high_mm - (lower.item.hollow_depth_mm if position.how == "nested" else 0)
    x, y = position.place.x_mm + layer.x_mm, position.place.y_mm + layer.y_mm
    shape = item.footprint
    if isinstance(shape, Round):
        corners: tuple[tuple[float, float], ...] = ((x, y),)
        radius = shape.diameter_mm / 2
    else:
        w, d = shape.width_mm / 2, shape.depth_mm / 2
        if position.place.turned:
            w, d = d, w
        corners, radius = ((x - w, y - d), (x + w, y - d), (x + w, y + d), (x - w, y + d)), 0.0
    return Stood(item, position, layer, corners, radius, low, low + item.height_mm)


def _one(load: Load, piece: Stood) -> list[LoadProblem]:
    found, layer = [], piece.layer
    on_shelf = [(x - layer.x_mm, y - layer.y_mm) for x, y in piece.corners]
    if any(depth(layer.shelf.outline, x, y) < piece.radius - SLACK_MM for x, y in on_shelf):
        found.append(
            piece_problem(
                "off-shelf", piece.item, say("hangs over the edge of its shelf. Move it in."), layer
            )
        )
    wall = load.clearances.wall_mm
    room = min(depth(load.chamber.outline, x, y) for x, y in piece.corners) - piece.radius
    if room < wall - SLACK_MM:
        found.append(
            piece_problem(
                "wall",
                piece.item,
                say(
                    "is {in_mm} from the wall and needs {wall} mm. Move it in.",
                    in_mm=in_mm(room),
                    wall=figure(wall, "g"),
                ),
                layer,
            )
        )
    for zone in load.chamber.kept_clear:
        level = piece.low_mm < zone.top_mm and piece.high_mm > zone.from_mm
        if (
            level
            and gap_between(piece.corners, ((zone.x_mm, zone.y_mm),)) - piece.radius
            < zone.radius_mm - SLACK_MM
        ):
            message = say(
                "is nearer than {radius_mm} mm to the thermocouple. Move it away.",
                radius_mm=figure(zone.radius_mm, "g"),
            )
            found.append(piece_problem("thermocouple", piece.item, message, layer))
    above = load.above(layer)
    if above:
        limit, clearance, what = (
            load.base_mm(layer) + layer.prop_mm,
            load.clearances.above_mm,
            say("the shelf above"),
        )
    else:
        limit, clearance, what = load.chamber.height_mm, load.clearances.lid_mm, say("the lid")
    free = limit - piece.high_mm
    if free < clearance - SLACK_MM:
        advice = say("Use longer props or another layer.")
        short = say(
            "leaves {in_mm} under {what} and needs {clearance} mm. {advice}",
            in_mm=in_mm(free),
            what=what,
            clearance=figure(clearance, "g"),
            advice=advice,
        )
        found.append(piece_problem("too-tall", piece.item, short, layer))
    if layer.props_mm and load.chamber.prop_side_mm > 0:
        found += _beside_props(load, piece, above)
    return found


def _beside_props(load: Load, piece: Stood, above: Sequence[Layer]) -> list[LoadProblem]:
    for carried in above:
        for x, y in prop_middles(load, carried):
            gap = gap_between(piece.corners, ((x, y),)) - piece.radius - load.chamber.prop_side_mm / 2
            if gap < load.clearances.ware_mm - SLACK_MM:
                message = say("stands where a prop goes, or too near it. Move it away from the prop.")
                return [piece_problem("prop", piece.item, message, piece.layer)]
    return []


def prop_middles(load: Load, carried: Layer) -> list[tuple[float, float]]:
    """Middles of the three props under a shelf: from the middle of its box outward at 90, 210 and 330
    degrees, as far as the prop still stands wholly under the shelf."""
    corners, radius = edge_of(carried.shelf.outline)
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    inset, places = load.chamber.prop_side_mm / 2, []
    for degrees in (90, 210, 330):
        ux, uy = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        near, far = 0.0, 2 * (radius + max(math.hypot(a, b) for a, b in corners))
        while far - near > 1e-6:
            out = (near + far) / 2
            if depth(carried.shelf.outline, x + ux * out, y + uy * out) >= inset:
                near = out
            else:
                far = out
        places.append((x + ux * near + carried.x_mm, y + uy * near + carried.y_mm))
    return places


def _pairs(load: Load, stood: Sequence[Stood]) -> list[LoadProblem]:
    found, need = [], load.clearances.ware_mm
    for i, one in enumerate(stood):
        for other in stood[:i]:
            sides = {one.layer.side, other.layer.side}
            if one.layer.number != other.layer.number and sides != {"left", "right"}:
                continue
            if one.low_mm >= other.high_mm or other.low_mm >= one.high_mm:
                continue
            if same_stack(one, other, stood):
                continue
            gap = gap_between(one.corners, other.corners) - one.radius - other.radius
            if gap < need - SLACK_MM:
                a, b = sorted((one.item.key, other.item.key))
                if gap < -SLACK_MM:
                    message = say("Pieces {a} and {b} stand in the same place. Move one of them.", a=a, b=b)
                else:
                    message = say(
                        "Pieces {a} and {b} stand {in_mm} apart and need {need} mm. Move one of them.",
                        a=a,
                        b=b,
                        in_mm=in_mm(gap),
                        need=figure(need, "g"),
                    )
                found.append(LoadProblem("overlap", message, about=a, keys=(a, b), layer=one.layer.number))
    return found


def _firing(load: Load, items: Sequence[Item]) -> list[LoadProblem]:
    found = []
    cones = sorted({item.cone for item in items if item.cone})
    if len(cones) > 1:
        message = say(
            "The pieces want cones {cones}. Fire one cone, or decide which compromise.",
            cones=", ".join(cones),
        )
        keys = tuple(item.key for item in items if item.cone)
        found.append(LoadProblem("mixed-cones", message, overridable=True, keys=keys))
    for item in items:
        if not item.bone_dry:
            message = say("Piece {key} is not marked bone dry and may burst. Leave it to dry.", key=item.key)
            found.append(LoadProblem("damp", message, overridable=True, about=item.key, keys=(item.key,)))
    return found
