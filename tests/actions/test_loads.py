"""A load is planned, filled with everything refused that must be, and given up again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import loads, loads_places, pieces_events
from studio.domain.loading import problems as problems_of_load
from studio.domain.problems import Refused
from studio.domain.stages import FiringKind, Stage
from studio.models import Event, Firing, Glaze, GlazeOnPiece, Override, Placement
from studio.queries.loads import plan_of
from tests import factories as make

pytestmark = pytest.mark.django_db


def planned(
    kind: str = "glaze", *, cone: str = "6", props: list[int] | None = None, **kiln: object
) -> Firing:
    by = make.tutor()
    firing = loads.plan_firing(kiln=make.kiln(**kiln), kind=kind, cone=cone, by=by, now=make.NOW)
    return loads.set_layers(firing=firing, props_mm=props, by=by) if props else firing


def glazed_with(piece: object, *glazes: Glaze, surface: str = "outside") -> None:
    for order, glaze in enumerate(glazes, start=1):
        GlazeOnPiece.objects.create(
            piece=piece, surface=surface, order=order, glaze=glaze, put_on_at=make.NOW
        )


def put(firing: Firing, piece: object, *, layer: int = 1, **values: object) -> Placement:
    return loads_places.load_piece(
        firing=firing,
        piece=piece,
        layer=firing.layers.get(number=layer),
        by=values.pop("by", None) or firing.made_by,
        now=make.NOW,
        **values,
    )


def test_maud_plans_a_firing_and_it_gets_the_next_number() -> None:
    first, second = planned(), planned("bisque", cone="04")
    assert (first.number, second.number) == (1, 2)
    assert first.state == Firing.State.PLANNED
    assert [layer.prop_mm for layer in first.layers.all()] == [0]


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"cone": "10"}, "kiln-too-cool"),
        ({"cone": "61"}, "no-such-cone"),
        ({"cone": ""}, "missing"),
        ({"kind": "raku"}, "no-such-choice"),
    ],
)
def test_a_firing_this_kiln_cannot_do_is_refused(values: dict[str, str], code: str) -> None:
    maud = make.tutor()
    with pytest.raises(Refused) as refused:
        loads.plan_firing(kiln=make.kiln(), by=maud, **{"kind": "glaze", "cone": "6", **values})
    assert refused.value.codes == [code]
    assert not Firing.objects.exists()


def test_a_retired_kiln_is_not_fired() -> None:
    kiln = make.kiln(retired_at=make.NOW)
    with pytest.raises(Refused, match="not in use"):
        loads.plan_firing(kiln=kiln, kind="bisque", cone="04", by=make.tutor())


def test_a_student_cannot_plan_load_or_cancel() -> None:
    firing, ines, piece = planned(), make.student(), make.piece(stage=Stage.GLAZED)
    for act in (
        lambda: loads.plan_firing(kiln=firing.kiln, kind="glaze", cone="6", by=ines),
        lambda: put(firing, piece, by=ines),
        lambda: loads.set_layers(firing=firing, props_mm=[100, 0], by=ines),
        lambda: loads.cancel_firing(firing=firing, by=ines),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert refused.value.codes == ["staff-only"]


# Layers and props


def test_layers_take_their_props_from_stock() -> None:
    firing = planned(props=[150, 250, 0])
    assert [layer.prop_mm for layer in firing.layers.order_by("number")] == [150, 250, 0]
    # 250 mm is a prop of 150 with one of 100 on it: the plan says which.
    assert [layer.props_mm for layer in plan_of(firing).load.layers] == [(150,), (200, 50), ()]


@pytest.mark.parametrize(
    ("props", "code"),
    [
        ([], "layer-count"),
        ([100, 100], "props-idle"),
        ([100, 0, 0], "no-props"),
        ([110, 0], "props-short"),  # no length or pair of lengths makes 110
        ([50, 50, 50, 0], "props-short"),  # three layers want nine props of 50 and there are six
        ([100] * 5 + [0], "shelves-short"),
        ([300, 300, 0], "too-high"),
        ([-5, 0], "number-out-of-range"),
    ],
)
def test_layers_that_cannot_be_built_are_refused_whole(props: list[int], code: str) -> None:
    firing = planned(props=[150, 0])
    with pytest.raises(Refused) as refused:
        loads.set_layers(firing=firing, props_mm=props, by=firing.made_by)
    assert code in refused.value.codes
    assert [layer.prop_mm for layer in firing.layers.order_by("number")] == [150, 0]


def test_a_layer_with_pieces_on_it_does_not_vanish() -> None:
    firing = planned(props=[150, 0])
    place = put(firing, make.piece(stage=Stage.GLAZED, mark="K7H"), layer=2)
    with pytest.raises(Refused, match="Layer 2 still holds K7H"):
        loads.set_layers(firing=firing, props_mm=[0], by=firing.made_by)
    loads_places.take_out(placement=place, by=firing.made_by, now=make.NOW)
    loads.set_layers(firing=firing, props_mm=[0], by=firing.made_by)
    assert firing.layers.count() == 1


def test_props_that_become_too_short_for_a_piece_are_refused() -> None:
    firing = planned(props=[150, 0])
    put(firing, make.piece(stage=Stage.GLAZED, mark="K7H", height_mm=120))
    with pytest.raises(Refused) as refused:
        loads.set_layers(firing=firing, props_mm=[100, 0], by=firing.made_by)
    assert refused.value.codes == ["too-tall"]
    assert refused.value.problems[0].about == "K7H"


def test_a_piece_where_a_prop_comes_to_stand_is_moved_aside() -> None:
    firing = planned()
    place = put(firing, make.piece(stage=Stage.GLAZED), x_mm=0, y_mm=195)
    loads.set_layers(firing=firing, props_mm=[150, 0], by=firing.made_by)
    place.refresh_from_db()
    assert (place.x_mm, place.y_mm) != (0, 195)
    plan = plan_of(firing)
    assert problems_of_load(load=plan.load, items=plan.items.values()) == []


# Pieces


def test_a_piece_finds_a_free_place_and_the_checker_agrees() -> None:
    """The whole of a shelf is filled; the checker, which shares nothing with the search, finds no fault."""
    firing = planned(props=[150, 0])
    for _ in range(9):
        put(firing, make.piece(stage=Stage.GLAZED))
    for size in (60, 75, 90):
        put(
            firing, make.piece(stage=Stage.GLAZED, is_round=False, width_mm=size, depth_mm=size + 40), layer=2
        )
    plan = plan_of(firing)
    assert len(plan.placements) == 12
    assert problems_of_load(load=plan.load, items=plan.items.values()) == []


def test_bisque_ware_may_touch_and_glazed_ware_stands_apart() -> None:
    """5 mm between glazed pieces, none between bisque: common practice, no source."""
    for kind, stage, cone, allowed in (
        ("bisque", Stage.BONE_DRY, "04", True),
        ("glaze", Stage.GLAZED, "6", False),
    ):
        firing = planned(kind, cone=cone)
        size = {"measured_stage": stage, "width_mm": 100, "depth_mm": 100}
        put(firing, make.piece(stage=stage, **size), x_mm=0, y_mm=0)
        if allowed:
            put(firing, make.piece(stage=stage, **size), x_mm=100, y_mm=0)
        else:
            with pytest.raises(Refused) as refused:
                put(firing, make.piece(stage=stage, **size), x_mm=100, y_mm=0)
            assert refused.value.codes == ["overlap"]


def test_the_piece_is_placed_at_the_size_it_goes_in() -> None:
    """Wet 100 mm, 6 % to bone dry: 94 mm, as in ASTM C326's own form of the figure."""
    clay = make.clay(shrinkage_dry_pct="6.0", shrinkage_bisque_pct="7.0", cone="6")
    pot = make.piece(stage=Stage.BONE_DRY, clay=clay, width_mm=100, depth_mm=100, height_mm=100)
    place = put(planned("bisque", cone="04"), pot)
    assert (place.width_mm, place.depth_mm, place.height_mm) == (94, 94, 94)


