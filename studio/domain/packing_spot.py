"""A place for one more piece on a shelf where others already stand.

A footprint's centre may go anywhere but inside the outlines of the others, each grown by the footprint and
the gap. What is left free, if anything is, has a corner where two of those grown outlines or walls cross, or
an extreme point of one of them. So trying the crossings and the extremes finds a place whenever there is one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from .packing_shapes import Block, Board, Disc, Footprint, Outline, Placed, Rectangle, halves

INFINITE = math.inf

# An edge the centre may slide along: (kind, parameters, left, front, right, back), the last four being the
# box that holds it. "arc": centre x, y and radius. "line": n·p = c.
_Edge = tuple[str, tuple[float, float, float], float, float, float, float]


def spot(
    *,
    shelf: Outline,
    placed: Iterable[tuple[Footprint, Placed]],
    footprint: Footprint,
    gap_mm: float,
    kept_clear: Iterable[Disc] = (),
    edge_mm: float = 0.0,
) -> Placed | None:
    """A free place for one more footprint, or None when there is none.

    ``placed`` holds (footprint, place) of what stands there already; nothing of it is moved. The piece goes
    as far out towards the edge as it can, so that the middle stays free. The same input gives the same place.
    ``gap_mm`` is kept between pieces, ``edge_mm`` to the edge of the shelf.
    """
    board = Board(shelf, gap_mm=gap_mm, edge_mm=edge_mm, kept_clear=kept_clear, placed=placed)
    return first_spot(board, footprint)


def first_spot(board: Board, footprint: Footprint) -> Placed | None:
    """The outermost free place on a board, or None."""
    ways = (False, True) if _worth_turning(footprint) else (False,)
    points = {(round(x, 7), round(y, 7), way) for way in ways for x, y in candidates(board, footprint, way)}
    for x, y, way in sorted(points, key=lambda p: (-round(math.hypot(p[0], p[1]), 4), p[1], p[0], p[2])):
        place = Placed(x, y, way)
        if board.fits(footprint, place):
            return place
    return None


def _worth_turning(footprint: Footprint) -> bool:
    return isinstance(footprint, Rectangle) and footprint.width_mm != footprint.depth_mm


def candidates(board: Board, footprint: Footprint, turned: bool = False) -> Iterator[tuple[float, float]]:
    """Points where the footprint's centre would be wedged between two things or stand at an extreme of
    one."""
    half_width, half_depth = halves(footprint, turned)
    is_round = not isinstance(footprint, Rectangle)
    edges = list(_walls(board, half_width, half_depth, is_round))
    for block in board.blocks:
        edges += _round_about(block, half_width, half_depth, is_round, board.gap_mm)
    for x, y, radius in board.kept_clear:
        disc = Block.__new__(Block)
        disc.x, disc.y, disc.half_width, disc.half_depth, disc.round = x, y, radius, radius, True
        edges += _round_about(disc, half_width, half_depth, is_round, 0.0)
    yield 0.0, 0.0
    for kind, (a, b, c), left, front, right, back in edges:
        if kind == "arc":
            yield from ((a - c, b), (a + c, b), (a, b - c), (a, b + c))
        elif right < INFINITE:
            yield from ((left, front), (right, back))
    for i, one in enumerate(edges):
        _, _, left, front, right, back = one
        for other in edges[:i]:
            if other[2] <= right and other[4] >= left and other[3] <= back and other[5] >= front:
                yield from _crossings(one, other)


def _walls(board: Board, half_width: float, half_depth: float, is_round: bool) -> Iterator[_Edge]:
    region = board.region
    if region.disc is not None:
        if is_round:
            corners = [(0.0, 0.0)]
            radius = region.disc - half_width
        else:
            corners = [(sx * half_width, sy * half_depth) for sx in (-1, 1) for sy in (-1, 1)]
            radius = region.disc
        if radius >= 0:
            for x, y in corners:
                yield "arc", (x, y, radius), x - radius, y - radius, x + radius, y + radius
    for nx, ny, c in region.planes:
        support = half_width if is_round else abs(nx) * half_width + abs(ny) * half_depth
        yield "line", (nx, ny, c - support), -INFINITE, -INFINITE, INFINITE, INFINITE


def _round_about(
    block: Block, half_width: float, half_depth: float, is_round: bool, gap: float
) -> Iterator[_Edge]:
    """The outline of a block grown by the footprint and the gap: a circle, or a box with rounded corners."""
    x, y = block.x, block.y
    if block.round and is_round:
        reach = block.half_width + half_width + gap
        yield "arc", (x, y, reach), x - reach, y - reach, x + reach, y + reach
        return
    if block.round:
        width, depth, radius = half_width, half_depth, block.half_width + gap
    elif is_round:
        width, depth, radius = block.half_width, block.half_depth, half_width + gap
    else:
        width, depth, radius = block.half_width + half_width, block.half_depth + half_depth, gap
    for sign in (-1, 1):
        across, along = x + sign * (width + radius), y + sign * (depth + radius)
        yield "line", (1.0, 0.0, across), across, y - depth, across, y + depth
        yield "line", (0.0, 1.0, along), x - width, along, x + width, along
    if radius > 0:
        for sx in (-1, 1):
            for sy in (-1, 1):
                cx, cy = x + sx * width, y + sy * depth
                ex, ey = cx + sx * radius, cy + sy * radius
                yield "arc", (cx, cy, radius), min(cx, ex), min(cy, ey), max(cx, ex), max(cy, ey)


def _crossings(one: _Edge, other: _Edge) -> Iterator[tuple[float, float]]:
    if one[0] == "line" and other[0] == "line":
        (ax, ay, ac), (bx, by, bc) = one[1], other[1]
        det = ax * by - ay * bx
        if abs(det) > 1e-12:
            yield (ac * by - ay * bc) / det, (ax * bc - ac * bx) / det
        return
    if one[0] == "arc" and other[0] == "arc":
        (x1, y1, r1), (x2, y2, r2) = one[1], other[1]
        dx, dy = x2 - x1, y2 - y1
        square = dx * dx + dy * dy
        if square < 1e-18:
            return
        along = (square + r1 * r1 - r2 * r2) / (2 * square)
        rest = r1 * r1 / square - along * along
        # Circles that only just miss each other still give the point between them; `fits` has the last word.
        if rest < -1e-9:
            return
        across = math.sqrt(max(rest, 0.0))
        yield x1 + along * dx - across * dy, y1 + along * dy + across * dx
        yield x1 + along * dx + across * dy, y1 + along * dy - across * dx
        return
    line, arc = (one, other) if one[0] == "line" else (other, one)
    nx, ny, c = line[1]
    x, y, radius = arc[1]
    away = c - nx * x - ny * y
    rest = radius * radius - away * away
    if rest < -1e-9 * max(1.0, radius * radius):
        return
    across = math.sqrt(max(rest, 0.0))
    yield x + away * nx - across * ny, y + away * ny + across * nx
    yield x + away * nx + across * ny, y + away * ny - across * nx
