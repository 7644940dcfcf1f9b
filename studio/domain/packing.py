"""Where ware stands on one kiln shelf, seen from above.

The shapes, ``place`` for a whole shelf and ``spot`` for one more piece. Coordinates are millimetres from the
shelf's origin: its centre, and for half a round shelf the middle of its straight edge.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterable, Sequence

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
from .packing_spot import first_spot, spot
from .problems import DomainError

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
) -> list[Placed | None]:
    """Places for the footprints, in their order; None for one that found no room.

    Pieces stay ``gap_mm`` apart and ``edge_mm`` inside the edge of the shelf. The search goes for the largest
    area, stops as soon as everything stands, and otherwise gives the best it found within ``seconds``.
    """
    if seconds < 0:
        raise DomainError("The time to search must be 0 seconds or more.")
    kept_clear = list(kept_clear)
    until = time.monotonic() + seconds
    chance = random.Random(seed)  # noqa: S311 - a search, not a secret
    order = sorted(range(len(footprints)), key=lambda i: -footprints[i].area_mm2)
    best: list[Placed | None] = [None] * len(footprints)
    best_area = -1.0
    while True:
        board = Board(shelf, gap_mm=gap_mm, edge_mm=edge_mm, kept_clear=kept_clear)
        found: list[Placed | None] = [None] * len(footprints)
        for i in order:
            found[i] = first_spot(board, footprints[i])
            if found[i] is not None:
                board.add(footprints[i], found[i])
        area = sum(f.area_mm2 for f, p in zip(footprints, found, strict=True) if p is not None)
        if area > best_area:
            best, best_area = found, area
        if all(p is not None for p in best) or time.monotonic() >= until:
            return best
        order.sort(key=lambda i: -footprints[i].area_mm2 * chance.uniform(0.7, 1.3))
