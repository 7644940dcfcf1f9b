"""The outlines of pots: one half profile per form, from foot to rim, as a smooth curve.

A profile is a list of (x, y) in a box 100 wide and 100 high, right side only: x runs from the middle (50) to
the widest (100), y from the rim (0) to the foot (100). Drawings stretch it to the piece's own size.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from .svg_text import num

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Form:
    """How a form is drawn.

    ``rills``: shows throwing rings; ``handle`` and ``spout``: drawn unless told otherwise; ``lid``: the upper
    part of the height is a lid; ``hollow``: a half-section shows an inside.
    """

    profile: tuple[Point, ...]
    rills: bool = True
    handle: bool = False
    spout: bool = False
    lid: float = 0.0
    hollow: bool = True


_BOX = ((97, 100), (99, 60), (100, 0))

FORMS: dict[str, Form] = {
    "bowl": Form(((69, 100), (69, 90), (80, 83), (92.5, 55), (98, 22), (100, 0))),
    "mug": Form(((90, 100), (94, 97), (96.5, 70), (97.5, 30), (100, 0)), handle=True),
    "cup": Form(((81, 100), (84, 97), (93, 60), (97.5, 20), (100, 0))),
    "plate": Form(((74, 100), (75, 82), (89, 55), (100, 0))),
    "vase": Form(((76, 100), (79, 98), (94, 72), (100, 50), (93, 28), (76, 12), (73.5, 6), (80, 0))),
    "jug": Form(
        ((81, 100), (84.5, 98), (97, 76), (100, 62), (94, 38), (81, 18), (80, 10), (85, 0)),
        handle=True,
        spout=True,
    ),
    "bottle": Form(((85, 100), (88.5, 98), (99, 80), (100, 64), (91, 44), (68, 30), (63, 16), (69, 0))),
    "jar": Form(((80, 100), (83, 97), (97.5, 68), (100, 42), (95, 16), (88, 7), (89, 0)), lid=0.18),
    "lid": Form(
        ((92, 100), (100, 96), (98, 78), (84, 52), (62, 34), (56, 24), (60, 10), (57, 0)), hollow=False
    ),
    "tile": Form(((100, 100), (100, 0)), rills=False, hollow=False),
    "figure": Form(
        (
            (94, 100),
            (100, 95),
            (89, 66),
            (78, 46),
            (62.5, 36),
            (61, 31),
            (72, 22),
            (73.5, 11),
            (64, 2),
            (50, 0),
        ),
        rills=False,
        hollow=False,
    ),
    "planter": Form(((83, 100), (84.5, 98), (91, 50), (96, 14), (100, 12), (100, 0))),
    "box": Form(_BOX, rills=False, lid=0.3),
    "tea bowl": Form(((75, 100), (75, 93), (87, 84), (96.5, 55), (99, 25), (100, 0))),
    "pinch pot": Form(((77.5, 100), (87, 90), (99, 52), (100, 28), (94, 0)), rills=False),
    "other": Form(
        ((88, 100), (95, 94), (100, 66), (97, 30), (84, 8), (66, 1), (50, 0)), rills=False, hollow=False
    ),
}


def form_of(name: str) -> Form:
    """The drawing of a form by its name, 'tea-bowl' or 'Tea bowl' alike; unknown ones are 'other'."""
    plain = str(name).strip().lower().replace("_", " ").replace("-", " ")
    if plain == "teabowl":
        plain = "tea bowl"
    return FORMS.get(plain, FORMS["other"])


def _curve(points: list[Point], first: bool = True) -> str:
    """A smooth path through points (Catmull-Rom as cubic Béziers), beginning with M or L."""
    parts = [f"{'M' if first else 'L'}{num(points[0][0])} {num(points[0][1])}"]
    for index in range(len(points) - 1):
        before = points[max(index - 1, 0)]
        start, end = points[index], points[index + 1]
        after = points[min(index + 2, len(points) - 1)]
        c1 = (start[0] + (end[0] - before[0]) / 6, start[1] + (end[1] - before[1]) / 6)
        c2 = (end[0] - (after[0] - start[0]) / 6, end[1] - (after[1] - start[1]) / 6)
        parts.append(" ".join(f"{num(x)} {num(y)}" for x, y in (c1, c2, end)).join(("C", "")))
    return "".join(parts)


@cache
def sampled(profile: tuple[Point, ...], steps: int = 12) -> tuple[Point, ...]:
    """Points along the smooth profile, close enough to measure on."""
    points = list(profile)
    found: list[Point] = [points[0]]
    for index in range(len(points) - 1):
        before = points[max(index - 1, 0)]
        start, end = points[index], points[index + 1]
        after = points[min(index + 2, len(points) - 1)]
        c1 = (start[0] + (end[0] - before[0]) / 6, start[1] + (end[1] - before[1]) / 6)
        c2 = (end[0] - (after[0] - start[0]) / 6, end[1] - (after[1] - start[1]) / 6)
        for step in range(1, steps + 1):
            t = step / steps
            u = 1 - t
            found.append(
                tuple(
                    u**3 * start[axis]
                    + 3 * u * u * t * c1[axis]
                    + 3 * u * t * t * c2[axis]
                    + t**3 * end[axis]
                    for axis in (0, 1)
                )
            )
    return tuple(found)


def half_width_at(profile: tuple[Point, ...], y: float) -> float:
    """Half width (0 to 50) of a profile at height ``y`` (0 rim, 100 foot)."""
    points = sampled(profile)
    for (x1, y1), (x2, y2) in pairwise(points):
        if min(y1, y2) <= y <= max(y1, y2) and y1 != y2:
            return x1 + (x2 - x1) * (y - y1) / (y2 - y1) - 50
    return (points[0][0] if y >= 100 else points[-1][0]) - 50


@dataclass(frozen=True, slots=True)
class Placed:
    """A profile at its place, in drawing units: middle ``x``, rim ``top``, foot ``base``, full ``width``."""

    profile: tuple[Point, ...]
    x: float
    top: float
    base: float
    width: float

    def at(self, point: Point, side: int = 1) -> Point:
        """A profile point in drawing units, on the right (1) or left (-1)."""
        return (
            self.x + side * (point[0] - 50) / 100 * self.width,
            self.top + point[1] / 100 * (self.base - self.top),
        )

    def outline(self, profile: tuple[Point, ...] | None = None) -> str:
        """Closed path: right side from the bottom up, across the rim, left side down."""
        points = profile or self.profile
        right = [self.at(point) for point in points]
        left = [self.at(point, -1) for point in reversed(points)]
        return f"{_curve(right)}{_curve(left, first=False)}Z"

    def right_side(self, profile: tuple[Point, ...] | None = None, first: bool = True) -> str:
        """Open path along the right side, from foot to rim."""
        return _curve([self.at(point) for point in profile or self.profile], first)

    def above(self, y: float) -> tuple[Point, ...]:
        """The part of the profile above height ``y`` (0 rim, 100 foot), cut there."""
        start = (50 + half_width_at(self.profile, y), y)
        return (start, *(point for point in self.profile if point[1] < y))
