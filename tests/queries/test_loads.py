"""Who waits for a kiln and why some may not go in, and how full a load is, at one query count."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from studio.actions import loads, loads_places
from studio.domain.loading import problems as problems_of_load
from studio.domain.problems import Refused
from studio.domain.stages import FiringKind, Stage
from studio.models import Firing, GlazeOnPiece, Piece
from studio.queries import loads_waiting
from studio.queries.loads import fill_of, plan_of, prop_heights
from studio.queries.loads_sizes import size_going_in
from studio.queries.loads_waiting import waiting_for, waiting_for_firing
from tests import factories as make

pytestmark = pytest.mark.django_db


def waiting(kind: str = "glaze", *, cone: str = "6", kiln: object = None) -> dict[str, list[str]]:
    """Codes of what speaks against it, by mark, in the order of the page."""
    rows = waiting_for(kiln=kiln or make.kiln(), kind=FiringKind(kind), cone=cone, now=make.NOW)
    return {row.piece.mark: [problem.code for problem in row.problems] for row in rows}


def glaze_on(piece: Piece, **values: object) -> Piece:
    GlazeOnPiece.objects.create(
        piece=piece, surface="outside", glaze=make.glaze(**values), put_on_at=make.NOW
    )
    return piece


def test_each_kind_of_firing_has_its_own_queue() -> None:
    for mark, values in {
        "WET": {"stage": Stage.WET},
        "DRY": {"stage": Stage.BONE_DRY},
        "RAW": {"stage": Stage.GLAZED, "route": "single-fired"},
        "BSQ": {"stage": Stage.BISQUED},
        "GLZ": {"stage": Stage.GLAZED},
        "END": {"stage": Stage.BISQUED, "route": "bisque-only"},
        "LUS": {"stage": Stage.FIRED, "low_firings_wanted": 1},
        "FIN": {"stage": Stage.FIRED},
        "RDY": {"stage": Stage.READY},
        "GON": {"stage": Stage.COLLECTED},
    }.items():
        make.piece(mark=mark, **values)
    make.firing(Firing.State.PLANNED, pieces=[make.piece(mark="PLN", stage=Stage.GLAZED)])
    assert waiting("bisque", cone="04") == {"DRY": [], "WET": ["not-bone-dry"]}
    assert waiting("glaze") == {"RAW": [], "GLZ": [], "BSQ": ["unglazed"]}
    assert waiting("low", cone="018") == {"LUS": []}


def test_reasons_stand_beside_each_piece() -> None:
    size = {"stage": Stage.GLAZED, "measured_stage": Stage.GLAZED}
    glaze_on(make.piece(mark="LOW", **size), cone_from="05", cone_to="03")
    make.piece(mark="BIG", width_mm=600, depth_mm=600, **size)
    make.piece(mark="TLL", height_mm=700, **size)
    make.piece(mark="EAR", clay=make.clay(cone="04"), **size)
    glaze_on(make.piece(mark="RUN", **size), movement="runs")
    assert waiting() == {
        "RUN": [],
        "LOW": ["wrong-cone"],
        "BIG": ["too-large"],
        "TLL": ["too-tall"],
        "EAR": ["wrong-cone"],
    }
    rows = {
        row.piece.mark: row for row in waiting_for(kiln=make.kiln(), kind="glaze", cone="6", now=make.NOW)
    }
    assert rows["RUN"].stand_why.endswith("runs.")
    assert rows["LOW"].only_with_a_reason
    assert not rows["BIG"].only_with_a_reason


def test_due_pieces_come_first_then_those_that_have_waited_longest() -> None:
    for mark, days, due in (("NEW", 1, None), ("OLD", 40, None), ("DUE", 2, 9), ("SOO", 1, 3)):
        make.piece(
            mark=mark,
            stage=Stage.GLAZED,
            made_at=make.NOW - timedelta(days=days),
            due_on=make.NOW.date() + timedelta(days=due) if due else None,
        )
    assert list(waiting()) == ["SOO", "DUE", "OLD", "NEW"]


def test_which_layers_are_high_enough_is_said() -> None:
    maud = make.tutor()
    firing = loads.plan_firing(kiln=make.kiln(), kind="glaze", cone="6", by=maud, now=make.NOW)
    loads.set_layers(firing=firing, props_mm=[100, 200, 0], by=maud)
    make.piece(stage=Stage.GLAZED, measured_stage=Stage.GLAZED, height_mm=150)
    (row,) = waiting_for_firing(firing, now=make.NOW, plan=plan_of(firing))
    assert row.fits_layers == (2, 3)


@pytest.mark.parametrize("count", [1, 30])
def test_the_queue_costs_the_same_for_one_and_thirty(
    count: int, django_assert_max_num_queries: object
) -> None:
    clay, glaze = make.clay(), make.glaze()
    lesson = make.session(make.course(ends_on=date(2025, 12, 9)))
    for _ in range(count):
        piece = make.piece(stage=Stage.GLAZED, clay=clay, shelf=make.shelf(), session=lesson)
        GlazeOnPiece.objects.create(piece=piece, surface="outside", glaze=glaze, put_on_at=make.NOW)
        make.piece(stage=Stage.BONE_DRY, clay=clay)
    firing = loads.plan_firing(kiln=make.kiln(), kind="glaze", cone="6", by=make.tutor(), now=make.NOW)
    plan = plan_of(firing)
    with django_assert_max_num_queries(8) as asked:
        rows = waiting_for_firing(firing, now=make.NOW, plan=plan)
        assert [row.piece.maker.first_name + row.piece.shelf.name for row in rows]
    assert len(rows) == count
    assert len(asked.captured_queries) == 8
    items = loads_waiting.items_for_planning(rows, firing=firing, now=make.NOW)
    assert [(item.cone, item.course_ends_in_days, item.waited_days) for item in items] == [
        ("6", 21, 21)
    ] * count


@pytest.mark.parametrize("count", [1, 30])
def test_a_load_costs_the_same_for_one_and_thirty(count: int, django_assert_num_queries: object) -> None:
    make.studio()
    firing = make.firing(Firing.State.PLANNED, pieces=count, layers=3)
    firing = Firing.objects.select_related("kiln").get(pk=firing.pk)
    with django_assert_num_queries(4 + 1):
        plan = plan_of(firing)
        fill = fill_of(plan)
        assert [place.piece.maker.first_name for place in plan.placements]
    assert fill.pieces == count


def test_how_full_a_load_is() -> None:
    """Three boxes of 100 mm on a round kiln shelf of 520 mm: 3 × 10000 ÷ (π × 260²) = 14.1 % of it."""
    maud, kiln = make.tutor(), make.kiln()
    firing = loads.plan_firing(kiln=kiln, kind="glaze", cone="6", by=maud, now=make.NOW)
    for _ in range(3):
        pot = make.piece(
            stage=Stage.GLAZED,
            measured_stage=Stage.GLAZED,
            is_round=False,
            width_mm=100,
            depth_mm=100,
            height_mm=100,
        )
        loads_places.load_piece(firing=firing, piece=pot, layer=firing.layers.get(), by=maud, now=make.NOW)
    fill = fill_of(plan_of(firing))
    (layer,) = fill.layers
    assert (layer.name, layer.pieces, layer.tallest_mm) == ("Top shelf", 3, 100)
    assert layer.area_share == pytest.approx(0.1413, abs=1e-4)
    # 690 − 25 at the floor − 16 for the shelf − 25 under the lid.
    assert layer.room_mm == 624
    assert fill.volume_mm3 == 3_000_000
    assert fill.usual_mm3 is None
    make.closed_firing(kiln=kiln, pieces=2)
    usual = fill_of(plan_of(firing))
    assert usual.usual_mm3 == 2 * 110 * 110 * 95
    assert usual.of_usual == pytest.approx(1.305, abs=1e-3)


def test_layer_heights_that_the_props_can_make() -> None:
    assert prop_heights(make.kiln(props={50: 6, 100: 3, 150: 2})) == [50, 100, 150]


@pytest.mark.parametrize(
    ("measured", "stage", "expected"),
    [
        (Stage.WET, Stage.BONE_DRY, 94),  # 100 × (1 − 0.06)
        (Stage.WET, Stage.WET, 94),  # goes in bone dry, whatever it is now
        (Stage.WET, Stage.GLAZED, 93),  # 100 × (1 − 0.07)
        (Stage.WET, Stage.FIRED, 88),  # 100 × (1 − 0.12)
        (Stage.BONE_DRY, Stage.BONE_DRY, 100),
        (Stage.BONE_DRY, Stage.GLAZED, 99),  # 100 ÷ 0.94 × 0.93 = 98.94
        (Stage.BISQUED, Stage.GLAZED, 100),
    ],
)
def test_sizes_going_in(measured: Stage, stage: Stage, expected: int) -> None:
    """Size at a stage = wet size × (1 − S ÷ 100), the form of ASTM C326."""
    clay = make.clay(shrinkage_dry_pct=6, shrinkage_bisque_pct=7, shrinkage_fired_pct=12)
    pot = make.piece(
        stage=stage, measured_stage=measured, clay=clay, width_mm=100, depth_mm=100, height_mm=100
    )
    size = size_going_in(pot)
    assert (size.width_mm, size.depth_mm, size.height_mm) == (expected, expected, expected)


def test_refired_ware_has_shrunk_already() -> None:
    clay = make.clay(shrinkage_bisque_pct=7, shrinkage_fired_pct=12)
    pot = make.piece(stage=Stage.GLAZED, clay=clay, width_mm=100, depth_mm=100, height_mm=100)
    assert size_going_in(pot, fired_before=True).width_mm == 88


def test_drawn_loads_are_legal_by_the_checker() -> None:
    """The search and the checker share no arithmetic: a load filled by the one has no fault by the other."""
    maud, kiln = make.tutor(), make.kiln()
    firing = loads.plan_firing(kiln=kiln, kind="glaze", cone="6", by=maud, now=make.NOW)
    loads.set_layers(firing=firing, props_mm=[150, 0], by=maud)
    layers = list(firing.layers.order_by("number"))
    put = 0
    for number in range(24):
        pot = make.piece(
            stage=Stage.GLAZED,
            measured_stage=Stage.GLAZED,
            is_round=number % 3 > 0,
            width_mm=60 + 7 * (number % 9),
            depth_mm=60 + 7 * (number % 9 if number % 3 else number % 5),
            height_mm=60 + 3 * number,
        )
        for layer in layers:
            try:
                loads_places.load_piece(firing=firing, piece=pot, layer=layer, by=maud, now=make.NOW)
                put += 1
                break
            except Refused:
                continue
    plan = plan_of(firing)
    assert len(plan.placements) == put >= 20
    assert problems_of_load(load=plan.load, items=plan.items.values()) == []
