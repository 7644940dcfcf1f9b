"""Loads against general libraries that know nothing of how the planner works. Invented pieces."""

from __future__ import annotations

import random
import time
from collections import defaultdict
from dataclasses import replace

import pytest

from studio.domain.loading import Chamber, Item, Shelf, Stock, Weights
from studio.domain.packing import Rectangle, Round

from .loads import full_kiln, mixed_pieces
from .test_loading_plan import planned

cp_model = pytest.importorskip("ortools.sat.python.cp_model")
rectpack = pytest.importorskip("rectpack")
GAP = 5


def test_the_bound_holds_against_an_exhaustive_solver() -> None:
    """Boxes on one square shelf: no selection that ortools' CP-SAT proves best is worth more than the
    bound."""
    shelf = Shelf(Rectangle(300, 300))
    kiln = Chamber(Rectangle(325, 325), 200, floor_mm=0, prop_side_mm=0)
    for seed in range(2):
        chance = random.Random(seed)
        items = [
            Item(f"R{n}", Rectangle(chance.randrange(80, 180, 5), chance.randrange(80, 180, 5)), 100)
            for n in range(7)
        ]
        items = [replace(item, waited_days=chance.randint(0, 30)) for item in items]
        found = planned(items, chamber=kiln, stock=Stock({}, {shelf: 1}), seconds=1)
        best = _proved_best(items)
        assert found.value <= best + 1e-6
        assert found.value >= 0.95 * best
        assert best <= found.value_bound + 1e-6


@pytest.mark.full
@pytest.mark.parametrize("seed", [0, 1])
def test_two_seconds_reach_what_another_search_finds_in_a_minute(seed: int) -> None:
    """80 pieces on the planner's own layers of a rectangular kiln: at least 95 % of what rectpack reaches
    when its orders are shuffled for a minute. Rounds are boxes to it."""
    items = mixed_pieces(random.Random(seed), 80)
    chamber, stock = full_kiln(rectangular=True)
    chamber = replace(chamber, kept_clear=(), prop_side_mm=0)
    found = planned(items, chamber=chamber, stock=stock, seconds=2)
    theirs = _shuffled_for(60, items, found.load, random.Random(seed))
    print(f"planner {found.value:.0f}, rectpack {theirs:.0f}, bound {found.value_bound:.0f}")
    assert found.value >= 0.95 * theirs


def _shuffled_for(seconds: float, items, load, chance: random.Random) -> float:
    """Most points that rectpack reaches: layers from the lowest, pieces by points for their area, blurred."""
    layers = sorted(load.layers, key=load.room_mm)
    worth = {item.key: Weights().of(item) for item in items}
    until, best = time.process_time() + seconds, 0.0
    while time.process_time() < until:
        blur = chance.choice((0.0, 0.2, 0.5))
        power = chance.choice((0.3, 0.6, 1.0))
        liking = {
            i.key: worth[i.key] / i.footprint.area_mm2**power * (1 + blur * chance.uniform(-1, 1))
            for i in items
        }
        left = sorted(items, key=lambda i: -liking[i.key])
        total = 0.0
        for layer in layers:
            shelf = layer.shelf.outline
            packer = rectpack.newPacker(
                mode=rectpack.PackingMode.Online, pack_algo=rectpack.MaxRectsBssf, rotation=True
            )
            packer.add_bin(shelf.width_mm + GAP, shelf.depth_mm + GAP)
            for item in left:
                if item.height_mm <= load.room_mm(layer):
                    foot = item.footprint
                    wide, deep = (
                        (foot.diameter_mm,) * 2 if isinstance(foot, Round) else (foot.width_mm, foot.depth_mm)
                    )
                    packer.add_rect(wide + GAP, deep + GAP, item.key)
            stands = {key for *_, key in packer.rect_list()}
            total += sum(worth[key] for key in stands)
            left = [item for item in left if item.key not in stands]
        best = max(best, total)
    return best


def _proved_best(items) -> float:
    """Most points of boxes on one shelf of 300 mm, all lengths in steps of 5 mm: proved by the solver."""
    value, proved = _solved(items, [100], 300, 300, step=5, seconds=60)
    assert proved
    return value


def _solved(items, rooms, width: int, depth: int, *, step: int, seconds: float) -> tuple[float, bool]:
    """Points of boxes kept 5 mm apart on layers of these rooms, and whether no more is possible."""
    model = cp_model.CpModel()
    across, along, points = defaultdict(list), defaultdict(list), []
    for item in items:
        foot = item.footprint
        if isinstance(foot, Round):
            foot = Rectangle(foot.diameter_mm, foot.diameter_mm)
        w, d = (int(foot.width_mm) + GAP) // step, (int(foot.depth_mm) + GAP) // step
        ways = []
        for level, room in enumerate(rooms):
            if item.height_mm > room:
                continue
            for wide, deep in dict.fromkeys([(w, d), (d, w)]):
                take = model.new_bool_var("")
                x = model.new_int_var(0, (width + GAP) // step - wide, "")
                y = model.new_int_var(0, (depth + GAP) // step - deep, "")
                across[level].append(model.new_optional_fixed_size_interval_var(x, wide, take, ""))
                along[level].append(model.new_optional_fixed_size_interval_var(y, deep, take, ""))
                ways.append(take)
                points.append(take * round(1_000_000 * Weights().of(item)))
        model.add(sum(ways) <= 1)
    for level in across:
        model.add_no_overlap_2d(across[level], along[level])
    model.maximize(sum(points))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return solver.objective_value / 1_000_000, status == cp_model.OPTIMAL
