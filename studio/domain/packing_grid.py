"""A shelf as a grid of points held in one large integer, for quick and exact questions about free places.

Bit (row · stride + column) stands for a point where the centre of a footprint might be. What a piece that
stands there forbids to the centre of another is a pattern of bits that depends on the two footprints alone;
shifted into place and taken away it leaves the free points. A point that is left is legal exactly; only
places between the points of the grid are missed.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Sequence

from .packing_shapes import Block, Footprint, Placed, Rectangle, Region, Round, halves

Size = tuple[float, float, bool]  # half width, half depth, round?


def size_of(footprint: Footprint, turned: bool = False) -> Size:
    """What the grid needs to know of a footprint."""
    return (*halves(footprint, turned), not isinstance(footprint, Rectangle))


def sizes_of(footprint: Footprint) -> tuple[Size, ...]:
    """The one or two ways in which a footprint can stand."""
    if isinstance(footprint, Round) or footprint.width_mm == footprint.depth_mm:
        return (size_of(footprint),)
    return (size_of(footprint), size_of(footprint, True))


class Grid:
    """Points of one shelf outline, and the patterns that footprints forbid to each other.

    ``whole_mm`` puts the points on whole millimetres from the shelf's origin.
    """

    def __init__(
        self, region: Region, *, gap_mm: float, pitch_mm: float, widest_mm: float, whole_mm: bool = False
    ) -> None:
        left, front, right, back = region.box
        self.region, self.gap_mm, self.pitch_mm = region, gap_mm, pitch_mm
        # The points lie symmetrically about the middle of the box, so that turning the shelf over changes
        # nothing.
        self.columns = int((right - left) / pitch_mm) + 1
        self.rows = int((back - front) / pitch_mm) + 1
        self.x0 = (left + right - (self.columns - 1) * pitch_mm) / 2
        self.y0 = (front + back - (self.rows - 1) * pitch_mm) / 2
        if whole_mm:
            self.pitch_mm = pitch_mm = max(1, round(pitch_mm))
            self.x0, self.y0 = pitch_mm * math.ceil(left / pitch_mm), pitch_mm * math.ceil(front / pitch_mm)
            self.columns = int((right - self.x0) / pitch_mm) + 1
            self.rows = int((back - self.y0) / pitch_mm) + 1
        # Patterns may hang over the sides by as much as two pieces reach; the margin takes that up.
        self.stride = self.columns + math.ceil((widest_mm + gap_mm) / pitch_mm) + 1
        #: Rows of bits made so far: what patterns cost, for a search that counts its work.
        self.rows_made = 0
        self._inside: dict[Size, int] = {}
        self._forbids: dict[tuple[Size, Size], tuple[int, int]] = {}
        self._zones: list[list[int]] = []

    def point(self, bit: int) -> tuple[float, float]:
        row, column = divmod(bit, self.stride)
        return self.x0 + column * self.pitch_mm, self.y0 + row * self.pitch_mm

    def inside(self, size: Size) -> int:
        """Points where the whole footprint lies on the shelf."""
        bits = self._inside.get(size)
        if bits is None:
            bits = 0
            self.rows_made += self.rows
            for row in range(self.rows):
                run = self._run(self.y0 + row * self.pitch_mm, size)
                if run is not None:
                    first, last = run
                    bits |= ((1 << (last - first + 1)) - 1) << (row * self.stride + first)
            self._inside[size] = bits
        return bits

    def _run(self, y: float, size: Size) -> tuple[int, int] | None:
        """First and last column of a row where the footprint fits; shelves are convex, so it is one run."""
        w, d, is_round = size
        low, high = -math.inf, math.inf
        region = self.region
        if region.disc is not None:
            reach = region.disc - w if is_round else region.disc
            up = abs(y) if is_round else abs(y) + d
            if reach < 0 or up > reach:
                return None
            side = math.sqrt(reach * reach - up * up) - (0.0 if is_round else w)
            low, high = -side, side
        for nx, ny, c in region.planes:
            rest = c - ny * y - (w if is_round else abs(nx) * w + abs(ny) * d)
            if abs(nx) < 1e-12:
                if rest < -1e-9:
                    return None
            elif nx > 0:
                high = min(high, rest / nx)
            else:
                low = max(low, rest / nx)
        first = max(0, math.ceil((low - self.x0) / self.pitch_mm - 1e-9))
        last = min(self.columns - 1, math.floor((high - self.x0) / self.pitch_mm + 1e-9))
        return (first, last) if first <= last else None

    def forbids(self, standing: Size, coming: Size) -> tuple[int, int]:
        """Pattern of centres a standing piece forbids to a coming one, and the bit of its own centre in
        it."""
        key = (standing, coming)
        found = self._forbids.get(key)
        if found is None:
            w, d, radius = _grown(standing, coming, self.gap_mm)
            found = self._pattern(w, d, radius)
            self._forbids[key] = self._forbids[coming, standing] = found
        return found

    def _pattern(self, w: float, d: float, radius: float) -> tuple[int, int]:
        pitch = self.pitch_mm
        rows = math.ceil((d + radius) / pitch - 1e-9) - 1
        columns = math.ceil((w + radius) / pitch - 1e-9) - 1
        if rows < 0 or columns < 0:
            return 0, 0
        self.rows_made += rows
        bits = 0
        for row in range(rows + 1):
            over = max(0.0, row * pitch - d)
            side = w + math.sqrt(max(0.0, radius * radius - over * over))
            reach = math.ceil(side / pitch - 1e-9) - 1
            if reach < 0:
                continue
            run = ((1 << (2 * reach + 1)) - 1) << (columns - reach)
            bits |= run << ((rows + row) * self.stride)
            if row:
                bits |= run << ((rows - row) * self.stride)
        return bits, rows * self.stride + columns

    def without(self, bits: int, discs: Iterable[tuple[float, float, float]], size: Size) -> int:
        """Take away the points where the footprint would come into a kept-clear disc (x, y, radius)."""
        for x, y, radius in discs:
            bits &= ~self._off_grid(x, y, *_grown((radius, radius, True), size, 0.0))
        return bits

    def beside(self, bits: int, blocks: Iterable[Block], size: Size) -> int:
        """Take away the points too near to blocks that stand anywhere, on a grid point or not."""
        for block in blocks:
            standing = (block.half_width, block.half_depth, block.round)
            bits &= ~self._off_grid(block.x, block.y, *_grown(standing, size, self.gap_mm))
        return bits

    def _off_grid(self, x: float, y: float, w: float, d: float, radius: float) -> int:
        bits, pitch = 0, self.pitch_mm
        self.rows_made += self.rows
        for row in range(self.rows):
            over = abs(self.y0 + row * pitch - y) - d
            if over >= radius and over > 0:
                continue
            side = w + math.sqrt(max(0.0, radius * radius - max(0.0, over) ** 2)) - 1e-9
            first = max(0, math.floor((x - side - self.x0) / pitch) + 1)
            last = min(self.columns - 1, math.ceil((x + side - self.x0) / pitch) - 1)
            if first <= last:
                bits |= ((1 << (last - first + 1)) - 1) << (row * self.stride + first)
        return bits

    def zones(self, kind: int) -> list[int]:
        """Sets of points in an order of liking: kind 0 has none, 1 goes from the edge inwards, 2 the other
        way."""
        if not self._zones:
            left, front, right, back = self.region.box
            middle = Round(diameter_mm=1e-3)
            depths = [self.inside(size_of(middle))]
            step = min(right - left, back - front) / 14
            for ring in range(1, 7):
                depths.append(self.inside((ring * step, ring * step, True)) & depths[0])
            rings = [outer & ~inner for outer, inner in zip(depths, [*depths[1:], 0], strict=True)]
            self._zones = [[], rings, rings[::-1]]
        return self._zones[kind]


def _grown(one: Size, other: Size, gap: float) -> tuple[float, float, float]:
    """Half width, half depth and corner radius of what two centres' difference must keep out of."""
    w = d = 0.0
    radius = gap
    for half_width, half_depth, is_round in (one, other):
        if is_round:
            radius += half_width
        else:
            w, d = w + half_width, d + half_depth
    return w, d, radius


