"""Checks of bisque ware that stands in or on other ware."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence

from .loading_check_found import LoadProblem, Stood, pair_problem
from .loading_shapes import Item, Load
from .packing_shapes import Rectangle, Round

#: Rims that are boxed may differ by this much, and a stack holds this many pieces; common practice, no
#: source.
RIM_MM = 5
STACK_PIECES = 3


def stack_problems(load: Load, stood: Sequence[Stood], items: Mapping[str, Item]) -> list[LoadProblem]:
    found = []
    carried: Counter[str] = Counter()
    sizes: Counter[str] = Counter()
    for piece in stood:
        position = piece.position
        sizes[foot(piece, stood)] += 1
        if position.rests_on is None:
            continue
        lower = items[position.rests_on]
        carried[lower.key] += 1
        pair = (piece.item.key, lower.key)
        if not load.bisque:
            found.append(
                pair_problem(
                    "stacked-glaze", pair, "are stacked in a glaze firing and would stick. Part them."
                )
            )
        elif not load.may_stack:
            found.append(
                pair_problem(
                    "stacked",
                    pair,
                    "are stacked; the tutor has not allowed that for this load.",
                    overridable=True,
                )
            )
        support = next(other.position for other in stood if other.item.key == lower.key)
        if support.layer != position.layer or support.place != position.place:
            found.append(pair_problem("stacked-apart", pair, "are stacked and must have the same place."))
        if position.how == "nested" and not _goes_inside(piece.item, lower):
            found.append(
                pair_problem("nested-too-wide", pair, "do not nest: the inner one is too wide. Part them.")
            )
        if position.how == "boxed" and not _rims_meet(piece.item, lower):
            found.append(
                pair_problem("boxed-rims", pair, "cannot be boxed: their rims do not meet. Part them.")
            )
    for key, count in carried.items():
        if count > 1 and not _lidded(key, stood):
            found.append(
                LoadProblem(
                    "carries-two", f"Piece {key} carries {count} pieces. Leave one.", about=key, keys=(key,)
                )
            )
    for key, count in sizes.items():
        if count > STACK_PIECES:
            message = f"{count} pieces are stacked on {key}. Stack {STACK_PIECES} at most."
            found.append(LoadProblem("stack-high", message, about=key, keys=(key,)))
    return found


def _lidded(key: str, stood: Sequence[Stood]) -> bool:
    """One piece inside, no higher than the rim, and one upside down on the rim over it."""
    lower = next(piece for piece in stood if piece.item.key == key)
    on_it = [piece for piece in stood if piece.position.rests_on == key]
    inside = [piece for piece in stood if foot(piece, stood) == foot(lower, stood) and piece not in on_it]
    nested = [piece for piece in on_it if piece.position.how == "nested"]
    higher = [piece for piece in (*inside, *nested) if piece.high_mm > lower.high_mm + 1e-3]
    return len(on_it) == 2 and len(nested) == 1 and not higher


def _goes_inside(inner: Item, outer: Item) -> bool:
    room = outer.hollow
    if room is None:
        return False
    if isinstance(inner.footprint, Round):
        width = depth = inner.footprint.diameter_mm
        across = width
    else:
        width, depth = inner.footprint.width_mm, inner.footprint.depth_mm
        across = math.hypot(width, depth)
    if isinstance(room, Round):
        return across <= room.diameter_mm
    if isinstance(inner.footprint, Round):
        return width <= min(room.width_mm, room.depth_mm)
    # Nested pieces share one place and one turn is not recorded: take the way that fits.
    return (width <= room.width_mm and depth <= room.depth_mm) or (
        depth <= room.width_mm and width <= room.depth_mm
    )


def _rims_meet(upper: Item, lower: Item) -> bool:
    if not (upper.rim_open and lower.rim_open):
        return False
    a, b = upper.footprint, lower.footprint
    if isinstance(a, Round) and isinstance(b, Round):
        return abs(a.diameter_mm - b.diameter_mm) <= RIM_MM
    if isinstance(a, Rectangle) and isinstance(b, Rectangle):
        return abs(a.width_mm - b.width_mm) <= RIM_MM and abs(a.depth_mm - b.depth_mm) <= RIM_MM
    return False


def foot(piece: Stood, stood: Sequence[Stood]) -> str:
    by_key = {other.item.key: other for other in stood}
    while piece.position.rests_on is not None:
        piece = by_key[piece.position.rests_on]
    return piece.item.key


def same_stack(one: Stood, other: Stood, stood: Sequence[Stood]) -> bool:
    if one.position.rests_on is None and other.position.rests_on is None:
        return False
    return foot(one, stood) == foot(other, stood)
