"""The checker finds each kind of fault in a load, and nothing in a sound one.

Clearances, three props to a shelf and two props stacked are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from studio.domain.loading import (
    Chamber,
    Clearances,
    Item,
    KeptClear,
    Layer,
    Load,
    Position,
    Shelf,
    Stock,
    problems,
    spot,
)
from studio.domain.packing import HalfRound, Placed, Polygon, Rectangle, Round
from studio.domain.problems import DomainError

WHOLE = Shelf(Round(diameter_mm=400))
LEFT = Shelf(HalfRound(diameter_mm=400, side="left"), half=True)
RIGHT = Shelf(HalfRound(diameter_mm=400, side="right"), half=True)
STOCK = Stock(props={51: 3, 102: 6, 152: 6}, shelves={WHOLE: 3, LEFT: 2, RIGHT: 2})
CHAMBER = Chamber(Round(diameter_mm=425), height_mm=450, prop_side_mm=0)


def piece(key: str, diameter: float = 100, height: float = 90, **more: object) -> Item:
    return Item(key, Round(diameter_mm=diameter), height, **more)


def two_layers(*positions: Position, chamber: Chamber = CHAMBER, **more: object) -> Load:
    layers = (Layer(1, WHOLE, (102,)), Layer(2, WHOLE))
    return Load(chamber, layers, positions, STOCK, **more)


def at(key: str, layer: int, x: float, y: float, **more: object) -> Position:
    return Position(key, layer, Placed(x, y), **more)


def codes(load: Load, *items: Item) -> list[str]:
    return [problem.code for problem in problems(load=load, items=items)]


def test_a_sound_load_has_no_problems() -> None:
    load = two_layers(at("A", 1, 0, 0), at("B", 1, 105, 0), at("C", 2, 0, 0))
    assert codes(load, piece("A"), piece("B"), piece("C", height=200)) == []


def test_pieces_stand_far_enough_apart() -> None:
    load = two_layers(at("A", 1, 0, 0), at("B", 1, 104.9, 0))
    found = problems(load=load, items=[piece("A"), piece("B")])
    assert [(p.code, p.keys, p.layer) for p in found] == [("overlap", ("A", "B"), 1)]
    assert "4.9 mm apart" in found[0].message
    assert codes(replace(load, clearances=Clearances.for_bisque(), bisque=True), piece("A"), piece("B")) == []


@pytest.mark.parametrize(
    ("one", "other", "x", "y", "apart"),
    [
        (Round(60), Round(80), 30, 40, -20.0),
        (Round(60), Round(80), 45, 60, 5.0),
        (Rectangle(60, 40), Rectangle(40, 80), 53, 64, 5.0),
        (Rectangle(60, 40), Rectangle(40, 80), 54.99, 0, 4.99),
        (Rectangle(60, 40), Round(50), 30 + 18, 20 + 24, 5.0),
        (Rectangle(60, 40), Round(50), 0, 49.9, 4.9),
    ],
)
def test_distances_between_outlines(one, other, x, y, apart) -> None:
    """Right triangles 3-4-5 beside the corners: distances worked out by hand."""
    load = two_layers(at("A", 1, 0, 0), at("B", 1, x, y))
    found = codes(load, Item("A", one, 50), Item("B", other, 50))
    assert found == ([] if apart >= 5 else ["overlap"])


def test_a_piece_on_the_edge_and_by_the_wall() -> None:
    assert codes(two_layers(at("A", 1, 150, 0)), piece("A")) == []
    assert codes(two_layers(at("A", 1, 150.1, 0)), piece("A")) == ["off-shelf"]
    assert codes(two_layers(at("A", 1, 158, 0)), piece("A")) == ["off-shelf", "wall"]


def test_a_turned_rectangle_is_checked_as_turned() -> None:
    item = Item("A", Rectangle(380, 60), 50)
    assert codes(two_layers(Position("A", 1, Placed(0, 0))), item) == []
    off = Position("A", 1, Placed(150, 0, turned=True))
    assert codes(two_layers(off), item) == ["off-shelf", "wall"]
    assert codes(two_layers(Position("A", 1, Placed(0, 0, turned=True))), item) == []


def test_heights_under_the_shelf_and_under_the_lid() -> None:
    assert codes(two_layers(at("A", 1, 0, 0)), piece("A", height=92)) == []
    assert codes(two_layers(at("A", 1, 0, 0)), piece("A", height=92.1)) == ["too-tall"]
    # 450 - 25 lid - (25 floor + 16 + 102 + 16) = 266
    assert codes(two_layers(at("A", 2, 0, 0)), piece("A", height=266)) == []
    assert codes(two_layers(at("A", 2, 0, 0)), piece("A", height=266.1)) == ["too-tall"]


def test_the_thermocouple_is_kept_clear_only_where_it_is() -> None:
    chamber = replace(CHAMBER, kept_clear=(KeptClear(200, 0, 25, from_mm=200, to_mm=250),))
    assert codes(two_layers(at("A", 2, 125, 0), chamber=chamber), piece("A")) == []
    assert codes(two_layers(at("A", 2, 126, 0), chamber=chamber), piece("A")) == ["thermocouple"]
    assert codes(two_layers(at("A", 1, 126, 0), chamber=chamber), piece("A")) == []
    low = replace(CHAMBER, kept_clear=(KeptClear(200, 0, 25, from_mm=140, to_mm=150),))
    assert codes(two_layers(chamber=low)) == ["shelf-thermocouple"]


def test_props_are_counted_three_to_a_shelf() -> None:
    three = (Layer(1, WHOLE, (51,)), Layer(2, WHOLE, (51,)), Layer(3, WHOLE))
    assert codes(Load(CHAMBER, three, (), STOCK)) == ["props-short"]
    assert codes(Load(CHAMBER, (three[0], three[2]), (), STOCK)) == []
    halves = (Layer(1, WHOLE, (102,)), Layer(2, LEFT, side="left"), Layer(3, RIGHT, side="right"))
    assert codes(Load(CHAMBER, halves, (), STOCK)) == []
    halves = (Layer(1, WHOLE, (51,)), Layer(2, LEFT, side="left"), Layer(3, RIGHT, side="right"))
    assert codes(Load(CHAMBER, halves, (), STOCK)) == ["props-short"]


def test_two_props_may_be_stacked_and_three_may_not() -> None:
    assert codes(Load(CHAMBER, (Layer(1, WHOLE, (51, 102)), Layer(2, WHOLE)), (), STOCK)) == []
    found = codes(Load(CHAMBER, (Layer(1, WHOLE, (51, 102, 152)), Layer(2, WHOLE)), (), STOCK))
    assert found == ["props-stacked"]


def test_shelves_are_counted_and_the_chamber_has_a_top() -> None:
    layers = tuple(Layer(n, WHOLE, (102,) if n < 4 else ()) for n in range(1, 5))
    found = codes(Load(CHAMBER, layers, (), STOCK))
    assert sorted(found) == ["props-short", "shelves-short"]
    tall = Load(replace(CHAMBER, height_mm=180), layers[:1] + layers[-1:], (), STOCK)
    assert "too-high" in codes(tall)


def test_whole_shelves_lie_under_half_shelves() -> None:
    layers = (
        Layer(1, LEFT, (102,), side="left"),
        Layer(2, RIGHT, (102,), side="right"),
        Layer(3, WHOLE),
    )
    assert "whole-over-halves" in codes(Load(CHAMBER, layers, (), STOCK))


def test_ware_on_two_half_shelves_keeps_apart_too() -> None:
    layers = (Layer(1, LEFT, side="left"), Layer(2, RIGHT, side="right"))
    near = Load(CHAMBER, layers, (at("A", 1, -50, 0), at("B", 2, 52, 0)), STOCK)
    assert codes(near, piece("A"), piece("B")) == ["overlap"]
    far = replace(near, positions=(at("A", 1, -52.5, 0), at("B", 2, 52.5, 0)))
    assert codes(far, piece("A"), piece("B")) == []


def test_no_ware_stands_on_a_prop() -> None:
    chamber = replace(CHAMBER, prop_side_mm=30)
    # The prop at the back has its middle 200 - 15 = 185 mm from the middle; 15 + 5 + 50 more to the piece.
    assert codes(two_layers(at("A", 1, 0, 115), chamber=chamber), piece("A")) == []
    assert codes(two_layers(at("A", 1, 0, 116), chamber=chamber), piece("A")) == ["prop"]
    assert codes(two_layers(at("A", 2, 0, 150), chamber=chamber), piece("A")) == []


def test_mixed_cones_and_damp_ware_can_be_overruled_and_nothing_else_can() -> None:
    load = two_layers(at("A", 1, 0, 0), at("B", 1, 110, 0), at("C", 1, -110, 0))
    items = [piece("A", cone="6"), piece("B", cone="04"), piece("C", bone_dry=False)]
    found = problems(load=load, items=items)
    assert [(p.code, p.overridable) for p in found] == [("mixed-cones", True), ("damp", True)]


def test_nesting_and_boxing_need_bisque_leave_and_a_fit() -> None:
    bowl = piece("A", 120, 70, hollow=Round(100), hollow_depth_mm=60, rim_open=True)
    cup, twin = piece("B", 90, 60), piece("C", 122, 20, rim_open=True)
    nested = two_layers(
        at("A", 1, 0, 0), at("B", 1, 0, 0, rests_on="A", how="nested"), bisque=True, may_stack=True
    )
    assert codes(nested, bowl, cup) == []
    assert codes(nested, bowl, replace(cup, height_mm=83)) == ["too-tall"]
    assert codes(nested, bowl, replace(cup, footprint=Round(101))) == ["nested-too-wide"]
    assert codes(replace(nested, may_stack=False), bowl, cup) == ["stacked"]
    assert codes(replace(nested, bisque=False), bowl, cup) == ["stacked-glaze"]
    boxed = replace(nested, positions=(at("A", 1, 0, 0), at("C", 1, 0, 0, rests_on="A", how="boxed")))
    assert codes(boxed, bowl, twin) == []
    assert codes(boxed, bowl, replace(twin, footprint=Round(126))) == ["boxed-rims"]


def test_the_same_piece_twice_an_unknown_piece_an_unknown_layer() -> None:
    load = two_layers(at("A", 1, 0, 0), at("A", 2, 0, 0), at("B", 1, 110, 0), at("C", 9, 0, 0))
    assert sorted(codes(load, piece("A"), piece("C"))) == ["layer-unknown", "piece-twice", "piece-unknown"]


@pytest.mark.parametrize(
    "outline", [Round(400), Rectangle(380, 420), Polygon.regular(sides=8, inscribed_mm=400)]
)
def test_spots_found_one_by_one_make_a_legal_load(outline) -> None:
    shelf = Shelf(outline)
    chamber = Chamber(
        Polygon.regular(sides=8, inscribed_mm=425) if isinstance(outline, Polygon) else Rectangle(480, 480),
        height_mm=300,
        kept_clear=(KeptClear(0, 190),),
    )
    load = Load(chamber, (Layer(1, shelf, (102,)), Layer(2, shelf)), (), Stock({102: 3}, {shelf: 2}))
    items: dict[str, Item] = {}
    for n in range(40):
        shape = Round(60 + 7 * (n % 5)) if n % 2 else Rectangle(50 + 9 * (n % 4), 90)
        item = Item(f"P{n}", shape, 80)
        place = spot(load=load, items=items, item=item, layer=load.layers[n % 2])
        if place is not None:
            items[item.key] = item
            load = replace(load, positions=(*load.positions, Position(item.key, n % 2 + 1, place)))
    assert len(items) >= 16
    assert problems(load=load, items=items.values()) == []


@pytest.mark.parametrize(
    "make",
    [
        lambda: Round(0),
        lambda: Rectangle(10, float("nan")),
        lambda: Polygon(((0, 0), (100, 0), (50, 10), (50, 100))),
        lambda: HalfRound(100, "top"),
        lambda: Chamber(Round(100), -1),
        lambda: Layer(0, WHOLE),
        lambda: Item("A", Round(50), 0),
        lambda: Stock(props={51: -3}),
        lambda: Position("A", 1, Placed(0, 0), rests_on="B"),
    ],
)
def test_nonsense_is_refused_with_a_sentence(make) -> None:
    with pytest.raises(DomainError, match=r"\.$"):
        make()