class Filling:
    """One shelf being filled on a grid: pieces as (key, size, bit), taken off and put on again at will."""

    __slots__ = ("free_at_start", "grid", "standing")

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self.standing: list[tuple[int, Size, int]] = []

    def free(self, size: Size, bits: int) -> int:
        """Of the given points, those where the footprint may stand beside what stands already."""
        forbids = self.grid._forbids
        barred = 0
        for _, other, bit in self.standing:
            found = forbids.get((other, size))
            if found is None:
                found = self.grid.forbids(other, size)
            pattern, centre = found
            barred |= pattern << (bit - centre) if bit >= centre else pattern >> (centre - bit)
        return bits ^ (bits & barred)


def pick(bits: int, zones: Sequence[int], last: bool) -> int:
    """One of the free points: the first or last in reading order of the best-liked zone."""
    for zone in zones:
        liked = bits & zone
        if liked:
            bits = liked
            break
    return bits.bit_length() - 1 if last else (bits & -bits).bit_length() - 1


def place_at(grid: Grid, size: Size, bit: int, footprint: Footprint) -> Placed:
    """The place that a bit stands for."""
    x, y = grid.point(bit)
    turned = isinstance(footprint, Rectangle) and size_of(footprint) != size
    return Placed(round(x, 6), round(y, 6), turned)


def shuffled(chance: random.Random, keys: Sequence[int], weight: Sequence[float], spread: float) -> list[int]:
    """Keys by falling weight, each weight blurred by a factor of up to 1 ± spread."""
    blurred = [(-weight[k] * (1 + spread * (2 * chance.random() - 1)), k) for k in keys]
    blurred.sort()
    return [k for _, k in blurred]
