"""What stands in a kiln stays when it is filled; ways to fill it do what they are called. Invented pieces.

Legal is what the checker says, which shares no arithmetic with the planner.
"""

from __future__ import annotations

import random

import pytest

from studio.domain.loading import Clearances, Layer, Load, Position, Stock, Weights, plan, problems
from studio.domain.loading_grow import most_share, plan_on
from studio.domain.loading_ways import COURSE, FULLEST, OLDEST, ways_for
from studio.domain.packing import Placed
from studio.domain.problems import DomainError

from .loads import PROPS, full_kiln, mixed_pieces
from .test_loading_plan import KILN, SHELF, STOCK, mugs


def grown(items, layers, held, **more):
    made = {"chamber": KILN, "stock": STOCK, "clearances": Clearances(), "seconds": 0.3, "seed": 1} | more
    found = plan_on(items=items, layers=layers, held=held, **made)
    assert problems(load=found.load, items=items) == []
    assert set(held) <= set(found.load.positions)
    assert {*found.keys, *(out.key for out in found.left_out)} == {item.key for item in items}
    return found


def test_a_kiln_with_one_pot_on_its_bottom_shelf_gets_shelves_above_it() -> None:
    items = mugs(30)
    held = (Position(items[0].key, 1, Placed(40, -30)),)
    found = grown(items, (Layer(1, SHELF),), held)
    free = plan(items=items, chamber=KILN, stock=STOCK, seconds=0.3, seed=1)
    assert len(found.load.layers) == len(free.load.layers) > 1
    assert len(found.keys) >= len(free.keys) - 3


def test_lower_layers_and_their_props_stay() -> None:
    items = mugs(30)
    held = (Position(items[0].key, 1, Placed(0, 0)), Position(items[1].key, 2, Placed(50, 50)))
    layers = (Layer(1, SHELF, (127,)), Layer(2, SHELF, (203,)), Layer(3, SHELF))
    found = grown(items, layers, held)
    assert found.load.layers[0] == layers[0]
    # The empty layer above and the props under it are furnished anew.
    props = found.load.layers[1].prop_mm
    assert props == 0 or props >= 90 + Clearances().above_mm
    assert props != 203


@pytest.mark.parametrize("stock", [Stock(PROPS, {SHELF: 1}), Stock({}, {SHELF: 4})])
def test_without_shelves_or_props_only_the_layer_that_stands_is_filled(stock) -> None:
    items = mugs(30)
    held = (Position(items[0].key, 1, Placed(0, 0)),)
    found = grown(items, (Layer(1, SHELF),), held, stock=stock)
    assert len(found.load.layers) == 1
    assert len(found.keys) > 5


def test_what_stands_wrongly_is_said_and_nothing_is_planned_round_it() -> None:
    items = mugs(4)
    held = (Position(items[0].key, 1, Placed(0, 0)), Position(items[1].key, 1, Placed(10, 0)))
    with pytest.raises(DomainError, match="can"):
        grown(items, (Layer(1, SHELF),), held)


@pytest.mark.parametrize("seed", range(3))
def test_each_way_is_best_at_what_it_is_called(seed: int) -> None:
    items = mixed_pieces(random.Random(seed), 80)
    chamber, stock = full_kiln()
    by_key = {item.key: item for item in items}
    loads = {}
    for way in (OLDEST, FULLEST, COURSE):
        found = plan_on(
            items=items,
            chamber=chamber,
            stock=stock,
            clearances=Clearances(),
            weights=way.weights,
            seconds=0.6,
            seed=1,
        )
        assert problems(load=found.load, items=items) == []
        loads[way.key] = found
        assert found.volume_share <= most_share(found, items) + 1e-9

    def sum_of(key: str, measure) -> float:
        return sum(measure(by_key[mark]) for mark in loads[key].keys)

    assert loads["fullest"].volume_share >= max(found.volume_share for found in loads.values()) - 1e-9
    assert sum_of("oldest", OLDEST.weights.of) >= sum_of("fullest", OLDEST.weights.of)
    assert sum_of("course", COURSE.weights.of) >= sum_of("oldest", COURSE.weights.of)


def test_the_end_of_a_course_is_offered_only_where_one_is_near() -> None:
    far = mugs(3, course_ends_in_days=40)
    near = mugs(3, course_ends_in_days=6)
    assert [way.key for way in ways_for([])] == ["oldest", "fullest"]
    assert [way.key for way in ways_for(far)] == ["oldest", "fullest"]
    assert [way.key for way in ways_for(near)] == ["oldest", "fullest", "course"]


def test_a_bound_is_of_the_whole_kiln_whatever_stands_in_it() -> None:
    items = mugs(60)
    held = (Position(items[0].key, 1, Placed(0, 0)),)
    part = grown(items, (Layer(1, SHELF),), held, seconds=0.1)
    free = plan(items=items, chamber=KILN, stock=STOCK, weights=Weights(), seconds=0.1, seed=1)
    assert most_share(part, items) == pytest.approx(most_share(free, items))
    assert isinstance(part.load, Load)