def test_damp_ware_is_refused_and_only_the_tutor_may_overrule_with_a_reason() -> None:
    firing = planned("bisque", cone="04")
    ivo, wet = make.helper(), make.piece(stage=Stage.LEATHER_HARD)
    with pytest.raises(Refused) as refused:
        put(firing, wet)
    assert refused.value.codes == ["not-bone-dry"]
    assert refused.value.overridable
    with pytest.raises(Refused) as refused:
        put(firing, wet, by=ivo, override_reason="It looks dry to me")
    assert "tutor-only" in refused.value.codes
    with pytest.raises(Refused):
        put(firing, wet, override_reason="   ")
    assert not Override.objects.exists()

    put(firing, wet, override_reason="Thin test tile, dried on the kiln lid")
    kept = Override.objects.get()
    assert (kept.firing, kept.piece, kept.problem_code) == (firing, wet, "not-bone-dry")
    assert kept.reason == "Thin test tile, dried on the kiln lid"
    assert kept.by == firing.made_by


def test_every_reason_is_given_at_once() -> None:
    firing = planned()
    low, runny = make.glaze("Barley", cone_from="05", cone_to="03"), make.glaze("Ember", movement="runs")
    pot = make.piece(stage=Stage.GLAZED, height_mm=900)
    glazed_with(pot, low, runny)
    with pytest.raises(Refused) as refused:
        put(firing, pot)
    assert sorted(refused.value.codes) == ["needs-stand", "too-tall", "wrong-cone"]


