"""Measures of kilns: ranges and remarks are common practice, no source; the geometry is worked by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from math import cos, hypot, radians, sin

import pytest

from studio.domain.kiln_measures import (
    MEASURES,
    STARTING_POWER_KW,
    STARTING_PROPS_MM,
    Built,
    Thermocouple,
    layer_heights,
    remarks,
)
from studio.domain.lengths import using
from studio.domain.loading_check import problems
from studio.domain.loading_shapes import Chamber, Item, Layer, Load, Position, Shelf, Stock
from studio.domain.packing_shapes import Placed, Rectangle, Round
from studio.domain.problems import DomainError

BIG = Built(
    shape="round",
    width_mm=580,
    depth_mm=580,
    height_mm=690,
    shelf_width_mm=520,
    shelf_depth_mm=520,
    shelf_thickness_mm=16,
    floor_gap_mm=25,
    lid_gap_mm=25,
    whole_shelves=5,
    half_shelves=2,
    power_kw=Decimal("11.5"),
    props={102: 9, 152: 6},
    thermocouple=Thermocouple(12, 350, reach_mm=5, clear_mm=25),
)


@pytest.mark.parametrize("name", sorted(MEASURES))
def test_every_start_is_within_its_own_range(name: str) -> None:
    measure = MEASURES[name]
    assert measure.least < measure.most
    assert measure.start is None or measure.allows(measure.start)
    assert measure.called in measure.refusal(measure.most + 1)


def test_a_figure_out_of_range_is_refused_in_a_plain_sentence() -> None:
    assert MEASURES["width_mm"].refusal(50) == (
        "50 mm can't be the width inside. It is 100 to 2,000 mm. Measure it again."
    )
    assert MEASURES["sides"].refusal(3) == "3 can't be the number of sides. It is 5 to 16. Count them."
    # 50 mm are 1.969 in, 100 are 3.937 and 2000 are 78.74: to the nearest sixteenth (25.4 mm: ISO 80000-3).
    with using("in"):
        assert MEASURES["width_mm"].refusal(50) == (
            "1 15/16 in can't be the width inside. It is 3 15/16 in to 78 3/4 in. Measure it again."
        )


def test_what_a_form_starts_with_is_a_kiln_nothing_is_odd_about() -> None:
    start = Built(
        shape="round",
        **{
            name: MEASURES[name].start
            for name in (
                "width_mm",
                "depth_mm",
                "height_mm",
                "shelf_width_mm",
                "shelf_depth_mm",
                "shelf_thickness_mm",
                "floor_gap_mm",
                "lid_gap_mm",
                "whole_shelves",
                "half_shelves",
            )
        },
        power_kw=STARTING_POWER_KW,
        props=STARTING_PROPS_MM,
        thermocouple=Thermocouple(12, 280, reach_mm=20, clear_mm=5),
    )
    assert remarks(start) == []
    assert len(layer_heights(start)) >= 3


@pytest.mark.parametrize("clock", range(1, 13))
def test_the_end_of_a_thermocouple_lies_on_its_hour(clock: int) -> None:
    x, y = Thermocouple(clock, 300, reach_mm=40).tip_mm(Round(600))
    assert hypot(x, y) == pytest.approx(260, abs=0.1)
    assert (x, y) == pytest.approx((260 * sin(radians(30 * clock)), 260 * cos(radians(30 * clock))), abs=0.1)


def test_in_a_rectangular_kiln_it_comes_through_the_wall_of_its_hour() -> None:
    box = Rectangle(400, 600)
    assert Thermocouple(12, 300, reach_mm=50).tip_mm(box) == (0, 250)
    assert Thermocouple(3, 300, reach_mm=50).tip_mm(box) == (150, 0)
    assert Thermocouple(9, 300, reach_mm=50).tip_mm(box) == (-150, 0)


def test_the_space_kept_clear_covers_the_whole_rod_and_a_band_of_height() -> None:
    zones = Thermocouple(6, 300, reach_mm=60, clear_mm=25).kept_clear(Round(600))
    assert (zones[0].x_mm, zones[0].y_mm) == (0, -240)
    assert (zones[-1].x_mm, zones[-1].y_mm) == (0, -300)
    assert {(zone.from_mm, zone.to_mm, zone.radius_mm) for zone in zones} == {(275, 325, 25)}
    assert all(abs(a.y_mm - b.y_mm) <= 25 for a, b in pairwise(zones))


def test_a_thermocouple_past_the_middle_is_refused() -> None:
    with pytest.raises(DomainError, match="past the middle"):
        Thermocouple(12, 300, reach_mm=240).kept_clear(Round(400))


def test_ware_and_shelves_keep_away_from_it_in_a_plan() -> None:
    wall = Round(600)
    chamber = Chamber(wall, 700, kept_clear=Thermocouple(12, 150, reach_mm=60).kept_clear(wall))
    shelf = Shelf(Round(540))
    low, high = Layer(1, shelf, (102,)), Layer(2, shelf)
    items = [Item("ACD", Round(100), 120)]

    def codes(layers: tuple[Layer, ...], y: float) -> set[str]:
        place = Position("ACD", 1, Placed(0, y))
        stock = Stock(props={102: 3, 200: 3}, shelves={shelf: 2})
        load = Load(chamber, layers, (place,), stock)
        return {problem.code for problem in problems(load=load, items=items)}

    # The bottom shelf's face is at 41 mm; 120 mm of ware reach to 161 mm, into the band of 125 to 175 mm.
    assert "thermocouple" in codes((Layer(1, shelf),), 210)
    assert "thermocouple" not in codes((Layer(1, shelf),), 0)
    # On props of 102 mm the second shelf lies from 143 to 159 mm: it would break the thermocouple.
    assert "shelf-thermocouple" in codes((low, high), 0)
    assert "shelf-thermocouple" not in codes((Layer(1, shelf, (200,)), high), 0)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"shelf_width_mm": 575, "shelf_depth_mm": 575}, "leaves 2.5 mm to the wall"),
        ({"shelf_width_mm": 300, "shelf_depth_mm": 300}, "Is it this kiln’s shelf?"),
        ({"half_shelves": 3}, "One half shelf is left over"),
        ({"whole_shelves": 60}, "more kiln shelves than fit"),
        ({"power_kw": Decimal("2.0")}, "2 kW is little for 182 litres"),
        ({"power_kw": Decimal("60")}, "60 kW is much for 182 litres"),
        ({"props": {}}, "Without props only one layer"),
        ({"props": {102: 9, 127: 2}}, "Fewer than three props of 127 mm"),
        ({"props": {102: 9, 650: 3}}, "Props of 650 mm are taller"),
        ({"thermocouple": None}, "not entered"),
        ({"thermocouple": Thermocouple(12, 350)}, "between 32.5 and 37.5 cm over the floor"),
    ],
)
def test_odd_measures_are_remarked_upon(change: dict, says: str) -> None:
    assert remarks(BIG) == []
    found = remarks(replace(BIG, **change))
    assert any(says in sentence for sentence in found)


def test_the_picture_has_as_many_layers_as_shelves_props_and_height_give() -> None:
    # 690 − 25 − 25 − 16 = 624 mm free. Four layers: (624 − 3 × 16) / 4 = 144 mm each, so props of 102 mm.
    assert layer_heights(BIG) == (102, 102, 102, 0)
    assert layer_heights(replace(BIG, props={})) == (0,)
    assert layer_heights(replace(BIG, whole_shelves=1, half_shelves=0)) == (0,)
    assert layer_heights(replace(BIG, whole_shelves=2, half_shelves=0, props={102: 3, 152: 3})) == (254, 0)
