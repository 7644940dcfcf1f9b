"""Packing and loading: best known packings, cut loads, a general packing library, a minute's search, a plain
rule.

Seconds are of this process's own work, so that other work on the machine does not count.
"""

from __future__ import annotations

import math
import random
import time

import rectpack

from studio.domain.loading import Clearances, plan, problems
from studio.domain.packing import Rectangle, Round, place, spot
from tests.domain.loads import (
    cut_by_guillotine,
    first_fit_by_falling_height,
    full_kiln,
    mixed_pieces,
    value_of,
)
from tests.domain.test_packing import BEST_KNOWN, SQUARED_RECTANGLES

from .row import Row

#: A search of a minute is run on this many of the loads; the table stays a matter of minutes.
LONG_SEARCHES = 1


def rows() -> list[Row]:
    return [_rounds(), _squared(), *_cut(), _library(), _spot(), *_loads()]


def _timed(work):
    began = time.process_time()
    found = work()
    return found, time.process_time() - began


def _rounds() -> Row:
    """The largest radius, in steps of 0.25 %, at which all n rounds stand, against the best known."""
    worst, slowest = 1.0, 0.0
    for count, ratio in BEST_KNOWN.items():
        reached = 0.0
        for part in (0.9975, 0.995, 0.9925, 0.99, 0.98, 0.95):
            ware = [Round(part * 400 / ratio)] * count
            places, took = _timed(
                lambda w=ware: place(shelf=Round(400), footprints=w, gap_mm=0, seconds=1, seed=1)
            )
            if None not in places:
                reached, slowest = part, max(slowest, took)
                break
        worst = min(worst, reached)
    return Row(
        "packing",
        "equal rounds, n = 1 to 20: worst radius, slowest",
        f"{worst:.2%}, {slowest:.2f} s",
        "best known radii",
        worst,
        "99 % in 1 s",
        worst >= 0.99 and slowest < 1,
    )


def _covered(shelf: Rectangle, ware: list[Rectangle]) -> tuple[float, float]:
    places, took = _timed(lambda: place(shelf=shelf, footprints=ware, gap_mm=0, seconds=2, seed=1))
    area = sum(f.area_mm2 for f, p in zip(ware, places, strict=True) if p is not None)
    return area / sum(f.area_mm2 for f in ware), took


def _squared() -> Row:
    found = [
        _covered(Rectangle(10 * w, 10 * d), [Rectangle(10 * s, 10 * s) for s in sides])
        for w, d, sides in SQUARED_RECTANGLES
    ]
    worst, slowest = min(f[0] for f in found), max(f[1] for f in found)
    return Row(
        "packing",
        "squared rectangles: area placed, slowest",
        f"{worst:.1%}, {slowest:.2f} s",
        "covered whole (Moroń 1925)",
        worst,
        "92 % in 2 s",
        worst >= 0.92 and slowest < 2,
    )


def _cut() -> list[Row]:
    found = []
    for name, slack, goal in (("no", 1.0, 0.92), ("10 %", 1.1, 1.0)):
        worst, slowest = 1.0, 0.0
        for count in (8, 12, 16, 20, 25, 30, 40):
            ware = cut_by_guillotine(random.Random(count), 400, 420, count)
            side = math.sqrt(slack)
            part, took = _covered(Rectangle(400 * side, 420 * side), ware)
            worst, slowest = min(worst, part), max(slowest, took)
        found.append(
            Row(
                "packing",
                f"8 to 40 pieces cut from a shelf, {name} slack: area, slowest",
                f"{worst:.1%}, {slowest:.2f} s",
                "all of it, by the cuts",
                worst,
                f"{goal:.0%} in 2 s",
                worst >= goal - 1e-9 and slowest < 2,
            )
        )
    return found


def _library() -> Row:
    ratios = []
    for seed in range(8):
        chance = random.Random(seed)
        ware = [Rectangle(chance.randint(40, 150), chance.randint(40, 150)) for _ in range(30)]
        theirs = 0.0
        for algorithm in (
            rectpack.SkylineBl,
            rectpack.SkylineMwf,
            rectpack.MaxRectsBssf,
            rectpack.MaxRectsBaf,
        ):
            packer = rectpack.newPacker(rotation=True, pack_algo=algorithm, sort_algo=rectpack.SORT_AREA)
            packer.add_bin(455, 455)
            for piece in ware:
                packer.add_rect(piece.width_mm + 5, piece.depth_mm + 5)
            packer.pack()
            theirs = max(theirs, sum((w - 5) * (d - 5) for _, _, _, w, d, _ in packer.rect_list()))
        places = place(shelf=Rectangle(450, 450), footprints=ware, gap_mm=5, seconds=0.5, seed=seed)
        ratios.append(sum(f.area_mm2 for f, p in zip(ware, places, strict=True) if p is not None) / theirs)
    ratios.sort()
    return Row(
        "packing",
        "30 rectangles, 5 mm apart: area, median of 8 (worst)",
        f"{ratios[4]:.3f} ({ratios[0]:.3f})",
        "rectpack, best of 4 ways",
        ratios[4],
        "no less",
        ratios[0] >= 1,
    )


def _spot() -> Row:
    chance = random.Random(1)
    ware = [Round(60) if chance.random() < 0.5 else Rectangle(70, 60) for _ in range(40)]
    places = place(shelf=Round(500), footprints=ware, gap_mm=5, seconds=0.2, seed=1)
    board = [(f, p) for f, p in zip(ware, places, strict=True) if p is not None]
    took = sorted(
        _timed(lambda: spot(shelf=Round(500), placed=board, footprint=Rectangle(75, 60), gap_mm=5))[1]
        for _ in range(9)
    )
    return Row(
        "packing",
        f"a place for one more beside {len(board)}: median of 9",
        f"{1000 * took[4]:.0f} ms",
        goal="50 ms",
        met=took[4] < 0.05,
    )


def _loads() -> list[Row]:
    ratios, times, bounds, plain, wrong = [], [], [], [], 0
    for seed in range(5):
        items = mixed_pieces(random.Random(seed), 80)
        chamber, stock = full_kiln()
        quick, took = _timed(
            lambda i=items, c=chamber, s=stock: plan(
                items=i, chamber=c, stock=s, seconds=2, seed=1, clock=time.process_time
            )
        )
        wrong += len(problems(load=quick.load, items=items))
        times.append(took)
        bounds.append(quick.value / quick.value_bound)
        if seed < LONG_SEARCHES:
            long = plan(
                items=items, chamber=chamber, stock=stock, seconds=60, seed=99, clock=time.process_time
            )
            ratios.append(quick.value / long.value)
        falling = first_fit_by_falling_height(
            items=items, chamber=chamber, stock=stock, clearances=Clearances()
        )
        plain.append(quick.value / value_of(items, falling))
    return [
        Row(
            "loading",
            f"80 pieces, 5 shelves, 2 s: value, worst of {len(ratios)}",
            f"{min(ratios):.1%}, {max(times):.2f} s",
            "the same search in 60 s",
            min(ratios),
            "95 % in 2 s",
            min(ratios) >= 0.95 and max(times) < 2.3,
        ),
        Row(
            "loading",
            "value, worst of 5",
            f"{min(bounds):.1%}",
            "upper bound (no load can pass)",
            min(bounds),
            "at most 100 %",
            max(bounds) <= 1,
        ),
        Row(
            "loading",
            "value, worst of 5",
            f"{min(plain):.2f} times",
            "first fit by falling height",
            min(plain),
            "no less",
            min(plain) >= 1,
        ),
        Row("loading", "faults the checker finds in these loads", str(wrong), goal="0", met=wrong == 0),
    ]