@pytest.mark.parametrize(
    ("cone", "clay_cone", "wanted", "span", "refused"),
    [
        ("6", "6", "", ("5", "7"), False),
        ("6", "10", "6", ("6", "6"), False),
        ("6", "6", "", ("5.5", "6"), False),
        ("6", "6", "", ("04", "04"), True),  # the glaze would run
        ("6", "04", "", ("5", "7"), True),  # the clay would slump
        ("6", "6", "5", ("5", "7"), True),  # the maker asks for another
        ("01", "6", "", ("1", "3"), True),  # 01 is cooler than 1
        ("1", "6", "", ("01", "3"), False),
    ],
)
def test_the_cone_must_suit_glazes_clay_and_maker(
    cone: str, clay_cone: str, wanted: str, span: tuple[str, str], refused: bool
) -> None:
    """The order of the cones, 022 to 01 and then 1 to 14, is that of the makers' charts."""
    firing = planned(cone=cone)
    pot = make.piece(stage=Stage.GLAZED, clay=make.clay(cone=clay_cone), cone_wanted=wanted)
    glazed_with(pot, make.glaze(cone_from=span[0], cone_to=span[1]))
    if not refused:
        put(firing, pot)
        return
    with pytest.raises(Refused) as caught:
        put(firing, pot)
    assert caught.value.codes == ["wrong-cone"]
    put(firing, pot, override_reason="A test of this very thing")
    assert Override.objects.get().problem_code == "wrong-cone"


def test_unglazed_ware_does_not_go_into_a_glaze_firing_unless_the_tutor_says_so() -> None:
    firing, pot = planned(), make.piece(stage=Stage.BISQUED)
    with pytest.raises(Refused) as refused:
        put(firing, pot)
    assert refused.value.codes == ["unglazed"]
    put(firing, pot, override_reason="To see the bare clay at cone 6")


@pytest.mark.parametrize(
    ("stage", "values", "code"),
    [
        (Stage.BONE_DRY, {}, "wrong-kind"),
        (Stage.READY, {}, "wants-no-firing"),
        (Stage.BISQUED, {"route": "bisque-only"}, "wants-no-firing"),
        (Stage.COLLECTED, {}, "ended"),
    ],
)
def test_a_piece_that_wants_no_glaze_firing_is_refused_for_good(
    stage: Stage, values: dict[str, str], code: str
) -> None:
    firing = planned()
    with pytest.raises(Refused) as refused:
        put(firing, make.piece(stage=stage, **values), override_reason="Do it all the same")
    assert refused.value.codes == [code]
    assert not refused.value.overridable


def test_what_runs_or_is_glazed_below_goes_on_a_stand_that_makes_it_higher() -> None:
    firing = planned(props=[150, 0])
    runny = make.glaze("Ember", movement=Glaze.Movement.RUNS)
    for values, glaze, surface in (
        ({}, runny, "outside"),
        ({}, make.glaze(), "foot"),
        ({"bare_foot": False}, make.glaze(), "outside"),
    ):
        pot = make.piece(stage=Stage.GLAZED, **values)
        glazed_with(pot, glaze, surface=surface)
        with pytest.raises(Refused) as refused:
            put(firing, pot)
        assert refused.value.codes == ["needs-stand"]
        assert put(firing, pot, stand_mm=12).stand_mm == 12
    # 130 mm fits under props of 150 with 10 mm above; on a stand of 12 mm it does not.
    tall = make.piece(stage=Stage.GLAZED, measured_stage=Stage.GLAZED, height_mm=130)
    glazed_with(tall, runny)
    with pytest.raises(Refused) as refused:
        put(firing, tall, stand_mm=12)
    assert refused.value.codes == ["too-tall"]
    put(firing, tall, layer=2, stand_mm=12)


def test_too_large_too_tall_and_no_room_are_told_apart() -> None:
    firing = planned(props=[100, 0])
    size = {"stage": Stage.GLAZED, "measured_stage": Stage.GLAZED}
    platter = make.piece(width_mm=540, depth_mm=540, height_mm=40, **size)
    bottle = make.piece(height_mm=180, **size)
    for pot, code in ((platter, "too-large"), (bottle, "too-tall")):
        with pytest.raises(Refused) as refused:
            put(firing, pot, override_reason="Squeeze it in")
        assert refused.value.codes == [code]
        assert not refused.value.overridable
    put(firing, make.piece(width_mm=390, depth_mm=390, height_mm=40, **size))
    with pytest.raises(Refused) as refused:
        put(firing, make.piece(width_mm=200, depth_mm=200, height_mm=40, **size))
    assert refused.value.codes == ["no-room"]
    put(firing, bottle, layer=2)


