"""The search for places on one shelf: many quick fillings of a grid, then pushing to squeeze in what is left
over."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

from .packing_budget import Budget
from .packing_grid import Filling, Grid, pick, place_at, shuffled, sizes_of
from .packing_relax import relax
from .packing_shapes import Board, Footprint, Placed, Rectangle, Round

Places = list[Placed | None]
#: A shelf is this many grid points across: about 3 mm for a large shelf.
POINTS_ACROSS = 150


def search(
    board: Board,
    footprints: Sequence[Footprint],
    values: Sequence[float],
    budget: Budget,
    chance: random.Random,
) -> Places:
    """Places for the footprints beside the board's blocks, of the largest total value found within the
    budget."""
    everything = list(range(len(footprints)))
    equal = len(set(footprints)) == 1 and isinstance(footprints[0], Round)
    if equal:
        found = _equal_rounds(board, footprints, budget.share(0.5), budget, chance)
        if found is not None:
            return found
    part = budget.share(0.5)
    places = _fill(board, footprints, values, part, chance)
    budget.settle(part)
    while equal and budget.left > 0:
        # One more than so far, from a fresh start: equal rounds stand best in patterns of their own.
        more = [footprints[0]] * (1 + sum(place is not None for place in places))
        found = (
            _equal_rounds(board, more, budget.share(0.7), budget, chance)
            if len(more) <= len(places)
            else None
        )
        if found is None:
            break
        places = [*found, *[None] * (len(places) - len(found))]
    while budget.left > 0 and any(place is None for place in places):
        density = [values[i] / footprints[i].area_mm2 for i in everything]
        if not squeeze(board, footprints, places, shuffled(chance, everything, density, 0.5), budget, chance):
            _swap(board, footprints, values, places, budget, chance)
    return places


def _equal_rounds(
    board: Board, footprints: Sequence[Footprint], part: Budget, budget: Budget, chance: random.Random
) -> Places | None:
    """All of a number of equal rounds pushed free from random starts, or None when that does not come off."""
    places = None
    area = sum(f.area_mm2 for f in footprints)
    if area <= board.region.outline.area_mm2:
        while places is None and part.left > 0:
            starts = [_anywhere(board, f, chance) for f in footprints]
            places = relax(board, footprints, starts, part)
        budget.settle(part)
    return None if places is None else list(places)


def _anywhere(board: Board, footprint: Footprint, chance: random.Random) -> Placed:
    left, front, right, back = board.region.box
    for _ in range(20):
        x, y = chance.uniform(left, right), chance.uniform(front, back)
        if board.region.room_mm(x, y, 0, 0, True) >= 0:
            break
    turned = isinstance(footprint, Rectangle) and chance.random() < 0.5
    return Placed(x, y, turned)


def _fill(
    board: Board,
    footprints: Sequence[Footprint],
    values: Sequence[float],
    budget: Budget,
    chance: random.Random,
) -> Places:
    left, front, right, back = board.region.box
    widest = max([2 * f.reach_mm for f in footprints], default=1.0)
    pitch = max(right - left, back - front) / POINTS_ACROSS
    grid = Grid(board.region, gap_mm=board.gap_mm, pitch_mm=pitch, widest_mm=widest)
    start = {}
    for size in {size for f in footprints for size in sizes_of(f)}:
        bits = grid.without(grid.inside(size), board.kept_clear, size)
        start[size] = grid.beside(bits, board.blocks, size)
        budget.spend(2 * grid.rows * (1 + len(board.blocks)))
    ways = [sizes_of(f) for f in footprints]
    everything = list(range(len(footprints)))
    total = sum(values)
    best: Filling | None = None
    best_value, current, current_value = -1.0, Filling(grid), 0.0
    attempt = 0
    while True:
        filling = Filling(grid)
        if attempt % 8 and current.standing:
            keep = _around(current, chance)
            filling.standing = keep
        zones, last = grid.zones(chance.choice((0, 0, 1, 2)) if attempt else 0), chance.random() < 0.5
        there = {key for key, _, _ in filling.standing}
        order = shuffled(chance, everything, _weights(values, footprints, chance), 0.4 if attempt else 0.0)
        work = 0
        for key in order:
            if key in there:
                continue
            work += 4 + len(filling.standing)
            for size in ways[key] if chance.random() < 0.5 else ways[key][::-1]:
                bits = filling.free(size, start[size])
                if bits:
                    filling.standing.append((key, size, pick(bits, zones, last)))
                    break
        value = sum(values[key] for key, _, _ in filling.standing)
        if value >= current_value or attempt % 8 == 0:
            current, current_value = filling, value
        if value > best_value:
            best, best_value = filling, value
        attempt += 1
        if best_value >= total - 1e-9 or not budget.spend(50 + 2 * work):
            break
        if attempt % 40 == 0:
            current, current_value = best, best_value
    places: Places = [None] * len(footprints)
    for key, size, bit in best.standing:
        places[key] = place_at(grid, size, bit, footprints[key])
    return places


def _weights(values: Sequence[float], footprints: Sequence[Footprint], chance: random.Random) -> list[float]:
    """Large first, or valuable for its size first, or in between."""
    power = chance.choice((1.0, 1.0, 0.5, 0.0))
    return [v / f.area_mm2 * f.area_mm2**power for v, f in zip(values, footprints, strict=True)]


def _around(filling: Filling, chance: random.Random) -> list:
    """What stays when the pieces near a random one are taken off."""
    _, _, bit = chance.choice(filling.standing)
    x, y = filling.grid.point(bit)
    left, front, right, back = filling.grid.region.box
    reach = chance.uniform(0.15, 0.6) * max(right - left, back - front)
    kept = []
    for piece in filling.standing:
        px, py = filling.grid.point(piece[2])
        if math.hypot(px - x, py - y) > reach:
            kept.append(piece)
    return kept


def squeeze(
    board: Board,
    footprints: Sequence[Footprint],
    places: Places,
    order: Sequence[int],
    budget: Budget,
    chance: random.Random,
    tries: int = 6,
    whole_mm: bool = False,
) -> bool:
    """Try to push one more piece in among those placed; changes ``places`` and gives True when it comes
    off."""
    standing = [i for i, place in enumerate(places) if place is not None]
    free = board.region.outline.area_mm2 - sum(footprints[i].area_mm2 for i in standing)
    for key in order:
        if places[key] is not None or footprints[key].area_mm2 > free:
            continue
        for _ in range(tries):
            if budget.left <= 0:
                return False
            together = [*standing, key]
            starts = [*(places[i] for i in standing), _roomiest(board, footprints, places, key, chance)]
            found = relax(board, [footprints[i] for i in together], starts, budget, 150, whole_mm)
            if found is not None:
                for i, place in zip(together, found, strict=True):
                    places[i] = place
                return True
    return False


def _roomiest(
    board: Board, footprints: Sequence[Footprint], places: Places, key: int, chance: random.Random
) -> Placed:
    """Of a few random points the one farthest from what stands around."""
    best, best_room = None, -math.inf
    for _ in range(8):
        place = _anywhere(board, footprints[key], chance)
        room = min(
            (
                math.hypot(place.x_mm - p.x_mm, place.y_mm - p.y_mm) - f.reach_mm
                for f, p in zip(footprints, places, strict=True)
                if p is not None
            ),
            default=0.0,
        )
        if room > best_room:
            best, best_room = place, room
    return best


def _swap(
    board: Board,
    footprints: Sequence[Footprint],
    values: Sequence[float],
    places: Places,
    budget: Budget,
    chance: random.Random,
) -> None:
    """Take one piece off for one that is worth more, where pushing makes room for it."""
    outside = [i for i, place in enumerate(places) if place is None]
    coming = chance.choice(outside)
    lesser = [i for i, place in enumerate(places) if place is not None and values[i] < values[coming]]
    if not lesser:
        budget.spend(20)
        return
    going = chance.choice(lesser)
    trial = list(places)
    trial[going] = None
    if squeeze(board, footprints, trial, [coming], budget, chance, tries=2):
        places[:] = trial
