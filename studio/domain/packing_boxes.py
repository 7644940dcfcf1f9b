"""Rectangles on a rectangular shelf: rows upon rows from the front, with the lowest gap filled by what suits
it best.

The front of what stands so far is a skyline of level stretches. The lowest stretch takes the piece that suits
its width and the height of its neighbours best; where nothing fits it is raised to its lower neighbour.
Repeated with pieces' order blurred, mirrored and turned, as long as the budget lasts. (Best fit on a skyline:
E. Burke, G. Kendall and G. Whitwell, Operations Research 52, 2004; the idea, from memory.)
"""

from __future__ import annotations

import random
from collections.abc import Sequence

from .packing_budget import Budget

_Box = tuple[float, float, float, float]  # left, front, width, depth


def fill_boxes(
    *, width: float, depth: float, sizes: Sequence[tuple[float, float]], budget: Budget, chance: random.Random
) -> list[_Box | None]:
    """Boxes for rectangles (width, depth) on a shelf with its corner at 0, 0; None for one that found no
    room.

    Goes for the largest area. Pieces may be turned by a quarter: compare the box's width with the piece's.
    """
    n = len(sizes)
    best: list[_Box | None] = [None] * n
    best_area, everything = -1.0, sum(w * d for w, d in sizes)
    liking = [1.0] * n
    attempt = 0
    while True:
        on_its_side = attempt % 2 == 1
        across, along = (depth, width) if on_its_side else (width, depth)
        blur = 0.0 if attempt < 2 else chance.choice((0.1, 0.3, 0.6, 1.0))
        for i in range(n):
            liking[i] = 1 + blur * (chance.random() - 0.5)
        found = _skyline(across, along, sizes, liking, attempt % 4 < 2, chance if attempt > 3 else None)
        area = sum(box[2] * box[3] for box in found if box is not None)
        if area > best_area + 1e-9:
            best_area = area
            best = [b if b is None or not on_its_side else (b[1], b[0], b[3], b[2]) for b in found]
        attempt += 1
        if best_area >= everything - 1e-6 or not budget.spend(20 + n * n // 3):
            return best


def _skyline(
    across: float,
    along: float,
    sizes: Sequence[tuple[float, float]],
    liking: Sequence[float],
    wide_first: bool,
    chance: random.Random | None,
) -> list[_Box | None]:
    found: list[_Box | None] = [None] * len(sizes)
    left = list(range(len(sizes)))
    line = [(0.0, 0.0, across)]  # stretches: start, level, width
    while line and left:
        low = min(range(len(line)), key=lambda k: (line[k][1], line[k][0]))
        start, level, wide = line[low]
        before = line[low - 1][1] if low else along
        after = line[low + 1][1] if low + 1 < len(line) else along
        choice = _best_for(
            wide, along - level, before - level, after - level, sizes, liking, left, wide_first
        )
        if choice is None:
            if len(line) == 1:
                break
            _raise(line, low, before, after)
            continue
        i, w, d = choice
        left.remove(i)
        # Against the higher neighbour, or by chance against the other one.
        at_end = after > before
        if chance is not None and chance.random() < 0.1:
            at_end = not at_end
        at = start + wide - w if at_end else start
        found[i] = (at, level, w, d)
        _cover(line, low, at, w, level + d)
    return found


def _best_for(
    wide: float,
    deep: float,
    before: float,
    after: float,
    sizes: Sequence[tuple[float, float]],
    liking: Sequence[float],
    left: Sequence[int],
    wide_first: bool,
) -> tuple[int, float, float] | None:
    best, choice = -1.0, None
    wide += 1e-9
    deep += 1e-9
    for i in left:
        a, b = sizes[i]
        for w, d in ((a, b), (b, a)) if a != b else ((a, b),):
            if w <= wide and d <= deep:
                score = (w / wide if wide_first else w * d / (wide * deep)) * liking[i]
                if wide - w < 1e-6:
                    score += 0.5
                if abs(d - before) < 1e-6 or abs(d - after) < 1e-6:
                    score += 0.5
                if score > best:
                    best, choice = score, (i, w, d)
    return choice


def _raise(line: list[tuple[float, float, float]], low: int, before: float, after: float) -> None:
    start, _, wide = line[low]
    if low and (before <= after or low + 1 == len(line)):
        first, level, width = line[low - 1]
        line[low - 1 : low + 1] = [(first, level, width + wide)]
        low -= 1
    else:
        _, level, width = line[low + 1]
        line[low : low + 2] = [(start, level, wide + width)]
    _join(line, low)


def _cover(line: list[tuple[float, float, float]], low: int, at: float, w: float, level: float) -> None:
    start, old, wide = line[low]
    parts = []
    if at - start > 1e-9:
        parts.append((start, old, at - start))
    parts.append((at, level, w))
    rest = start + wide - at - w
    if rest > 1e-9:
        parts.append((at + w, old, rest))
    line[low : low + 1] = parts
    for k in (low + 1, low):
        _join(line, k)


def _join(line: list[tuple[float, float, float]], k: int) -> None:
    """Make stretches of one level that touch into one."""
    for j in (k + 1, k):
        if 0 < j < len(line) and abs(line[j][1] - line[j - 1][1]) < 1e-9:
            start, level, width = line[j - 1]
            line[j - 1 : j + 1] = [(start, level, width + line[j][2])]
