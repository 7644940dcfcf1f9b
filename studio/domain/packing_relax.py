"""Pieces that overlap a little push each other apart until all stand free, or until it is plain that they
cannot.

Each pair that is too close is moved apart by half of what is missing, each piece that hangs over is moved in,
over and over. Used to squeeze in one more piece, and for equal round ware, where good packings are known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .packing_budget import Budget
from .packing_shapes import Board, Footprint, Placed, Rectangle, halves

#: Pieces are pushed this much further apart than they need, so that the result is free of rounding.
MARGIN_MM = 0.02
#: And by this much where places are then rounded to whole millimetres, which may bring two pieces 1.4 mm
#: nearer.
WHOLE_MARGIN_MM = 1.5
ROUNDS = 400


def relax(
    board: Board,
    footprints: Sequence[Footprint],
    starts: Sequence[Placed],
    budget: Budget,
    rounds: int = ROUNDS,
    whole_mm: bool = False,
) -> list[Placed] | None:
    """Push the pieces free of each other, of what stands on the board, and of its edge; None where that is
    not to be.

    ``board`` itself is not changed; its blocks do not move. ``whole_mm`` gives places in whole millimetres.
    """
    pieces = Pushed(board, footprints, starts, WHOLE_MARGIN_MM if whole_mm else MARGIN_MM)
    worst_so_far, since = math.inf, 0
    cost = pieces.cost
    for _ in range(rounds):
        worst = pieces.push()
        if worst <= pieces.margin / 2:
            break
        if not budget.spend(cost):
            return None
        if worst < worst_so_far * 0.97:
            worst_so_far, since = worst, 0
        else:
            since += 1
            if since > 60:
                return None
    else:
        return None
    places = [Placed(x, y, s.turned) for x, y, s in zip(pieces.x, pieces.y, starts, strict=True)]
    if whole_mm:
        places = [Placed(round(p.x_mm), round(p.y_mm), p.turned) for p in places]
    check = Board(board.region.outline, gap_mm=board.gap_mm)
    check.region, check.kept_clear, check.blocks = board.region, board.kept_clear, list(board.blocks)
    for footprint, place in zip(footprints, places, strict=True):
        if not check.fits(footprint, place):
            return None
        check.add(footprint, place)
    return places


class Pushed:
    """Pieces on the move: centres, half sizes, and what stands still around them."""

    def __init__(
        self, board: Board, footprints: Sequence[Footprint], starts: Sequence[Placed], margin: float
    ) -> None:
        self.margin = margin
        self.x = [place.x_mm for place in starts]
        self.y = [place.y_mm for place in starts]
        sizes = [halves(f, s.turned) for f, s in zip(footprints, starts, strict=True)]
        self.w = [w for w, _ in sizes]
        self.d = [d for _, d in sizes]
        self.round = [not isinstance(f, Rectangle) for f in footprints]
        self.region = board.region
        self.gap = board.gap_mm + margin
        self.still = [(b.x, b.y, b.half_width, b.half_depth, b.round, self.gap) for b in board.blocks]
        self.still += [(x, y, radius, radius, True, margin) for x, y, radius in board.kept_clear]
        self.all_round = all(self.round)
        n = len(starts)
        self.cost = 1 + n * (n + 2 * len(self.still)) // (16 if self.all_round else 6) + n

    def push(self) -> float:
        """One round of pushing; gives the largest distance that was missing."""
        worst = self._walls()
        worst = max(worst, self._rounds() if self.all_round else self._mixed())
        if self.still:
            worst = max(worst, self._still())
        return worst

    def _walls(self) -> float:
        worst, region = 0.0, self.region
        for i in range(len(self.x)):
            x, y, w, d = self.x[i], self.y[i], self.w[i], self.d[i]
            if region.disc is not None:
                if self.round[i]:
                    cx, cy, reach = x, y, region.disc - w - self.margin
                else:
                    cx, cy = x + math.copysign(w, x), y + math.copysign(d, y)
                    reach = region.disc - self.margin
                far = math.hypot(cx, cy)
                if far > reach and far > 0:
                    over = far - reach
                    worst = max(worst, over)
                    x -= cx / far * over
                    y -= cy / far * over
            for nx, ny, c in region.planes:
                support = w if self.round[i] else abs(nx) * w + abs(ny) * d
                over = nx * x + ny * y + support + self.margin - c
                if over > 0:
                    worst = max(worst, over)
                    x -= nx * over
                    y -= ny * over
            self.x[i], self.y[i] = x, y
        return worst

    def _rounds(self) -> float:
        xs, ys, rs, gap = self.x, self.y, self.w, self.gap
        worst, n = 0.0, len(xs)
        for i in range(1, n):
            x, y, r = xs[i], ys[i], rs[i] + gap
            for j in range(i):
                dx = x - xs[j]
                dy = y - ys[j]
                need = r + rs[j]
                square = dx * dx + dy * dy
                if square < need * need:
                    away = math.sqrt(square)
                    short = need - away
                    if short > worst:
                        worst = short
                    if away > 1e-9:
                        push = 0.5 * short / away
                        dx *= push
                        dy *= push
                    else:
                        dx, dy = 0.5 * short, 0.0
                    x += dx
                    y += dy
                    xs[j] -= dx
                    ys[j] -= dy
            xs[i], ys[i] = x, y
        return worst

    def _mixed(self) -> float:
        worst = 0.0
        xs, ys = self.x, self.y
        for i in range(1, len(xs)):
            for j in range(i):
                a = (xs[i], ys[i], self.w[i], self.d[i], self.round[i])
                b = (xs[j], ys[j], self.w[j], self.d[j], self.round[j])
                dx, dy = _missing(a, b, self.gap)
                if dx or dy:
                    worst = max(worst, math.hypot(dx, dy))
                    xs[i] += dx / 2
                    ys[i] += dy / 2
                    xs[j] -= dx / 2
                    ys[j] -= dy / 2
        return worst

    def _still(self) -> float:
        worst = 0.0
        for i in range(len(self.x)):
            for x, y, w, d, is_round, gap in self.still:
                a = (self.x[i], self.y[i], self.w[i], self.d[i], self.round[i])
                dx, dy = _missing(a, (x, y, w, d, is_round), gap)
                if dx or dy:
                    worst = max(worst, math.hypot(dx, dy))
                    self.x[i] += dx
                    self.y[i] += dy
        return worst


_Piece = tuple[float, float, float, float, bool]


def _missing(a: _Piece, b: _Piece, gap: float) -> tuple[float, float]:
    """How far a must move away from b so that they stand ``gap`` apart; (0, 0) when they do."""
    dx, dy = a[0] - b[0], a[1] - b[1]
    if a[4] and b[4]:
        beyond_x, beyond_y, need = dx, dy, a[2] + b[2] + gap
        away = math.hypot(dx, dy)
    else:
        wide = (0.0 if a[4] else a[2]) + (0.0 if b[4] else b[2])
        deep = (0.0 if a[4] else a[3]) + (0.0 if b[4] else b[3])
        need = (a[2] if a[4] else 0.0) + (b[2] if b[4] else 0.0) + gap
        over_x, over_y = abs(dx) - wide, abs(dy) - deep
        if over_x >= need or over_y >= need:
            return 0.0, 0.0
        if over_x <= 0 or over_y <= 0:
            if over_x > over_y:
                return math.copysign(need - over_x, dx), 0.0
            return 0.0, math.copysign(need - over_y, dy)
        beyond_x, beyond_y = math.copysign(over_x, dx), math.copysign(over_y, dy)
        away = math.hypot(over_x, over_y)
    if away >= need:
        return 0.0, 0.0
    if away < 1e-9:
        return need, 0.0
    short = need - away
    return beyond_x / away * short, beyond_y / away * short
