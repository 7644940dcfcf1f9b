"""Putting units on the layers of a load: a filling of all layers, taken apart and put together again,
better."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from .loading_room import edge_mm, kept_clear_on
from .loading_shapes import Item, Layer, Load, Position
from .loading_units import Unit, place_on
from .packing_budget import Budget
from .packing_grid import Filling, Grid, Size, pick, place_at, shuffled, sizes_of
from .packing_search import POINTS_ACROSS, Places, squeeze
from .packing_shapes import Block, Board, Outline, Placed, Region


class Ground:
    """Grids of the shelves, and which points of them are free of props and thermocouple: kept for all
    fillings."""

    def __init__(self, widest_mm: float) -> None:
        self.widest_mm = widest_mm
        self._grids: dict[tuple[Outline, float, float], Grid] = {}
        self._free: dict[tuple, int] = {}

    def grid(self, outline: Outline, edge: float, gap: float) -> Grid:
        key = (outline, edge, gap)
        if key not in self._grids:
            region = Region(outline, edge)
            left, front, right, back = region.box
            pitch = max(right - left, back - front) / POINTS_ACROSS
            self._grids[key] = Grid(
                region, gap_mm=gap, pitch_mm=pitch, widest_mm=self.widest_mm, whole_mm=True
            )
        return self._grids[key]

    def free(self, grid: Grid, size: Size, discs: tuple, blocks: tuple[Block, ...]) -> int:
        around = tuple((b.x, b.y, b.half_width, b.half_depth, b.round) for b in blocks)
        key = (id(grid), size, discs, around)
        bits = self._free.get(key)
        if bits is None:
            bits = grid.beside(grid.without(grid.inside(size), discs, size), blocks, size)
            self._free[key] = bits
        return bits


class Level:
    """One layer with what stands on it; remembers which sizes have found no room since it last grew
    emptier."""

    def __init__(self, load: Load, layer: Layer, ground: Ground, pinned: Mapping[str, Item]) -> None:
        self.layer, self.ground, self._load = layer, ground, load
        self.room_mm = load.room_mm(layer)
        self.edge_mm = edge_mm(load, layer)
        if layer.side != "whole":
            # The other half has ware too, perhaps up to the joint.
            self.edge_mm = max(self.edge_mm, load.clearances.ware_mm / 2)
        self.grid = ground.grid(layer.shelf.outline, self.edge_mm, load.clearances.ware_mm)
        self.fixed = [
            (pinned[p.key].footprint, p.place)
            for p in load.positions
            if p.layer == layer.number and p.rests_on is None
        ]
        self.blocks = tuple(Block(footprint, place) for footprint, place in self.fixed)
        self.filling = Filling(self.grid)
        self.full: set[tuple[Size, int]] = set()
        self._discs: dict[float, tuple] = {}
        self._start: dict[tuple[Size, float], tuple[int, int]] = {}
        self._kinds: dict[tuple, int] = {}

    def discs(self, height_mm: float) -> tuple:
        found = self._discs.get(height_mm)
        if found is None:
            discs = kept_clear_on(self._load, self.layer, height_mm=height_mm)
            found = self._discs[height_mm] = tuple((d.x_mm, d.y_mm, d.radius_mm) for d in discs)
        return found

    def _points(self, size: Size, height_mm: float) -> tuple[int, int]:
        """Points free of props, thermocouple and pinned pieces, and which kind of height this is to them."""
        found = self._start.get((size, height_mm))
        if found is None:
            discs = self.discs(height_mm)
            bits = self.ground.free(self.grid, size, discs, self.blocks)
            kind = self._kinds.setdefault(discs, len(self._kinds))
            found = self._start[size, height_mm] = (bits, kind)
        return found

    def takes(self, size: Size, height_mm: float, bit: int) -> bool:
        """Whether a unit may stand at a point of the grid as far as height, props and thermocouple go."""
        return height_mm <= self.room_mm and bool(self._points(size, height_mm)[0] >> bit & 1)

    def put(self, key: int, size: Size, height_mm: float, zones: Sequence[int], last: bool) -> bool:
        """Stand a unit somewhere, if there is room."""
        start, kind = self._points(size, height_mm)
        if (size, kind) in self.full:
            return False
        bits = self.filling.free(size, start)
        if not bits:
            self.full.add((size, kind))
            return False
        self.filling.standing.append((key, size, pick(bits, zones, last)))
        return True


@dataclass
class Arrangement:
    """Units on levels: what each level's filling holds, and its value."""

    standing: list[list] = field(default_factory=list)
    full: list[set] = field(default_factory=list)
    value: float = -1.0


