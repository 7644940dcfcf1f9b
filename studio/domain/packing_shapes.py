"""Outlines of kiln shelves and of ware seen from above, and the places ware takes on a shelf.

Every shape has its own origin. For a round, a rectangle and a regular polygon it is the centre; for half a
round shelf it is the middle of the straight edge, so that both halves share the kiln's centre. x runs to the
right and y to the back of the kiln. All lengths are millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from .problems import DomainError
from .say import figure, say

#: Lengths closer than this are the same length: far below any ruler, far above rounding in the arithmetic.
TOLERANCE_MM = 1e-6
LARGEST_MM = 20_000


def _length(name: str, value: float) -> None:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise DomainError(
            say("{name} must be a number of millimetres, not {value}.", name=name, value=repr(value))
        )
    if not 0 < value <= LARGEST_MM:
        raise DomainError(
            say(
                "{name} must be more than 0 and at most {largest_mm} mm, not {value}.",
                name=name,
                largest_mm=LARGEST_MM,
                value=figure(value, "g"),
            )
        )


@dataclass(frozen=True)
class Round:
    """A round shelf or a pot with a round outline."""

    diameter_mm: float

    def __post_init__(self) -> None:
        _length(say("The diameter"), self.diameter_mm)

    @property
    def area_mm2(self) -> float:
        return math.pi * self.diameter_mm**2 / 4

    @property
    def reach_mm(self) -> float:
        """Distance from the origin to the farthest point."""
        return self.diameter_mm / 2


@dataclass(frozen=True)
class Rectangle:
    """A rectangular shelf or piece: width along x, depth along y."""

    width_mm: float
    depth_mm: float

    def __post_init__(self) -> None:
        _length(say("The width"), self.width_mm)
        _length(say("The depth"), self.depth_mm)

    @property
    def area_mm2(self) -> float:
        return self.width_mm * self.depth_mm

    @property
    def reach_mm(self) -> float:
        return math.hypot(self.width_mm, self.depth_mm) / 2

    def turned(self) -> Rectangle:
        """The same outline after a quarter turn."""
        return Rectangle(self.depth_mm, self.width_mm)


@dataclass(frozen=True)
class HalfRound:
    """Half of a round shelf. ``side`` says which half of the kiln it lies in: left, right, front or back."""

    diameter_mm: float
    side: str = "left"

    def __post_init__(self) -> None:
        _length(say("The diameter"), self.diameter_mm)
        if self.side not in ("left", "right", "front", "back"):
            raise DomainError(
                say("A half shelf lies left, right, front or back, not {side}.", side=repr(self.side))
            )

    @property
    def area_mm2(self) -> float:
        return math.pi * self.diameter_mm**2 / 8

    @property
    def reach_mm(self) -> float:
        return self.diameter_mm / 2


@dataclass(frozen=True)
class Polygon:
    """A shelf with straight edges and no inward corner; ``corners_mm`` in order round the edge, either
    way."""

    corners_mm: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        corners = tuple((float(x), float(y)) for x, y in self.corners_mm)
        if len(corners) < 3:
            raise DomainError(say("A polygon needs at least three corners."))
        if not all(math.isfinite(v) and abs(v) <= LARGEST_MM for corner in corners for v in corner):
            raise DomainError(say("The corners of a polygon must be numbers of millimetres."))
        if _signed_area(corners) < 0:
            corners = corners[::-1]
        object.__setattr__(self, "corners_mm", corners)
        turn = 0.0
        for (ax, ay), (bx, by), (cx, cy) in zip(
            corners, corners[1:] + corners[:1], corners[2:] + corners[:2], strict=True
        ):
            cross = (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
            if cross <= 0:
                raise DomainError(say("The corners must go once round a shape that has no inward corner."))
            turn += math.atan2(cross, (bx - ax) * (cx - bx) + (by - ay) * (cy - by))
        if abs(turn - 2 * math.pi) > 1e-6:
            raise DomainError(say("The corners must go round the shape once."))

    @classmethod
    def regular(cls, *, sides: int, inscribed_mm: float) -> Polygon:
        """A regular polygon from the diameter of the circle inside it, with one flat side to the front."""
        if not 3 <= sides <= 60:
            raise DomainError(say("A regular polygon has from 3 to 60 sides."))
        _length(say("The inscribed diameter"), inscribed_mm)
        reach = inscribed_mm / 2 / math.cos(math.pi / sides)
        start = -math.pi / 2 - math.pi / sides
        angles = [start + 2 * math.pi * k / sides for k in range(sides)]
        return cls(tuple((reach * math.cos(a), reach * math.sin(a)) for a in angles))

    @property
    def area_mm2(self) -> float:
        return _signed_area(self.corners_mm)

    @property
    def reach_mm(self) -> float:
        return max(math.hypot(x, y) for x, y in self.corners_mm)


Footprint = Round | Rectangle
Outline = Round | Rectangle | HalfRound | Polygon


def _signed_area(corners: Sequence[tuple[float, float]]) -> float:
    pairs = zip(corners, corners[1:] + corners[:1], strict=True)
    return sum(ax * by - ay * bx for (ax, ay), (bx, by) in pairs) / 2


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a footprint's centre stands, from the shelf's origin; ``turned`` means by a quarter turn."""

    x_mm: float
    y_mm: float
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Disc:
    """A round spot of the shelf that stays free: no ware comes closer to its centre than the radius."""

    x_mm: float
    y_mm: float
    radius_mm: float


