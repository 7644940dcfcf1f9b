"""Distances for the checker: convex outlines as corners grown by a radius. Not used by the planner."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .packing_shapes import HalfRound, Outline, Polygon, Rectangle, Round


def depth(outline: Outline, x: float, y: float) -> float:
    """Distance of a point from a convex outline's edge, positive inside; outside never less negative than
    true."""
    if isinstance(outline, Round):
        return outline.diameter_mm / 2 - math.sqrt(x * x + y * y)
    if isinstance(outline, HalfRound):
        flat = {"left": -x, "right": x, "front": -y, "back": y}[outline.side]
        rim = outline.diameter_mm / 2 - math.sqrt(x * x + y * y)
        if flat >= 0:
            return min(flat, rim)
        along = abs(y) if outline.side in ("left", "right") else abs(x)
        return -math.hypot(flat, max(0.0, along - outline.diameter_mm / 2))
    if isinstance(outline, Rectangle):
        w, d = outline.width_mm / 2, outline.depth_mm / 2
        corners: Sequence[tuple[float, float]] = ((-w, -d), (w, -d), (w, d), (-w, d))
    else:
        corners = outline.corners_mm
    if _holds(corners, x, y):
        return min(_to_segment(x, y, a, b) for a, b in _sides(corners))
    return -min(_to_segment(x, y, a, b) for a, b in _sides(corners))


def _sides(corners: Sequence[tuple[float, float]]) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    return [(corners[i - 1], corners[i]) for i in range(len(corners))]


def _holds(corners: Sequence[tuple[float, float]], x: float, y: float) -> bool:
    return all((bx - ax) * (y - ay) >= (by - ay) * (x - ax) for (ax, ay), (bx, by) in _sides(corners))


def _to_segment(x: float, y: float, a: tuple[float, float], b: tuple[float, float]) -> float:
    ax, ay = a
    dx, dy = b[0] - ax, b[1] - ay
    along = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)
    along = min(1.0, max(0.0, along))
    return math.hypot(x - ax - along * dx, y - ay - along * dy)


def gap_between(one: Sequence[tuple[float, float]], other: Sequence[tuple[float, float]]) -> float:
    """Distance between two points or convex polygons; minus the depth of overlap where they cross."""
    if len(one) == 1 and len(other) == 1:
        return math.dist(one[0], other[0])
    if len(one) == 1 or len(other) == 1:
        (x, y), corners = (one[0], other) if len(one) == 1 else (other[0], one)
        away = min(_to_segment(x, y, a, b) for a, b in _sides(corners))
        return -away if _holds(corners, x, y) else away
    overlap = _overlap(one, other)
    if overlap > 0:
        return -overlap
    to_other = min(_to_segment(x, y, a, b) for x, y in one for a, b in _sides(other))
    to_one = min(_to_segment(x, y, a, b) for x, y in other for a, b in _sides(one))
    return min(to_other, to_one)


def _overlap(one: Sequence[tuple[float, float]], other: Sequence[tuple[float, float]]) -> float:
    """Least overlap over the directions of all sides; 0 or less when some direction parts the two."""
    least = math.inf
    for (ax, ay), (bx, by) in _sides(one) + _sides(other):
        long = math.hypot(bx - ax, by - ay)
        nx, ny = (by - ay) / long, (ax - bx) / long
        ones, others = [nx * x + ny * y for x, y in one], [nx * x + ny * y for x, y in other]
        least = min(least, min(max(ones), max(others)) - max(min(ones), min(others)))
    return least


def edge_of(outline: Outline) -> tuple[list[tuple[float, float]], float]:
    """Points (and a radius round them) whose lying inside a convex chamber puts the whole shelf inside."""
    if isinstance(outline, Round):
        return [(0.0, 0.0)], outline.diameter_mm / 2
    if isinstance(outline, Rectangle):
        w, d = outline.width_mm / 2, outline.depth_mm / 2
        return [(-w, -d), (w, -d), (w, d), (-w, d)], 0.0
    if isinstance(outline, Polygon):
        return list(outline.corners_mm), 0.0
    start = {"right": -90, "back": 0, "left": 90, "front": 180}[outline.side]
    r = outline.diameter_mm / 2
    angles = [math.radians(start + step) for step in range(181)]
    return [(r * math.cos(a), r * math.sin(a)) for a in angles], 0.0
