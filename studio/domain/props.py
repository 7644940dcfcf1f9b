"""Which props make up the heights of a load's layers, out of the studio's stock.

Three props of one height stand on a layer; a height is one prop or two stacked (common practice).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from .loading_shapes import PROPS_PER_SHELF


def stacks_for(*, heights_mm: Sequence[int], stock: Mapping[int, int]) -> list[tuple[int, ...]] | None:
    """For each height the lengths to stack, longer first and single props before pairs; None if stock falls
    short.

    ``stock`` counts props by length in mm. A height of 0 takes none. Heights are tried in their order, and
    every way of making up one is tried before giving up, so None means that there is no way.
    """
    left = {length: count for length, count in stock.items() if count >= PROPS_PER_SHELF}
    found: list[tuple[int, ...]] = []

    def fill(place: int) -> bool:
        if place == len(heights_mm):
            return True
        for stack in ways(heights_mm[place], stock):
            if any(left.get(length, 0) < PROPS_PER_SHELF * stack.count(length) for length in set(stack)):
                continue
            for length in stack:
                left[length] -= PROPS_PER_SHELF
            found.append(stack)
            if fill(place + 1):
                return True
            found.pop()
            for length in stack:
                left[length] += PROPS_PER_SHELF
        return False

    return found if fill(0) else None


def ways(height_mm: int, stock: Mapping[int, int]) -> list[tuple[int, ...]]:
    """Every way to make up a height from lengths in stock, one prop before two; an empty stack for 0."""
    if height_mm == 0:
        return [()]
    single = [(height_mm,)] if height_mm in stock else []
    pairs = sorted(
        ((long, height_mm - long) for long in stock if height_mm - long in stock and 2 * long >= height_mm),
        reverse=True,
    )
    return single + pairs


def heights_possible(stock: Mapping[int, int]) -> list[int]:
    """Layer heights in mm that this stock can make for at least one layer, low to high."""
    enough = [length for length, count in stock.items() if count >= PROPS_PER_SHELF]
    doubled = {2 * length for length in enough if stock[length] >= 2 * PROPS_PER_SHELF}
    mixed = {a + b for a in enough for b in enough if a != b}
    return sorted({*enough, *doubled, *mixed})
