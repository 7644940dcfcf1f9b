"""A load keeps ware and kiln shelves away from the kiln's thermocouple."""

from __future__ import annotations

import pytest

from studio.actions.kilns import save_kiln
from studio.actions.loads import set_layers
from studio.actions.loads_places import load_piece
from studio.domain.problems import Refused
from studio.models import Firing, Kiln, Person
from studio.queries.loads import chamber_of, plan_of
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


def planned(**probe: int) -> Firing:
    """A load in a kiln 580 mm wide, whose bottom shelf's upper face is at 25 + 16 = 41 mm."""
    kiln = factories.kiln(
        "Big round",
        thermocouple_clock=12,
        thermocouple_clear_mm=25,
        **{"thermocouple_height_mm": 120, "thermocouple_reach_mm": 60, **probe},
    )
    return factories.firing("planned", kiln=kiln, pieces=[])


def pot() -> object:
    return factories.piece(stage="glazed", width_mm=100, depth_mm=100, height_mm=120)


def test_no_piece_stands_at_the_thermocouple(maud: Person) -> None:
    firing = planned()
    layer = firing.layers.get()
    # Its end is 230 mm behind the middle; a pot of 100 mm round 190 mm would touch it.
    with pytest.raises(Refused, match="thermocouple"):
        load_piece(firing=firing, piece=pot(), layer=layer, x_mm=0, y_mm=190, by=maud)
    assert load_piece(firing=firing, piece=pot(), layer=layer, x_mm=0, y_mm=-190, by=maud).y_mm == -190
    # A place that the program finds is clear of it as well.
    for _ in range(8):
        place = load_piece(firing=firing, piece=pot(), layer=layer, by=maud)
        assert place.x_mm**2 + (place.y_mm - 230) ** 2 >= (25 + 40) ** 2


def test_a_piece_under_the_thermocouple_may_stand_there(maud: Person) -> None:
    firing = planned(thermocouple_height_mm=500)
    place = load_piece(firing=firing, piece=pot(), layer=firing.layers.get(), x_mm=0, y_mm=190, by=maud)
    assert place.y_mm == 190


def test_no_kiln_shelf_lies_where_it_would_break_it(maud: Person) -> None:
    firing = planned()
    # On props of 50 mm the second shelf lies from 91 to 107 mm, and 95 to 145 mm are kept clear.
    with pytest.raises(Refused, match="too near the thermocouple"):
        set_layers(firing=firing, props_mm=[50, 0], by=maud)
    set_layers(firing=firing, props_mm=[150, 0], by=maud)
    assert firing.layers.count() == 2


def values(**more: object) -> dict[str, object]:
    """As `factories.kiln` has it, for `save_kiln`."""
    sizes = {"width_mm": 580, "depth_mm": 580, "height_mm": 690, "shelf_width_mm": 520, "shelf_depth_mm": 520}
    return {"name": "Big round", "shape": "round", "power_kw": "7.2", **sizes, **more}


def test_a_thermocouple_where_the_bottom_shelf_lies_is_refused(maud: Person) -> None:
    probe = {"thermocouple_clock": 12, "thermocouple_height_mm": 40}
    with pytest.raises(Refused, match="where the bottom kiln shelf lies"):
        save_kiln(by=maud, **values(**probe))
    assert not Kiln.objects.exists()
    # A short one ends before the shelf begins: 580 / 2 − 5 − 5 is more than 520 / 2.
    save_kiln(by=maud, **values(**probe, thermocouple_reach_mm=5, thermocouple_clear_mm=5))


def test_a_thermocouple_is_not_entered_where_something_stands_in_a_load(maud: Person) -> None:
    kiln = factories.kiln("Big round")
    firing = factories.firing("planned", kiln=kiln, pieces=[])
    load_piece(firing=firing, piece=pot(), layer=firing.layers.get(), x_mm=0, y_mm=190, by=maud)
    probe = {"thermocouple_clock": 12, "thermocouple_height_mm": 120, "thermocouple_reach_mm": 60}
    with pytest.raises(Refused, match=f"In glaze firing {firing.number}: .*thermocouple"):
        save_kiln(by=maud, kiln=kiln, **values(**probe))
    kiln.refresh_from_db()
    assert kiln.thermocouple_clock is None
    save_kiln(by=maud, kiln=kiln, **values(**{**probe, "thermocouple_clock": 6}))


def test_without_one_nothing_is_kept_clear(maud: Person) -> None:
    firing = factories.firing("planned", pieces=[])
    assert chamber_of(firing.kiln).kept_clear == ()
    assert plan_of(firing).load.chamber.prop_side_mm == 30
