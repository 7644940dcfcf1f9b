"""What is done to a load is written down once, can be taken back, and gives way to who was quicker."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import load_changes, loads, loads_arrange, loads_many, loads_places
from studio.domain.loading import problems as problems_of_load
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.models import Firing, LoadChange, Piece, Placement
from studio.queries.loads import place_seen, plan_of
from studio.queries.loads_changes import last_undoable, latest_changes
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def firing() -> Firing:
    by = make.tutor()
    firing = loads.plan_firing(kiln=make.kiln(), kind="glaze", cone="6", by=by, now=make.NOW)
    return loads.set_layers(firing=firing, props_mm=[150, 0], by=by, now=make.NOW)


def put(firing: Firing, *, layer: int = 1, x: int = 0, y: int = 0, **values: object) -> Placement:
    values = {"width_mm": 100, "depth_mm": 100, "height_mm": 80, "measured_stage": "glazed", **values}
    return loads_places.load_piece(
        firing=firing,
        piece=make.piece(stage=Stage.GLAZED, **values),
        layer=firing.layers.get(number=layer),
        x_mm=x,
        y_mm=y,
        by=firing.made_by,
        client_id=make.client_id(),
        now=make.NOW,
    )


def state(firing: Firing) -> list[tuple[object, ...]]:
    rows = firing.placements.filter(taken_out_at__isnull=True).order_by("pk")
    places = rows.values_list(
        "piece__mark", "layer__number", "x_mm", "y_mm", "turned", "stand_mm", "pinned", "holds_piece"
    )
    return [*places, *firing.layers.order_by("number").values_list("number", "prop_mm")]


def undo_last(firing: Firing) -> LoadChange:
    last = last_undoable(firing)
    assert last is not None
    return load_changes.undo_load_change(
        change=last, by=firing.made_by, client_id=make.client_id(), now=make.NOW
    )


def move(place: Placement, **values: object) -> Placement:
    return loads_places.move_placement(
        placement=place, by=place.firing.made_by, now=make.NOW, **{"client_id": make.client_id(), **values}
    )


CHANGES = {
    "put": lambda one, two: put(one.firing, x=-120, y=-100),
    "put many": lambda one, two: loads_many.load_pieces(
        firing=one.firing,
        pieces=[make.piece(stage=Stage.GLAZED), make.piece(stage=Stage.GLAZED)],
        by=one.firing.made_by,
    ),
    "move": lambda one, two: move(one, x_mm=-60, y_mm=30),
    "other layer": lambda one, two: move(one, layer=one.firing.layers.get(number=2)),
    "turn": lambda one, two: move(two, turned=True),
    "stand": lambda one, two: move(one, stand_mm=15),
    "take out": lambda one, two: loads_places.take_out(placement=one, by=one.firing.made_by),
    "pin": lambda one, two: loads_arrange.pin_placement(placement=one, pinned=True, by=one.firing.made_by),
    "swap": lambda one, two: loads_arrange.swap_placements(placement=one, other=two, by=one.firing.made_by),
    "layers": lambda one, two: loads.set_layers(
        firing=one.firing, props_mm=[200, 100, 0], by=one.firing.made_by
    ),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_every_change_can_be_taken_back(firing: Firing, change: object) -> None:
    one = put(firing, mark="K7H")
    two = put(firing, x=130, is_round=False, width_mm=90, depth_mm=60)
    before = state(firing)
    change(one, two)
    assert state(firing) != before
    undone = undo_last(firing)
    assert state(firing) == before
    assert undone.kind == LoadChange.Kind.UNDONE
    assert undone.undoes.words in undone.words
    # The history keeps both, and the next to be undone is the one before.
    assert latest_changes(firing)[0].kind == "undone"
    assert last_undoable(firing).words == f"{two.piece.mark} put in"


def test_undo_goes_back_step_by_step_to_an_empty_load(firing: Firing) -> None:
    empty = state(firing)
    one = put(firing)
    put(firing, x=150)
    move(one, x_mm=-100, y_mm=0)
    loads_arrange.pin_placement(placement=one, pinned=True, by=firing.made_by)
    for _ in range(4):
        undo_last(firing)
    assert state(firing) == empty
    assert not Placement.objects.filter(holds_piece__isnull=False).exists()


def test_the_same_page_sent_twice_is_one_change(firing: Firing) -> None:
    one, two = put(firing), put(firing, x=150)
    by, known = firing.made_by, LoadChange.objects.count()
    for what in (
        lambda client_id: move(one, x_mm=-20, y_mm=0, client_id=client_id),
        lambda client_id: loads_arrange.pin_placement(placement=one, pinned=True, by=by, client_id=client_id),
        lambda client_id: loads_arrange.pin_placement(
            placement=one, pinned=False, by=by, client_id=client_id
        ),
        lambda client_id: loads_arrange.swap_placements(placement=one, other=two, by=by, client_id=client_id),
        lambda client_id: loads_places.take_out(placement=two, by=by, client_id=client_id),
        lambda client_id: loads.set_layers(firing=firing, props_mm=[150, 150, 0], by=by, client_id=client_id),
    ):
        client_id = make.client_id()
        what(client_id)
        after = state(firing)
        what(client_id)
        known += 1
        assert (state(firing), LoadChange.objects.count()) == (after, known)
    undo_id, last = make.client_id(), last_undoable(firing)
    for _ in range(2):
        load_changes.undo_load_change(change=last, by=by, client_id=undo_id)
    assert LoadChange.objects.count() == known + 1


def test_a_page_used_for_something_else_is_refused(firing: Firing) -> None:
    one, client_id = put(firing), make.client_id()
    move(one, x_mm=-20, y_mm=0, client_id=client_id)
    with pytest.raises(Refused) as refused:
        loads_places.take_out(placement=one, by=firing.made_by, client_id=client_id)
    assert refused.value.codes == ["page-used"]


def test_planning_pressed_twice_plans_one_firing() -> None:
    by, kiln, client_id = make.tutor(), make.kiln(), make.client_id()
    first, again = (
        loads.plan_firing(kiln=kiln, kind="glaze", cone="6", by=by, client_id=client_id) for _ in range(2)
    )
    assert first == again
    assert Firing.objects.count() == 1
    other = loads.plan_firing(kiln=kiln, kind="glaze", cone="6", by=by, client_id=make.client_id())
    assert other.number == 2


# Two at one load


def test_a_move_of_what_another_has_moved_is_refused(firing: Firing) -> None:
    place = put(firing, mark="K7H")
    seen = place_seen(place)
    move(place, x_mm=100, y_mm=0)  # Ivo, from his phone
    for act in (
        lambda: move(place, x_mm=-100, y_mm=0, seen=seen),
        lambda: loads_places.take_out(placement=place, by=firing.made_by, seen=seen),
    ):
        with pytest.raises(Refused, match="K7H has been moved meanwhile and now stands on the bottom shelf"):
            act()
    place.refresh_from_db()
    assert (place.x_mm, place.taken_out_at) == (100, None)
    move(place, x_mm=-100, y_mm=0, seen=place_seen(place))


def test_a_move_of_what_another_has_taken_out_is_refused(firing: Firing) -> None:
    place = put(firing, mark="K7H")
    loads_places.take_out(placement=place, by=firing.made_by)
    with pytest.raises(Refused, match="K7H has been taken out of this load"):
        move(place, x_mm=10, y_mm=0)


def test_only_the_last_change_is_undone_and_once(firing: Firing) -> None:
    one = put(firing, mark="K7H")
    first = last_undoable(firing)
    move(one, x_mm=40, y_mm=0)
    with pytest.raises(Refused, match="Undo “K7H moved” first") as refused:
        load_changes.undo_load_change(change=first, by=firing.made_by)
    assert refused.value.codes == ["changed-since"]
    last = last_undoable(firing)
    undo_last(firing)
    with pytest.raises(Refused) as refused:
        load_changes.undo_load_change(change=last, by=firing.made_by)
    assert refused.value.codes == ["undone-already"]


def test_undo_does_not_reach_over_what_no_door_wrote_down(firing: Firing) -> None:
    place = put(firing)
    move(place, x_mm=40, y_mm=0)
    Placement.objects.filter(pk=place.pk).update(x_mm=55)
    with pytest.raises(Refused, match="has changed since"):
        undo_last(firing)
    place.refresh_from_db()
    assert place.x_mm == 55


def test_a_piece_that_went_into_another_load_is_not_put_back(firing: Firing) -> None:
    place = put(firing, mark="K7H")
    loads_places.take_out(placement=place, by=firing.made_by)
    other = loads.plan_firing(kiln=firing.kiln, kind="glaze", cone="6", by=firing.made_by)
    loads_places.load_piece(firing=other, piece=place.piece, layer=other.layers.get(), by=firing.made_by)
    with pytest.raises(Refused, match=f"K7H has been put into the load of glaze firing {other.number}"):
        undo_last(firing)


def test_a_piece_that_has_broken_since_is_not_put_back(firing: Firing) -> None:
    place = put(firing, mark="K7H")
    loads_places.take_out(placement=place, by=firing.made_by)
    Piece.objects.filter(pk=place.piece_id).update(stage=Stage.LOST)
    with pytest.raises(Refused, match="K7H is lost"):
        undo_last(firing)


def test_what_burns_is_not_undone_and_students_undo_nothing(firing: Firing) -> None:
    put(firing)
    last = last_undoable(firing)
    with pytest.raises(Refused) as refused:
        load_changes.undo_load_change(change=last, by=make.student())
    assert refused.value.codes == ["staff-only"]
    Firing.objects.filter(pk=firing.pk).update(state="firing", lit_at=make.NOW + timedelta(hours=1))
    with pytest.raises(Refused) as refused:
        undo_last(firing)
    assert refused.value.codes == ["not-planned"]


# Pins


def test_a_pinned_piece_stays_until_it_is_unpinned(firing: Firing) -> None:
    one, two = put(firing, mark="K7H"), put(firing, x=150)
    by = firing.made_by
    loads_arrange.pin_placement(placement=one, pinned=True, by=by)
    for act in (
        lambda: move(one, x_mm=10, y_mm=0),
        lambda: loads_places.take_out(placement=one, by=by),
        lambda: loads_arrange.swap_placements(placement=two, other=one, by=by),
    ):
        with pytest.raises(Refused, match="K7H is pinned") as refused:
            act()
        assert refused.value.codes == ["pinned"]
    loads_arrange.pin_placement(placement=one, pinned=False, by=by)
    assert move(one, x_mm=10, y_mm=0).x_mm == 10


def test_props_push_a_piece_aside_but_not_a_pinned_one() -> None:
    by = make.tutor()
    firing = loads.plan_firing(kiln=make.kiln(), kind="glaze", cone="6", by=by)
    kiln = firing.kiln
    # Where the back prop will stand: at the kiln shelf's back edge, half a prop inside.
    place = put(firing, y=kiln.shelf_width_mm // 2 - 50 - 10, mark="K7H")
    loads_arrange.pin_placement(placement=place, pinned=True, by=by)
    with pytest.raises(Refused, match="stands where a prop goes"):
        loads.set_layers(firing=firing, props_mm=[150, 0], by=by)
    loads_arrange.pin_placement(placement=place, pinned=False, by=by)
    loads.set_layers(firing=firing, props_mm=[150, 0], by=by)
    was = place.y_mm
    place.refresh_from_db()
    assert place.y_mm != was or place.x_mm != 0
    undo_last(firing)
    place.refresh_from_db()
    assert (place.x_mm, place.y_mm, firing.layers.count()) == (0, was, 1)


# Swaps


def test_two_pieces_change_places_over_layers(firing: Firing) -> None:
    one, two = put(firing, x=-60), put(firing, layer=2, x=80, y=20)
    loads_arrange.swap_placements(placement=one, other=two, by=firing.made_by)
    one.refresh_from_db()
    two.refresh_from_db()
    assert (one.layer.number, one.x_mm, one.y_mm) == (2, 80, 20)
    assert (two.layer.number, two.x_mm, two.y_mm) == (1, -60, 0)
    plan = plan_of(firing)
    assert problems_of_load(load=plan.load, items=plan.items.values()) == []


def test_a_swap_that_will_not_go_is_refused_whole(firing: Firing) -> None:
    tall = put(firing, layer=2, height_mm=250, mark="TFF")
    low = put(firing)
    before = state(firing)
    with pytest.raises(Refused, match=r"TFF leaves .* under the shelf above"):
        loads_arrange.swap_placements(placement=low, other=tall, by=firing.made_by)
    with pytest.raises(Refused) as refused:
        loads_arrange.swap_placements(placement=low, other=low, by=firing.made_by)
    assert refused.value.codes == ["swap-with"]
    assert state(firing) == before


def test_a_swap_turns_what_only_fits_turned(firing: Firing) -> None:
    """Two boxes between neighbours: where the upright one stands, the lying one fits only upright."""
    upright = put(firing, x=0, y=0, is_round=False, width_mm=60, depth_mm=160)
    for x in (-100, 100):
        put(firing, x=x, is_round=False, width_mm=120, depth_mm=160)
    lying = put(firing, y=-150, is_round=False, width_mm=160, depth_mm=60)
    loads_arrange.swap_placements(placement=upright, other=lying, by=firing.made_by)
    lying.refresh_from_db()
    assert (lying.x_mm, lying.y_mm, lying.turned) == (0, 0, True)
    plan = plan_of(firing)
    assert problems_of_load(load=plan.load, items=plan.items.values()) == []
