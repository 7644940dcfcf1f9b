"""Each piece that stays out of a load has a reason, and words on what would help. Invented pieces."""

from __future__ import annotations

from studio.domain.loading import Item, Layer, Stock, plan, problems
from studio.domain.packing import Rectangle, Round

from .loads import PROPS
from .test_loading_plan import KILN, SHELF, STOCK, mugs, planned, reasons


def test_cones_are_not_mixed_unless_the_tutor_says_so() -> None:
    items = [*mugs(6, cone="6"), Item("LOW", Round(90), 90, cone="04"), Item("ANY", Round(90), 90)]
    found = planned(items)
    assert found.cone == "6"
    assert reasons(found) == {"LOW": "other-cone"}
    assert "cone 04" in found.left_out[0].message
    assert found.left_out[0].overridable
    assert set(planned(items, cone="04").keys) == {"LOW", "ANY"}
    both = plan(items=items, chamber=KILN, stock=STOCK, cone="6", compromise={"04"}, seconds=0.1, seed=1)
    assert len(both.keys) == 8
    assert [p.code for p in problems(load=both.load, items=items)] == ["mixed-cones"]


def test_damp_ware_waits_unless_the_tutor_overrules() -> None:
    items = [*mugs(2), Item("DAMP", Round(90), 90, bone_dry=False)]
    assert reasons(planned(items, bisque=True)) == {"DAMP": "damp"}
    found = plan(items=items, chamber=KILN, stock=STOCK, bisque=True, damp_allowed=True, seconds=0.1, seed=1)
    assert "DAMP" in found.keys


def test_pieces_that_no_layer_can_take_are_told_apart() -> None:
    items = [
        Item("TALL", Round(90), 385),
        Item("HIGH", Round(90), 384),
        Item("WIDE", Rectangle(300, 300), 50),
        *mugs(2),
    ]
    found = planned(items)
    assert reasons(found) == {"TALL": "too-tall", "WIDE": "too-wide"}
    assert "385 mm tall, 1 mm too tall for this kiln, which takes 384 mm" in found.left_out[0].message


def test_a_piece_higher_than_the_layers_that_are_to_stay() -> None:
    layers = (Layer(1, SHELF, (102,)), Layer(2, SHELF, (152,)), Layer(3, SHELF))
    found = planned([Item("VASE", Round(90), 180), *mugs(3, 80)], layers=layers)
    assert found.load.layers == layers
    assert reasons(found) == {"VASE": "no-high-layer"}
    assert "203 mm" in found.left_out[0].would_help
    assert "180 mm tall, 38 mm too tall for this load's highest layer" in found.left_out[0].message


def test_room_that_wants_a_shelf_or_props() -> None:
    one_shelf = Stock(PROPS, {SHELF: 1})
    assert set(reasons(planned(mugs(30), stock=one_shelf)).values()) == {"no-shelf"}
    no_props = Stock({}, {SHELF: 4})
    found = planned(mugs(30), stock=no_props)
    assert set(reasons(found).values()) == {"no-props"}
    assert "Three props of 100 to" in found.left_out[0].would_help
    assert set(reasons(planned(mugs(99))).values()) == {"no-room"}
    nothing = planned(mugs(2), stock=Stock(PROPS, {}))
    assert set(reasons(nothing).values()) == {"no-shelf"}