class Block:
    """A footprint standing somewhere: centre, half width, half depth; ``round`` has both equal to its
    radius."""

    __slots__ = ("half_depth", "half_width", "round", "x", "y")

    def __init__(self, footprint: Footprint, placed: Placed) -> None:
        self.x, self.y = placed.x_mm, placed.y_mm
        self.round = isinstance(footprint, Round)
        self.half_width, self.half_depth = halves(footprint, placed.turned)


def halves(footprint: Footprint, turned: bool = False) -> tuple[float, float]:
    """Half the width and half the depth of a footprint as it stands."""
    if isinstance(footprint, Round):
        return footprint.diameter_mm / 2, footprint.diameter_mm / 2
    if not isinstance(footprint, Rectangle):
        raise DomainError(say("A piece stands on a round or a rectangular footprint."))
    if turned:
        return footprint.depth_mm / 2, footprint.width_mm / 2
    return footprint.width_mm / 2, footprint.depth_mm / 2


def apart_mm(one: Block, other: Block) -> float:
    """The clear distance between two blocks; negative when they overlap."""
    dx, dy = abs(one.x - other.x), abs(one.y - other.y)
    if one.round and other.round:
        return math.hypot(dx, dy) - one.half_width - other.half_width
    if one.round or other.round:
        disc, box = (one, other) if one.round else (other, one)
        return _beyond(dx - box.half_width, dy - box.half_depth) - disc.half_width
    return _beyond(dx - one.half_width - other.half_width, dy - one.half_depth - other.half_depth)


def _beyond(dx: float, dy: float) -> float:
    if dx > 0 and dy > 0:
        return math.hypot(dx, dy)
    return max(dx, dy)


