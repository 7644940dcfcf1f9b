"""Checks of bisque ware that stands in or on other ware."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence

from .loading_check_found import LoadProblem, Stood, pair_problem
from .loading_shapes import Item, Load
from .packing_shapes import Footprint, Round
from .say import say

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
                    "stacked-glaze", pair, say("are stacked in a glaze firing and would stick. Part them.")
                )
            )
        elif not load.may_stack:
            found.append(
                pair_problem(
                    "stacked",
                    pair,
                    say("are stacked; the tutor has not allowed that for this load."),
                    overridable=True,
                )
            )
        support = next(other for other in stood if other.item.key == lower.key)
        if _place(support) != _place(piece):
            found.append(
                pair_problem("stacked-apart", pair, say("are stacked and must have the same place."))
            )
        if position.how == "nested" and not _goes_inside(piece, support):
            found.append(
                pair_problem(
                    "nested-too-wide", pair, say("do not nest: the inner one is too wide. Part them.")
                )
            )
        if position.how == "boxed" and not _rims_meet(piece, support):
            found.append(
                pair_problem("boxed-rims", pair, say("cannot be boxed: their rims do not meet. Part them."))
            )
    for key, count in carried.items():
        if count > 1 and not _lidded(key, stood):
            found.append(
                LoadProblem(
                    "carries-two",
                    say("Piece {key} carries {count} pieces. Leave one.", key=key, count=count),
                    about=key,
                    keys=(key,),
                )
            )
    for key, count in sizes.items():
        if count > STACK_PIECES:
            message = say(
                "{count} pieces are stacked on {key}. Stack {stack_pieces} at most.",
                count=count,
                key=key,
                stack_pieces=STACK_PIECES,
            )
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


def _goes_inside(inner: Stood, outer: Stood) -> bool:
    """Whether a piece, turned as it is, has room within the hollow of another, turned as that is."""
    room = outer.item.hollow
    if room is None:
        return False
    width, depth = _across(inner.item.footprint, inner.position.place.turned)
    if isinstance(room, Round):
        round_ware = isinstance(inner.item.footprint, Round)
        return (width if round_ware else math.hypot(width, depth)) <= room.diameter_mm
    room_width, room_depth = _across(room, outer.position.place.turned)
    return width <= room_width and depth <= room_depth


def _across(outline: Footprint, turned: bool) -> tuple[float, float]:
    if isinstance(outline, Round):
        return outline.diameter_mm, outline.diameter_mm
    return (outline.depth_mm, outline.width_mm) if turned else (outline.width_mm, outline.depth_mm)


def _rims_meet(upper: Stood, lower: Stood) -> bool:
    if not (upper.item.rim_open and lower.item.rim_open):
        return False
    a, b = upper.item.footprint, lower.item.footprint
    if isinstance(a, Round) != isinstance(b, Round):
        return False
    rims = zip(_across(a, upper.position.place.turned), _across(b, lower.position.place.turned), strict=True)
    return all(abs(one - other) <= RIM_MM for one, other in rims)


def _place(piece: Stood) -> tuple[int, float, float]:
    return piece.position.layer, piece.position.place.x_mm, piece.position.place.y_mm


def foot(piece: Stood, stood: Sequence[Stood]) -> str:
    by_key = {other.item.key: other for other in stood}
    while piece.position.rests_on is not None:
        piece = by_key[piece.position.rests_on]
    return piece.item.key


def same_stack(one: Stood, other: Stood, stood: Sequence[Stood]) -> bool:
    if one.position.rests_on is None and other.position.rests_on is None:
        return False
    return foot(one, stood) == foot(other, stood)
