"""Which shelves and props make up a load: whole shelves from the bottom, then perhaps half shelves in two
stacks."""

from __future__ import annotations

import random
from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from .loading_shapes import PROPS_PER_SHELF, Chamber, Clearances, Layer, Load, Shelf, Stock
from .packing_shapes import HalfRound, Rectangle, Region
from .props import heights_possible, ways


@dataclass(frozen=True)
class Build:
    """Heights of props from the bottom. The last layer of a stack has none.

    Without halves there is one more whole layer than ``whole`` has heights. With halves every whole layer
    carries something, and left and right each have one more layer than heights.
    """

    whole: tuple[float, ...] = ()
    left: tuple[float, ...] | None = None
    right: tuple[float, ...] | None = None


class Furnisher:
    """Makes layers of a build out of shelves and props in stock, or says that it cannot be."""

    def __init__(self, chamber: Chamber, stock: Stock, clearances: Clearances) -> None:
        self.chamber, self.stock, self.clearances = chamber, stock, clearances
        wholes = [(s, n) for s, n in stock.shelves.items() if not s.half and n > 0]
        wholes.sort(key=lambda pair: (-pair[0].outline.area_mm2, pair[0].thickness_mm))
        self.whole_shelves = [shelf for shelf, count in wholes for _ in range(min(count, 40))]
        self.half_shelves = _half_shelves(stock)
        self.half_count = sum(count for shelf, count in stock.shelves.items() if shelf.half)
        self.heights = [h for h in heights_possible(stock.props) if h < chamber.height_mm]
        self.banded = any(zone.to_mm is not None for zone in chamber.kept_clear)
        self._made: dict[Build, tuple[Layer, ...] | None] = {}

    @property
    def most_layers(self) -> int:
        return len(self.whole_shelves)

    @property
    def has_halves(self) -> bool:
        return bool(self.half_shelves["left"] and self.half_shelves["right"])

    def useful_heights(self, needs_mm: Sequence[float]) -> list[float]:
        """For each height of ware the shortest props that leave it room; without repeats, low to high.

        And the next longer ones, for the shortest may be used up; where a thermocouple bars shelves from some
        heights, a few more.
        """
        found: set[float] = set()
        for need in needs_mm:
            first = bisect_left(self.heights, need + self.clearances.above_mm)
            found.update(self.heights[first : first + (5 if self.banded else 2)])
        return sorted(found)

    def layers(self, build: Build) -> tuple[Layer, ...] | None:
        """The layers of a build, or None when stock, chamber or thermocouple do not allow it."""
        if build not in self._made:
            self._made[build] = self._make(build)
        return self._made[build]

    def _make(self, build: Build) -> tuple[Layer, ...] | None:
        levels = [(h, "whole") for h in build.whole]
        if build.left is None or build.right is None:
            levels.append((0.0, "whole"))
        else:
            levels += [(h, "left") for h in (*build.left, 0.0)] + [(h, "right") for h in (*build.right, 0.0)]
        shelves = {
            "whole": list(self.whole_shelves),
            "left": list(self.half_shelves["left"]),
            "right": list(self.half_shelves["right"]),
        }
        needs = Counter(side for _, side in levels)
        if any(needs[side] > len(shelves[side]) for side in needs):
            return None
        if needs["left"] + needs["right"] > self.half_count:
            return None
        stacks = self._stacks(build, levels)
        if stacks is None:
            return None
        layers = []
        for number, ((_, side), stack) in enumerate(zip(levels, stacks, strict=True), start=1):
            shelf, x = shelves[side].pop(0), 0.0
            if side != "whole" and isinstance(shelf.outline, Rectangle):
                x = shelf.outline.width_mm / 2 * (-1 if side == "left" else 1)
            layers.append(Layer(number, shelf, stack, side, x))
        made = tuple(layers)
        return made if self._stands(made) else None

    def _stacks(self, build: Build, levels: Sequence[tuple[float, str]]) -> list[tuple[float, ...]] | None:
        """Props for each level: three under each shelf above, six where two halves lie above."""
        twice = len(build.whole) - 1 if build.left is not None else -1
        left = dict(self.stock.props)
        found: list[tuple[float, ...]] = []

        def choose(place: int) -> bool:
            if place == len(levels):
                return True
            each = PROPS_PER_SHELF * (2 if place == twice else 1)
            for stack in ways(levels[place][0], self.stock.props):
                if any(left[length] < each * stack.count(length) for length in set(stack)):
                    continue
                for length in stack:
                    left[length] -= each
                found.append(stack)
                if choose(place + 1):
                    return True
                found.pop()
                for length in stack:
                    left[length] += each
            return False

        return found if choose(0) else None

    def _stands(self, layers: tuple[Layer, ...]) -> bool:
        load = Load(self.chamber, layers, (), self.stock, self.clearances)
        for layer in layers:
            if load.room_mm(layer) <= 0:
                return False
            top = load.base_mm(layer)
            region = None
            for zone in self.chamber.kept_clear:
                if zone.to_mm is None or top <= zone.from_mm or top - layer.shelf.thickness_mm >= zone.to_mm:
                    continue
                region = region or Region(layer.shelf.outline)
                room = region.room_mm(zone.x_mm - layer.x_mm, zone.y_mm - layer.y_mm, 0, 0, True)
                if room > -zone.radius_mm:
                    return False
        return True


def _half_shelves(stock: Stock) -> dict[str, list[Shelf]]:
    """Half shelves by the side they can lie on. A half round shelf can lie on either."""
    found: dict[str, list[Shelf]] = {"left": [], "right": []}
    for shelf, count in stock.shelves.items():
        if not shelf.half or count <= 0:
            continue
        for side in ("left", "right"):
            outline = shelf.outline
            if isinstance(outline, HalfRound):
                found[side] += [Shelf(replace(outline, side=side), shelf.thickness_mm, True)] * count
            elif isinstance(outline, Rectangle):
                found[side] += [shelf] * count
            else:
                first, _, last, _ = Region(outline).box
                if (side == "left" and last <= 1e-6) or (side == "right" and first >= -1e-6):
                    found[side] += [shelf] * count
    return found


def build_of(layers: Sequence[Layer]) -> Build:
    """The build that these layers make."""
    heights = {
        side: tuple(o.prop_mm for o in layers if o.side == side) for side in ("whole", "left", "right")
    }
    if not heights["left"]:
        return Build(heights["whole"][:-1])
    return Build(heights["whole"], heights["left"][:-1], heights["right"][:-1])


def change(build: Build, heights: Sequence[float], furnisher: Furnisher, chance: random.Random) -> Build:
    """A build a little different from the given one."""
    if furnisher.has_halves and chance.random() < 0.15:
        if build.left is None:
            return Build(build.whole[:-1], (), tuple(build.whole[-1:]))
        return Build(tuple(sorted((*build.whole, *build.right))))
    parts = {"whole": build.whole}
    if build.left is not None and build.right is not None:
        parts |= {"left": build.left, "right": build.right}
    name = chance.choice(sorted(parts))
    part = list(parts[name])
    move = chance.random()
    if (move < 0.3 or not part) and heights:
        part.append(chance.choice(heights))
    elif move < 0.5 and part:
        part.pop(chance.randrange(len(part)))
    elif part and heights:
        k = chance.randrange(len(part))
        near = min(range(len(heights)), key=lambda i: abs(heights[i] - part[k]))
        step = chance.choice((-2, -1, 1, 2))
        part[k] = heights[min(max(near + step, 0), len(heights) - 1)]
    parts[name] = tuple(sorted(part))
    return Build(parts["whole"], parts.get("left"), parts.get("right"))
