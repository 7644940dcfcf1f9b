"""Many hands on one load at the same moment, on whichever database the tests run on."""

from __future__ import annotations

import pytest

from studio.actions import load_changes, loads, loads_arrange, loads_places
from studio.domain.loading import problems as problems_of_load
from studio.domain.stages import Stage
from studio.models import Firing, LoadChange, Placement
from studio.queries.loads import place_seen, plan_of
from studio.queries.loads_changes import last_undoable
from tests import factories as make
from tests.actions.test_parallel import at_once

pytestmark = pytest.mark.django_db(transaction=True)
HANDS = 8


@pytest.fixture
def firing() -> Firing:
    return loads.plan_firing(kiln=make.kiln(), kind="glaze", cone="6", by=make.tutor(), now=make.NOW)


def put(firing: Firing, x_mm: int) -> Placement:
    return loads_places.load_piece(
        firing=firing,
        piece=make.piece(stage=Stage.GLAZED, width_mm=80, depth_mm=80),
        layer=firing.layers.get(),
        x_mm=x_mm,
        y_mm=0,
        by=firing.made_by,
    )


def test_one_press_sent_many_times_plans_one_firing() -> None:
    maud, kiln, client_id = make.tutor(), make.kiln(), make.client_id()
    got = at_once(
        lambda n: loads.plan_firing(kiln=kiln, kind="glaze", cone="6", by=maud, client_id=client_id), HANDS
    )
    assert len({each.pk for each in got}) == 1
    assert Firing.objects.count() == 1


def test_one_of_many_hands_moves_a_piece_and_the_others_are_told(firing: Firing) -> None:
    place = put(firing, 0)
    seen = place_seen(place)
    got = at_once(
        lambda n: loads_places.move_placement(
            placement=place, by=firing.made_by, x_mm=10 * (n + 1), y_mm=0, seen=seen
        ),
        HANDS,
    )
    assert sum(isinstance(each, Placement) for each in got) == 1
    assert got.count(["moved-meanwhile"]) == HANDS - 1
    assert LoadChange.objects.filter(kind="moved").count() == 1


def test_pieces_moved_to_one_place_do_not_stand_in_it_together(firing: Firing) -> None:
    places = [put(firing, x_mm) for x_mm in (-200, -100, 100, 200)]
    got = at_once(
        lambda n: loads_places.move_placement(placement=places[n], by=firing.made_by, x_mm=0, y_mm=100), 4
    )
    assert sum(isinstance(each, Placement) for each in got) == 1
    plan = plan_of(firing)
    assert problems_of_load(load=plan.load, items=plan.items.values()) == []


def test_an_undo_sent_many_times_is_one_and_undone_by_many_goes_back_once(firing: Firing) -> None:
    place = put(firing, 0)
    loads_arrange.pin_placement(placement=place, pinned=True, by=firing.made_by)
    last, client_id = last_undoable(firing), make.client_id()
    got = at_once(
        lambda n: load_changes.undo_load_change(change=last, by=firing.made_by, client_id=client_id), HANDS
    )
    assert len({each.pk for each in got}) == 1
    put_in = last_undoable(firing)
    got = at_once(lambda n: load_changes.undo_load_change(change=put_in, by=firing.made_by), HANDS)
    assert sum(isinstance(each, LoadChange) for each in got) == 1
    assert got.count(["undone-already"]) == HANDS - 1
    assert LoadChange.objects.filter(kind="undone").count() == 2
