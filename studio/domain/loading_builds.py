"""Which builds of shelves and props are worth filling: judged by heights and areas alone, before anything is
placed."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from .loading_layers import Build, Furnisher, change
from .loading_shapes import Layer, Load
from .loading_units import Unit
from .packing_budget import Budget
from .packing_shapes import Footprint, Outline, Rectangle, Round

#: Of a shelf's area, grown by half the gap like the footprints, mixed ware covers about this much. Measured
#: here.
USUAL_FILL = 0.78


class Estimator:
    """How much value a set of layers would take, if each could be covered to the usual share of its area."""

    def __init__(self, furnisher: Furnisher, units: Sequence[Unit]) -> None:
        self.furnisher, self.units = furnisher, units
        gap = furnisher.clearances.ware_mm
        self.pieces = [(u.height_mm, grown_area(u.footprint, gap), u.value) for u in units]
        self.orders = [
            sorted(self.pieces, key=lambda p: (-p[2] / p[1], p)),
            sorted(self.pieces, key=lambda p: (-p[2] / (p[1] * p[0]), p)),
            sorted(self.pieces, key=lambda p: (-p[0], p)),
        ]
        self._known: dict[Build, float] = {}

    def of(self, build: Build) -> float:
        """Value; -1 for a build that cannot be."""
        if build not in self._known:
            layers = self.furnisher.layers(build)
            self._known[build] = -1.0 if layers is None else self._estimate(layers)
        return self._known[build]

    def _estimate(self, layers: tuple[Layer, ...]) -> float:
        furnisher = self.furnisher
        load = Load(furnisher.chamber, layers, (), furnisher.stock, furnisher.clearances)
        gap = furnisher.clearances.ware_mm
        bins = sorted(
            (load.room_mm(layer), USUAL_FILL * grown_shelf_area(layer.shelf.outline, gap)) for layer in layers
        )
        best = 0.0
        for order in self.orders:
            left = [area for _, area in bins]
            value = 0.0
            for height, area, worth in order:
                for k, (room, _) in enumerate(bins):
                    if height <= room and area <= left[k]:
                        left[k] -= area
                        value += worth
                        break
            best = max(best, value)
        # Of builds that take the same: fewer shelves to lift, then low layers below high ones.
        rooms = [load.room_mm(layer) for layer in layers]
        upside_down = sum(a > b for a, b in pairwise(rooms))
        return best - 1e-5 * len(layers) - 1e-6 * upside_down


def grown_area(footprint: Footprint, gap_mm: float) -> float:
    """Area of a footprint with half the gap all round it."""
    if isinstance(footprint, Round):
        return Round(footprint.diameter_mm + gap_mm).area_mm2
    around = gap_mm * (footprint.width_mm + footprint.depth_mm) + Round(gap_mm).area_mm2 if gap_mm else 0.0
    return footprint.area_mm2 + around


def grown_shelf_area(outline: Outline, gap_mm: float) -> float:
    """Area of a shelf with half the gap all round it: no less than what grown footprints can cover."""
    if not gap_mm:
        return outline.area_mm2
    if isinstance(outline, Round):
        return Round(outline.diameter_mm + gap_mm).area_mm2
    if isinstance(outline, Rectangle):
        return (outline.width_mm + gap_mm) * (outline.depth_mm + gap_mm)
    # Steiner's formula for a convex outline; its edge is no longer than that of the circle round it.
    return outline.area_mm2 + gap_mm / 2 * 6.2832 * outline.reach_mm + Round(gap_mm).area_mm2


def good_builds(
    *, furnisher: Furnisher, units: Sequence[Unit], budget: Budget, chance: random.Random, count: int
) -> list[tuple[float, Build]]:
    """The builds that promise most, best first, each with its estimate; none when nothing can be built."""
    estimator = Estimator(furnisher, units)
    heights = furnisher.useful_heights([u.height_mm for u in units])
    scored: dict[Build, float] = {}

    def look(build: Build) -> float:
        score = estimator.of(build)
        # Low layers lie low, unless a shelf would then be level with the thermocouple.
        for _ in range(6 if score < 0 and furnisher.banded and len(build.whole) > 1 else 0):
            build = replace(build, whole=tuple(chance.sample(build.whole, len(build.whole))))
            score = estimator.of(build)
            if score >= 0:
                break
        if score >= 0:
            scored[build] = score
        budget.spend(20 + len(units))
        return score

    look(Build())
    for fill in (0.55, 0.65, 0.75, 0.85):
        look(_falling(furnisher, units, fill))
    for levels in range(1, furnisher.most_layers):
        for part in (0.2, 0.35, 0.5, 0.65, 0.8, 0.95):
            if heights:
                look(Build((heights[int(part * len(heights))],) * levels))
        for _ in range(6):
            if heights:
                look(Build(tuple(sorted(chance.choice(heights) for _ in range(levels)))))
    if furnisher.has_halves:
        look(Build((), (), ()))
    for _ in range(40):
        if budget.left <= 0:
            break
        # Each number of layers has its own leaders, so that many low layers and few high ones are both tried.
        for _, build in _leaders(scored, 3):
            look(change(build, heights, furnisher, chance))
            look(change(change(build, heights, furnisher, chance), heights, furnisher, chance))
    return _unlike(scored, count)


def _ranked(scored: dict[Build, float]) -> list[tuple[float, Build]]:
    ranked = sorted(scored.items(), key=lambda pair: (-pair[1], repr(pair[0])))
    return [(score, build) for build, score in ranked]


def _leaders(scored: dict[Build, float], count: int) -> list[tuple[float, Build]]:
    """The best few of each number of layers."""
    found: list[tuple[float, Build]] = []
    seen: Counter[tuple[int, int, int]] = Counter()
    for score, build in _ranked(scored):
        kind = _kind(build)
        seen[kind] += 1
        if seen[kind] <= count:
            found.append((score, build))
    return found


def _unlike(scored: dict[Build, float], count: int) -> list[tuple[float, Build]]:
    """The best, leaving out those that differ from a better one by less than a finger's width."""
    found: list[tuple[float, Build]] = []
    for score, build in _ranked(scored):
        if len(found) < count and not any(_alike(build, other) for _, other in found):
            found.append((score, build))
    return found


