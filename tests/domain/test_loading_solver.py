"""Loads against ortools' CP-SAT, which knows nothing of how the planner works. Invented pieces."""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import replace

import pytest

from studio.domain.loading import Chamber, Item, Shelf, Stock, Weights
from studio.domain.packing import Rectangle, Round

from .loads import full_kiln, mixed_pieces
from .test_loading_plan import planned

cp_model = pytest.importorskip("ortools.sat.python.cp_model")
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
def test_two_seconds_reach_what_the_solver_finds_in_a_minute(seed: int) -> None:
    """80 pieces as boxes on the planner's own layers of a rectangular kiln: at least 95 % of the solver's
    value."""
    items = mixed_pieces(random.Random(seed), 80)
    chamber, stock = full_kiln(rectangular=True)
    chamber = replace(chamber, kept_clear=(), prop_side_mm=0)
    found = planned(items, chamber=chamber, stock=stock, seconds=2)
    rooms = [found.load.room_mm(layer) for layer in found.load.layers]
    shelf = found.load.layers[0].shelf.outline
    theirs, _ = _solved(items, rooms, int(shelf.width_mm), int(shelf.depth_mm), step=1, seconds=60)
    print(f"planner {found.value:.0f}, solver {theirs:.0f}, bound {found.value_bound:.0f}")
    assert found.value >= 0.95 * theirs


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