def test_a_place_of_ones_own_choosing_must_be_free_and_on_the_shelf() -> None:
    firing = planned()
    put(firing, make.piece(stage=Stage.GLAZED, mark="K7H"), x_mm=0, y_mm=0)
    for (x, y), code in (((50, 0), "overlap"), ((230, 0), "off-shelf")):
        with pytest.raises(Refused) as refused:
            put(firing, make.piece(stage=Stage.GLAZED), x_mm=x, y_mm=y)
        assert code in refused.value.codes
    assert Placement.objects.count() == 1


def test_a_piece_stands_in_one_load_at_a_time() -> None:
    one, other = planned(), planned()
    pot = make.piece(stage=Stage.GLAZED, mark="K7H")
    first = put(one, pot)
    assert put(one, pot) == first  # tapped twice
    with pytest.raises(Refused, match=f"K7H stands in the load of glaze firing {one.number}") as refused:
        put(other, pot)
    assert refused.value.codes == ["in-load"]
    loads_places.take_out(placement=first, by=one.made_by, now=make.NOW)
    put(other, pot)
    assert list(one.placements.values_list("taken_out_at", flat=True)) == [make.NOW]


def test_a_layer_of_another_load_is_refused() -> None:
    one, other = planned(), planned()
    with pytest.raises(Refused) as refused:
        loads_places.load_piece(
            firing=one, piece=make.piece(stage=Stage.GLAZED), layer=other.layers.get(), by=one.made_by
        )
    assert refused.value.codes == ["layer-gone"]


def test_a_piece_is_moved_in_its_load() -> None:
    firing = planned(props=[150, 0])
    place = put(firing, make.piece(stage=Stage.GLAZED))
    moved = loads_places.move_placement(
        placement=place, layer=firing.layers.get(number=2), stand_mm=10, by=firing.made_by, now=make.NOW
    )
    assert (moved.layer.number, moved.stand_mm) == (2, 10)
    moved = loads_places.move_placement(placement=place, x_mm=20, y_mm=-30, by=firing.made_by, now=make.NOW)
    assert (moved.x_mm, moved.y_mm, moved.layer.number) == (20, -30, 2)
    with pytest.raises(Refused):
        loads_places.move_placement(placement=place, x_mm=400, y_mm=0, by=firing.made_by, now=make.NOW)
    moved.refresh_from_db()
    assert (moved.x_mm, moved.y_mm) == (20, -30)


def test_a_refire_at_the_studios_cost_is_marked_so() -> None:
    pot = make.piece(stage=Stage.FIRED)
    pieces_events.record(
        piece=pot,
        kind=Event.Kind.REFIRE,
        by=make.tutor(),
        client_id=make.client_id(),
        now=make.NOW,
        to=Stage.GLAZED,
        before={"studio_at_fault": True},
    )
    assert put(planned(), pot).refire_free


def test_a_cancelled_firing_frees_its_pieces_and_can_be_restored() -> None:
    firing, other = planned(), planned()
    staying, leaving = make.piece(stage=Stage.GLAZED), make.piece(stage=Stage.GLAZED)
    put(firing, staying)
    put(firing, leaving)
    later = make.NOW + timedelta(hours=1)
    loads.cancel_firing(firing=firing, by=firing.made_by, now=later)
    put(other, leaving)
    with pytest.raises(Refused, match="cancelled"):
        put(firing, staying)
    loads.restore_firing(firing=firing, by=firing.made_by, now=later)
    firing.refresh_from_db()
    assert firing.state == Firing.State.PLANNED
    assert [place.piece for place in plan_of(firing).placements] == [staying]
    assert Placement.objects.get(holds_piece=staying).firing == firing


def test_a_load_that_burns_is_not_changed() -> None:
    firing = make.firing(Firing.State.FIRING, kind=FiringKind.GLAZE, pieces=1)
    by = firing.made_by
    place = firing.placements.get()
    for act in (
        lambda: put(firing, make.piece(stage=Stage.GLAZED)),
        lambda: loads_places.take_out(placement=place, by=by),
        lambda: loads_places.move_placement(placement=place, x_mm=0, y_mm=0, by=by),
        lambda: loads.set_layers(firing=firing, props_mm=[100, 0], by=by),
        lambda: loads.cancel_firing(firing=firing, by=by),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert refused.value.codes == ["not-planned"]