def _kind(build: Build) -> tuple[int, int, int]:
    return len(build.whole), -1 if build.left is None else len(build.left), len(build.right or ())


def _alike(one: Build, other: Build) -> bool:
    if _kind(one) != _kind(other):
        return False
    mine = (*sorted(one.whole), *(one.left or ()), *(one.right or ()))
    theirs = (*sorted(other.whole), *(other.left or ()), *(other.right or ()))
    return all(abs(a - b) < 10 for a, b in zip(mine, theirs, strict=True))


def _falling(furnisher: Furnisher, units: Sequence[Unit], fill: float) -> Build:
    """First fit by falling height: a new layer whenever the ware so far covers the share of the shelf."""
    if not furnisher.whole_shelves:
        return Build()
    limit = fill * furnisher.whole_shelves[0].outline.area_mm2
    groups: list[list[float]] = []  # tallest, area left
    for unit in sorted(units, key=lambda u: -u.height_mm):
        area = unit.footprint.area_mm2
        for group in groups:
            if group[1] >= area:
                group[1] -= area
                break
        else:
            groups.append([unit.height_mm, limit - area])
    free = furnisher.chamber.height_mm - furnisher.chamber.floor_mm - furnisher.clearances.lid_mm
    free -= furnisher.whole_shelves[0].thickness_mm
    levels: list[float] = []
    for tallest, _ in groups[:1]:
        free -= tallest
    for tallest, _ in groups[1:]:
        found = furnisher.useful_heights([tallest])
        need = (found[0] if found else tallest) + furnisher.whole_shelves[0].thickness_mm
        if found and need <= free:
            free -= need
            levels.append(found[0])
    return Build(tuple(sorted(levels)))