class Filler:
    """Fills the layers of one build with units, by chance and by improvement."""

    def __init__(
        self,
        load: Load,
        units: Sequence[Unit],
        ground: Ground,
        pinned: Mapping[str, Item],
        chance: random.Random,
    ) -> None:
        self.load, self.units, self.chance = load, units, chance
        self.levels = [Level(load, layer, ground, pinned) for layer in load.layers]
        self.heights = [unit.height_mm for unit in units]
        self.values = [unit.value for unit in units]
        self.areas = [unit.footprint.area_mm2 for unit in units]
        self.ways = [sizes_of(unit.footprint) for unit in units]
        self.total = sum(self.values)
        # Lowest rooms first: what is low goes where little else can stand, and as far down as it may.
        self.order = sorted(range(len(self.levels)), key=lambda k: (self.levels[k].room_mm, k))
        self.best = Arrangement()
        self.current = Arrangement()

    def first(self, budget: Budget) -> None:
        """A filling from nothing."""
        for level in self.levels:
            level.filling.standing, level.full = [], set()
        self._add(range(len(self.units)), list(range(len(self.levels))), budget, self.best.value < 0)
        self._keep(0.0)

    def first_by_height(self, budget: Budget) -> None:
        """A filling from nothing, highest units first and each on the highest layer with room."""
        for level in self.levels:
            level.filling.standing, level.full = [], set()
        work = 0
        for key in sorted(range(len(self.units)), key=lambda i: (-self.heights[i], self.units[i].foot.key)):
            for k in reversed(self.order):
                level = self.levels[k]
                work += 3 + len(level.filling.standing)
                fits = self.heights[key] <= level.room_mm
                if fits and any(
                    level.put(key, size, self.heights[key], (), False) for size in self.ways[key]
                ):
                    break
        budget.spend(work)
        self._keep(0.0)

    def begin_like(self, other: Filler, budget: Budget) -> None:
        """Take over from another build what may stand here too, level by level from the lowest room, and add
        to it."""
        for level in self.levels:
            level.filling.standing, level.full = [], set()
        for mine, theirs in zip(reversed(self.order), reversed(other.order), strict=False):
            level = self.levels[mine]
            if level.grid is other.levels[theirs].grid:
                level.filling.standing = [
                    (key, size, bit)
                    for key, size, bit in other.best.standing[theirs]
                    if level.takes(size, self.heights[key], bit)
                ]
        there = {piece[0] for level in self.levels for piece in level.filling.standing}
        missing = [k for k in range(len(self.units)) if k not in there]
        self._add(missing, list(range(len(self.levels))), budget, False)
        self._keep(0.0)

    def improve(self, budget: Budget) -> None:
        """Take some units off one or two levels and put others on; keep it if it is no worse."""
        self._restore(self.current)
        touched = self.chance.sample(
            range(len(self.levels)), min(len(self.levels), self.chance.choice((1, 1, 2)))
        )
        for k in touched:
            level = self.levels[k]
            level.full = set()
            if self.chance.random() < 0.25:
                level.filling.standing = []
            elif level.filling.standing:
                _, _, middle = self.chance.choice(level.filling.standing)
                x, y = level.grid.point(middle)
                reach = self.chance.uniform(0.1, 0.5) * level.grid.columns * level.grid.pitch_mm
                level.filling.standing = [
                    piece for piece in level.filling.standing if _away(level.grid, piece[2], x, y) > reach
                ]
        there = {piece[0] for level in self.levels for piece in level.filling.standing}
        self._add([k for k in range(len(self.units)) if k not in there], touched, budget, False)
        self._keep(0.002 * self.total * budget.left / max(1, budget.total))

    def _add(self, keys: Sequence[int], levels: Sequence[int], budget: Budget, plain: bool) -> None:
        chance = self.chance
        power = 0.0 if plain else chance.choice((0.0, 0.3, 0.6, 1.0))
        tall = 0.0 if plain else chance.choice((0.0, 0.0, 0.5, 1.0))
        weight = [
            self.values[k] / self.areas[k] * self.areas[k] ** power * self.heights[k] ** tall
            for k in range(len(self.units))
        ]
        zones_kind, last = (0, False) if plain else (chance.choice((0, 0, 1, 2)), chance.random() < 0.5)
        order = [k for k in self.order if k in set(levels)]
        if not plain and chance.random() < 0.2:
            chance.shuffle(order)
        grids = {id(level.grid): level.grid for level in self.levels}.values()
        made = sum(grid.rows_made for grid in grids)
        work = 60
        for key in shuffled(chance, keys, weight, 0.0 if plain else chance.choice((0.1, 0.3, 0.6))):
            ways = self.ways[key] if chance.random() < 0.5 else self.ways[key][::-1]
            work += 3
            for k in order:
                level = self.levels[k]
                if self.heights[key] > level.room_mm:
                    continue
                work += 2 + len(level.filling.standing)
                zones = level.grid.zones(zones_kind)
                if any(level.put(key, size, self.heights[key], zones, last) for size in ways):
                    break
        budget.spend(work * 6 // 5 + sum(grid.rows_made for grid in grids) - made)

    def _keep(self, allowance: float) -> None:
        value = sum(self.values[p[0]] for level in self.levels for p in level.filling.standing)
        if value + allowance >= self.current.value:
            self.current = Arrangement(
                [list(level.filling.standing) for level in self.levels],
                [set(level.full) for level in self.levels],
                value,
            )
        if value > self.best.value + 1e-9:
            self.best = self.current

    def _restore(self, arrangement: Arrangement) -> None:
        for level, standing, full in zip(self.levels, arrangement.standing, arrangement.full, strict=True):
            level.filling.standing, level.full = list(standing), set(full)

    def back_to_best(self) -> None:
        self.current = self.best

    @property
    def complete(self) -> bool:
        return self.best.value >= self.total - 1e-9

    def places(self) -> dict[int, tuple[int, Placed]]:
        """Of the best arrangement: unit to level and place."""
        return {
            key: (k, place_at(self.levels[k].grid, size, bit, self.units[key].footprint))
            for k, standing in enumerate(self.best.standing)
            for key, size, bit in standing
        }

    def squeezed(self, budget: Budget) -> dict[int, tuple[int, Placed]]:
        """The best arrangement with what else can be pushed in, level by level, the most valuable first."""
        found = self.places()
        for k in self.order:
            level = self.levels[k]
            outside = [
                i for i in range(len(self.units)) if i not in found and self.heights[i] <= level.room_mm
            ]
            inside = [i for i, (where, _) in found.items() if where == k]
            if not outside or budget.left <= 0:
                continue
            tallest = max(self.heights[i] for i in inside + outside)
            board = Board(
                level.layer.shelf.outline,
                gap_mm=self.load.clearances.ware_mm,
                edge_mm=level.edge_mm,
                placed=level.fixed,
            )
            board.kept_clear = list(level.discs(tallest))
            keys = inside + outside
            places: Places = [found[i][1] if i in found else None for i in keys]
            order = sorted(range(len(inside), len(keys)), key=lambda j: (-self.values[keys[j]], keys[j]))
            part = budget.share(0.4)
            prints = [self.units[i].footprint for i in keys]
            while squeeze(board, prints, places, order, part, self.chance, tries=3, whole_mm=True):
                pass
            budget.settle(part)
            found |= {i: (k, place) for i, place in zip(keys, places, strict=True) if place is not None}
        return found


def _away(grid: Grid, bit: int, x: float, y: float) -> float:
    px, py = grid.point(bit)
    return ((px - x) ** 2 + (py - y) ** 2) ** 0.5


def positions_of(unit: Unit, layer: int, place: Placed) -> list[Position]:
    """Positions of the pieces of a unit."""
    places = {unit.foot.key: place}
    pieces = {item.key: item for item in unit.items}
    for item, on, how in unit.upper:
        places[item.key] = place_on(item, how, pieces[on], places[on])
    above = [Position(item.key, layer, places[item.key], on, how) for item, on, how in unit.upper]
    return [Position(unit.foot.key, layer, place), *above]
