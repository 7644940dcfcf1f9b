"""Two reckonings of one thing: what the planner's board allows and what the checker, by other arithmetic,
finds."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from studio.domain.loading import Clearances, Item, Layer, Load, Position, kept_clear_on, plan, problems, spot
from studio.domain.loading_check import prop_middles
from studio.domain.loading_room import edge_mm, prop_places
from studio.domain.packing import Board, Placed, Rectangle, Round

from .loads import any_kiln, any_pieces, full_kiln


@pytest.mark.parametrize("cases", [200, pytest.param(2000, marks=pytest.mark.full)])
def test_board_and_checker_agree_on_random_pairs(cases: int) -> None:
    """Any shelf, a piece standing and one put down anywhere: allowed by the one if and only if by the
    other."""
    allowed = refused = 0
    for number in range(cases):
        chance = random.Random(number)
        chamber, stock = any_kiln(chance)
        shelf = next((s for s in stock.shelves if not s.half), None)
        if shelf is None or chamber.height_mm < 250:
            continue
        chamber = replace(chamber, kept_clear=tuple(z for z in chamber.kept_clear if z.to_mm is None))
        stock = replace(stock, props={102: 3}, shelves={shelf: 2})
        load = Load(
            chamber,
            (Layer(1, shelf, (102,)), Layer(2, shelf)),
            (),
            stock,
            Clearances(6.5, chance.uniform(0, 20)),
        )
        layer = load.layers[0]
        items = {}
        for key in ("STANDS", "COMES"):
            if chance.random() < 0.5:
                foot = Round(chance.uniform(20, 150))
            else:
                foot = Rectangle(chance.uniform(20, 150), chance.uniform(20, 150))
            items[key] = Item(key, foot, chance.uniform(20, 80))
        first = spot(load=load, items={}, item=items["STANDS"], layer=layer)
        if first is None:
            continue
        load = replace(load, positions=(Position("STANDS", 1, first),))
        assert problems(load=load, items=items.values()) == [], number
        board = Board(
            shelf.outline,
            gap_mm=load.clearances.ware_mm,
            edge_mm=edge_mm(load, layer),
            kept_clear=kept_clear_on(load, layer, height_mm=items["COMES"].height_mm),
            placed=[(items["STANDS"].footprint, first)],
        )
        for _ in range(8):
            place = Placed(chance.uniform(-260, 260), chance.uniform(-260, 260), chance.random() < 0.5)
            both = replace(load, positions=(*load.positions, Position("COMES", 1, place)))
            legal = problems(load=both, items=items.values()) == []
            fits = board.fits(items["COMES"].footprint, place)
            # The board stays a little farther from a wall that is not the shelf's own shape: never nearer.
            assert legal or not fits, (number, place)
            allowed, refused = allowed + fits, refused + (not legal)
            same_shape = type(chamber.outline) is type(shelf.outline)
            if same_shape and not isinstance(chamber.outline, Rectangle):
                assert legal == fits, (number, place)
    assert allowed > cases / 2
    assert refused > cases / 2


def test_both_put_the_props_in_the_same_places() -> None:
    for number in range(200):
        chamber, stock = any_kiln(random.Random(number))
        for shelf in stock.shelves:
            layer = Layer(1, shelf, side="left" if shelf.half else "whole")
            ours = prop_places(chamber, layer)
            theirs = prop_middles(Load(chamber, (layer,), (), stock), layer)
            for (x, y), (a, b) in zip(ours, theirs, strict=True):
                assert abs(x - a) < 2e-3
                assert abs(y - b) < 2e-3


def test_a_sound_plan_that_is_shaken_is_found_out() -> None:
    """A piece of a sound load moved on to the middle of another, each in turn: every one is noticed."""
    chance = random.Random(5)
    items = [item for item in any_pieces(chance, 40) if item.bone_dry]
    chamber, stock = full_kiln()
    load = plan(items=items, chamber=chamber, stock=stock, seconds=0.2, seed=1).load
    assert problems(load=load, items=items) == []
    moved = 0
    for k, position in enumerate(load.positions):
        for other in load.positions:
            if other is position or other.layer != position.layer:
                continue
            shaken = replace(
                position, place=replace(position.place, x_mm=other.place.x_mm, y_mm=other.place.y_mm)
            )
            positions = (*load.positions[:k], shaken, *load.positions[k + 1 :])
            found = problems(load=replace(load, positions=positions), items=items)
            assert any(p.code == "overlap" and position.key in p.keys for p in found)
            moved += 1
    assert moved > 50
