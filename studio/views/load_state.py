"""A planned load as the editor in the browser needs it: what its live reasons are reckoned from."""

from __future__ import annotations

from math import isinf
from typing import Any

from studio.domain.loading import Layer
from studio.domain.loading_room import prop_places
from studio.domain.packing import Outline, Rectangle
from studio.domain.say import midway, said_now
from studio.imaging.kilns_drawn import layer_unit
from studio.models import Placement
from studio.queries.loads import Plan, layer_name, place_seen
from studio.templatetags.studio_format import whose

from .load_drawn import drawn_chamber


def load_state(plan: Plan) -> dict[str, Any]:
    """Lengths in mm, heights from the kiln floor; layers by their number from the bottom."""
    load = plan.load
    chamber, clear = load.chamber, load.clearances
    state = {
        "firing": plan.firing.number,
        "unit": layer_unit(drawn_chamber(plan.firing.kiln)),
        "chamber": {**_outline(chamber.outline), "height": chamber.height_mm, "prop": chamber.prop_side_mm},
        "zones": [
            {
                "x": zone.x_mm,
                "y": zone.y_mm,
                "r": zone.radius_mm,
                "from": zone.from_mm,
                "to": None if isinf(zone.top_mm) else zone.top_mm,
            }
            for zone in chamber.kept_clear
        ],
        "clear": {"ware": clear.ware_mm, "wall": clear.wall_mm, "above": clear.above_mm, "lid": clear.lid_mm},
        "layers": [_layer(plan, layer) for layer in load.layers],
        "pieces": [_piece(plan, place) for place in plan.placements],
    }
    return said_now(state)


def _outline(outline: Outline) -> dict[str, Any]:
    if isinstance(outline, Rectangle):
        return {"round": False, "w": outline.width_mm, "d": outline.depth_mm}
    return {"round": True, "w": 2 * outline.reach_mm, "d": 2 * outline.reach_mm}


def _layer(plan: Plan, layer: Layer) -> dict[str, Any]:
    load = plan.load
    above = load.above(layer)
    base = load.base_mm(layer)
    props = {place for carried in above for place in prop_places(load.chamber, carried)}
    return {
        "number": layer.number,
        "name": layer_name(layer.number, len(load.layers)),
        "shelf": _outline(layer.shelf.outline),
        "base": base,
        "limit": base + layer.prop_mm if above else load.chamber.height_mm,
        "carries": bool(above),
        "props": sorted(props) if layer.props_mm and load.chamber.prop_side_mm > 0 else [],
    }


def _piece(plan: Plan, place: Placement) -> dict[str, Any]:
    item = plan.items[place.piece.mark]
    return {
        "code": place.piece.code,
        "mark": place.piece.mark,
        "name": f"{midway(place.piece.get_form_display())}, {whose(place.piece)}",
        "layer": place.layer.number,
        "x": place.x_mm,
        "y": place.y_mm,
        "turned": place.turned,
        "round": place.is_round,
        "w": place.width_mm + place.stand_mm,
        "d": place.depth_mm + place.stand_mm,
        "h": item.height_mm,
        "pinned": place.pinned,
        "seen": place_seen(place),
    }