class Region:
    """A shelf as an intersection of half planes (n·p ≤ c) and perhaps one disc about the origin, less an
    edge."""

    def __init__(self, outline: Outline, edge_mm: float = 0.0) -> None:
        self.outline = outline
        self.disc: float | None = None
        self.planes: list[tuple[float, float, float]] = []
        if isinstance(outline, Round):
            self.disc = outline.diameter_mm / 2 - edge_mm
        elif isinstance(outline, HalfRound):
            self.disc = outline.diameter_mm / 2 - edge_mm
            normal = {"left": (1, 0), "right": (-1, 0), "front": (0, 1), "back": (0, -1)}[outline.side]
            self.planes = [(*normal, -edge_mm)]
        elif isinstance(outline, Rectangle):
            w, d = outline.width_mm / 2 - edge_mm, outline.depth_mm / 2 - edge_mm
            self.planes = [(1, 0, w), (-1, 0, w), (0, 1, d), (0, -1, d)]
        elif isinstance(outline, Polygon):
            corners = outline.corners_mm
            for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True):
                long = math.hypot(bx - ax, by - ay)
                nx, ny = (by - ay) / long, (ax - bx) / long
                self.planes.append((nx, ny, nx * ax + ny * ay - edge_mm))
        else:
            raise DomainError(say("A shelf is round, half round, rectangular or a polygon."))

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """Left, front, right, back of the outline (before any edge is taken off)."""
        outline = self.outline
        if isinstance(outline, Polygon):
            xs, ys = zip(*outline.corners_mm, strict=True)
            return min(xs), min(ys), max(xs), max(ys)
        if isinstance(outline, Rectangle):
            w, d = outline.width_mm / 2, outline.depth_mm / 2
            return -w, -d, w, d
        r = outline.diameter_mm / 2
        left, front, right, back = -r, -r, r, r
        if isinstance(outline, HalfRound):
            left, front, right, back = {
                "left": (-r, -r, 0.0, r),
                "right": (0.0, -r, r, r),
                "front": (-r, -r, r, 0.0),
                "back": (-r, 0.0, r, r),
            }[outline.side]
        return left, front, right, back

    def room_mm(self, x: float, y: float, half_width: float, half_depth: float, is_round: bool) -> float:
        """How far a block stays inside the region; negative when it hangs over."""
        room = math.inf
        if self.disc is not None:
            if is_round:
                room = self.disc - math.hypot(x, y) - half_width
            else:
                room = self.disc - math.hypot(abs(x) + half_width, abs(y) + half_depth)
        for nx, ny, c in self.planes:
            support = half_width if is_round else abs(nx) * half_width + abs(ny) * half_depth
            room = min(room, c - nx * x - ny * y - support)
        return room


class Board:
    """A shelf with what stands on it; answers whether one more footprint may stand at a point."""

    def __init__(
        self,
        shelf: Outline,
        *,
        gap_mm: float,
        edge_mm: float = 0.0,
        kept_clear: Iterable[Disc] = (),
        placed: Iterable[tuple[Footprint, Placed]] = (),
    ) -> None:
        if not (math.isfinite(gap_mm) and 0 <= gap_mm <= LARGEST_MM):
            raise DomainError(say("The gap between pieces must be 0 mm or more."))
        if not (math.isfinite(edge_mm) and 0 <= edge_mm <= LARGEST_MM):
            raise DomainError(say("The distance from the edge must be 0 mm or more."))
        self.region = Region(shelf, edge_mm)
        self.gap_mm = gap_mm
        self.kept_clear = [(disc.x_mm, disc.y_mm, disc.radius_mm) for disc in kept_clear]
        self.blocks = [Block(footprint, place) for footprint, place in placed]

    def add(self, footprint: Footprint, place: Placed) -> None:
        self.blocks.append(Block(footprint, place))

    def fits(self, footprint: Footprint, place: Placed) -> bool:
        """True when the footprint may stand there: on the shelf, clear of its neighbours and of kept-clear
        spots."""
        block = Block(footprint, place)
        x, y, w, d = block.x, block.y, block.half_width, block.half_depth
        if self.region.room_mm(x, y, w, d, block.round) < -TOLERANCE_MM:
            return False
        for cx, cy, radius in self.kept_clear:
            if block.round:
                away = math.hypot(x - cx, y - cy) - w
            else:
                away = _beyond(abs(x - cx) - w, abs(y - cy) - d)
            if away < radius - TOLERANCE_MM:
                return False
        least = self.gap_mm - TOLERANCE_MM
        return all(apart_mm(block, other) >= least for other in self.blocks)
