"""Where ware stands on one kiln shelf, seen from above.

The shapes, ``place`` for a whole shelf and ``spot`` for one more piece. Coordinates are millimetres from the
shelf's origin: its centre, and for half a round shelf the middle of its straight edge.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence

from .packing_boxes import fill_boxes
from .packing_budget import Budget
from .packing_search import search
from .packing_shapes import (
    Block,
    Board,
    Disc,
    Footprint,
    HalfRound,
    Outline,
    Placed,
    Polygon,
    Rectangle,
    Round,
)
from .packing_spot import spot

__all__ = [
    "Block",
    "Board",
    "Disc",
    "Footprint",
    "HalfRound",
    "Outline",
    "Placed",
    "Polygon",
    "Rectangle",
    "Round",
    "place",
    "spot",
]


def place(
    *,
    shelf: Outline,
    footprints: Sequence[Footprint],
    gap_mm: float,
    seconds: float,
    seed: int,
    kept_clear: Iterable[Disc] = (),
    edge_mm: float = 0.0,
    fixed: Iterable[tuple[Footprint, Placed]] = (),
    clock: Callable[[], float] | None = None,
) -> list[Placed | None]:
    """Places for the footprints, in their order; None for one that found no room.

    Pieces stay ``gap_mm`` apart, ``edge_mm`` inside the edge of the shelf, out of the ``kept_clear`` discs,
    and clear of the ``fixed`` ones that stand there already. The search goes for the largest area, stops as
    soon as everything stands, and otherwise gives the best it found within ``seconds``; the same seed gives
    the same.
    """
    budget = Budget(seconds, clock)
    board = Board(shelf, gap_mm=gap_mm, edge_mm=edge_mm, kept_clear=kept_clear, placed=fixed)
    chance = random.Random(seed)  # noqa: S311 - a search, not a secret
    if not footprints:
        return []
    flat = all(isinstance(f, Rectangle) for f in footprints) and not board.blocks and not board.kept_clear
    if flat and isinstance(shelf, Rectangle):
        return _boxes(board, shelf, edge_mm, footprints, budget, chance)
    return search(board, footprints, [f.area_mm2 for f in footprints], budget, chance)


def _boxes(
    board: Board,
    shelf: Rectangle,
    edge_mm: float,
    footprints: Sequence[Rectangle],
    budget: Budget,
    chance: random.Random,
) -> list[Placed | None]:
    """Rectangles on a rectangular shelf. Half the gap goes round each piece, and round the shelf."""
    gap = board.gap_mm
    width, depth = shelf.width_mm - 2 * edge_mm + gap, shelf.depth_mm - 2 * edge_mm + gap
    sizes = [(f.width_mm + gap, f.depth_mm + gap) for f in footprints]
    found: list[Placed | None] = []
    boxes = fill_boxes(width=width, depth=depth, sizes=sizes, budget=budget, chance=chance)
    for box, (across, _) in zip(boxes, sizes, strict=True):
        if box is None:
            found.append(None)
            continue
        left, front, wide, deep = box
        x, y = left + wide / 2 - width / 2, front + deep / 2 - depth / 2
        found.append(Placed(round(x, 7), round(y, 7), abs(wide - across) > 1e-9))
    return found
