"""What a layer of a load leaves to ware: spots kept clear, where its props stand, how far to stay from the
edge."""

from __future__ import annotations

import math

from .loading_shapes import Chamber, Layer, Load
from .packing_shapes import Disc, Outline, Polygon, Rectangle, Region, Round


def kept_clear_on(load: Load, layer: Layer, *, height_mm: float) -> list[Disc]:
    """Spots of a layer's shelf where a piece of this height may not stand, in the shelf's own coordinates.

    The thermocouple's space where the piece would reach into its heights, and the layer's props with the gap
    between pieces. For ``packing.spot(kept_clear=...)``.
    """
    base = load.base_mm(layer)
    discs = [
        Disc(zone.x_mm - layer.x_mm, zone.y_mm - layer.y_mm, zone.radius_mm)
        for zone in load.chamber.kept_clear
        if base < zone.top_mm and base + height_mm > zone.from_mm
    ]
    if layer.props_mm and load.chamber.prop_side_mm > 0:
        radius = load.chamber.prop_side_mm / 2
        places = {place for above in load.above(layer) for place in prop_places(load.chamber, above)}
        for x, y in sorted(places):
            discs.append(Disc(x - layer.x_mm, y - layer.y_mm, radius + load.clearances.ware_mm))
    return discs


def prop_places(chamber: Chamber, carried: Layer) -> list[tuple[float, float]]:
    """Where the middles of the three props under a carried shelf stand, in the chamber: at its edge, well
    apart."""
    inset = chamber.prop_side_mm / 2
    region = Region(carried.shelf.outline)
    left, front, right, back = region.box
    middle_x, middle_y = (left + right) / 2, (front + back) / 2
    places = []
    for degrees in (90, 210, 330):
        ux, uy = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        out = _outward(region, middle_x, middle_y, ux, uy, inset)
        places.append(
            (round(carried.x_mm + middle_x + ux * out, 3), round(carried.y_mm + middle_y + uy * out, 3))
        )
    return places


def _outward(region: Region, x: float, y: float, ux: float, uy: float, radius: float) -> float:
    """How far from a point inside a shelf a disc can move before it would hang over the edge."""
    low, high = 0.0, 2 * region.outline.reach_mm
    for _ in range(50):
        mid = (low + high) / 2
        if region.room_mm(x + ux * mid, y + uy * mid, radius, radius, True) >= 0:
            low = mid
        else:
            high = mid
    return low


def edge_mm(load: Load, layer: Layer) -> float:
    """How far inside the shelf's edge ware must stay so that it is clear of the kiln wall; never less than 0.

    Holds for a shelf of the chamber's own shape lying in its middle; else the wall clearance is taken in
    full.
    """
    wall, shelf = load.chamber.outline, layer.shelf.outline
    clearance = load.clearances.wall_mm
    room: float = 0.0
    if isinstance(wall, Round) and layer.x_mm == layer.y_mm == 0:
        room = (wall.diameter_mm - 2 * shelf.reach_mm) / 2
    elif isinstance(wall, Rectangle) and isinstance(shelf, Rectangle):
        room = min(
            wall.width_mm / 2 - abs(layer.x_mm) - shelf.width_mm / 2,
            wall.depth_mm / 2 - abs(layer.y_mm) - shelf.depth_mm / 2,
        )
    else:
        room = max(0.0, _inside(wall, shelf, layer))
    return max(0.0, clearance - max(0.0, room))


def _inside(wall: Outline, shelf: Outline, layer: Layer) -> float:
    region = Region(wall)
    if isinstance(shelf, Polygon):
        points = [(x + layer.x_mm, y + layer.y_mm) for x, y in shelf.corners_mm]
        return min(region.room_mm(x, y, 0, 0, True) for x, y in points)
    if isinstance(shelf, Rectangle):
        return region.room_mm(layer.x_mm, layer.y_mm, shelf.width_mm / 2, shelf.depth_mm / 2, False)
    return region.room_mm(layer.x_mm, layer.y_mm, shelf.reach_mm, shelf.reach_mm, True)
