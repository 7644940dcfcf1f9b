"""Which waiting pieces go into a kiln next, on which layer, and where.

The shapes of a load are re-exported from here; :mod:`loading_check` proves a load legal.
"""

from __future__ import annotations

from .loading_check import LoadProblem, problems
from .loading_room import edge_mm, kept_clear_on
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
from .packing_shapes import Placed
from .packing_spot import spot as _spot_on_shelf

__all__ = [
    "Chamber",
    "Clearances",
    "Item",
    "KeptClear",
    "Layer",
    "Load",
    "LoadProblem",
    "Position",
    "Shelf",
    "Stock",
    "edge_mm",
    "kept_clear_on",
    "problems",
    "spot",
]


def spot(*, load: Load, items: dict[str, Item], item: Item, layer: Layer) -> Placed | None:
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
