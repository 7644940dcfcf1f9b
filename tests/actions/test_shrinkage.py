"""What a clay shrinks by: pairs entered, from pots measured twice, and the figure put into the books."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from studio.actions import shrinkage as actions
from studio.actions.pieces_change import resize_piece
from studio.actions.undo import last_undoable, undo
from studio.domain.problems import Refused
from studio.models import ClayBody, LengthPair, Piece
from studio.queries import shrinkage as queries
from tests import factories
from tests.factories import client_id

pytestmark = pytest.mark.django_db


@pytest.fixture
def clay() -> ClayBody:
    return factories.clay(
        "White stoneware", shrinkage_dry_pct=6, shrinkage_bisque_pct=7, shrinkage_fired_pct=12
    )


def fired(clay: ClayBody) -> queries.StageFigure:
    clay.refresh_from_db()
    return queries.figure_of(clay, "fired")


# Student's t for two degrees of freedom is 4.303 (the printed table; the domain's tests ask scipy).
def test_pairs_give_a_figure_and_its_interval(clay: ClayBody) -> None:
    assert fired(clay).measured is None
    for later in (88, 87, 86):
        factories.length_pair(clay=clay, later_mm=Decimal(later))
    found = fired(clay)
    # (12 + 13 + 14 + the books' 12) / 4; the interval is that of 12, 13 and 14: 13 +- 4.303 / sqrt(3).
    assert found.measured.percent == pytest.approx(12.75)
    assert found.measured.pairs == 3
    assert found.measured.low == pytest.approx(13 - 4.303 / 3**0.5, abs=1e-3)
    assert found.measured.high == pytest.approx(13 + 4.303 / 3**0.5, abs=1e-3)
    assert found.measured.few


def test_another_cone_and_what_is_taken_back_do_not_count(clay: ClayBody) -> None:
    factories.length_pair(clay=clay, cone="04", later_mm=Decimal(92))
    mistaken = factories.length_pair(clay=clay, later_mm=Decimal(80))
    assert fired(clay).measured.pairs == 1
    actions.take_back_pair(pair=mistaken, by=factories.helper())
    assert fired(clay).measured is None
    actions.take_back_pair(pair=mistaken, by=factories.helper())
    assert fired(clay).measured.pairs == 1


def test_a_pot_measured_wet_and_again_is_a_pair(clay: ClayBody) -> None:
    maud = factories.tutor()
    piece = factories.piece(clay=clay, stage="bone-dry", width_mm=200, depth_mm=200, height_mm=90, by=maud)
    sizes = {"by": maud, "piece": piece, "height_mm": 85}
    resize_piece(**sizes, client_id=client_id(), width_mm=188, measured_stage="bone-dry")
    Piece.objects.filter(pk=piece.pk).update(stage="ready")
    piece.refresh_from_db()
    resize_piece(**sizes, client_id=client_id(), width_mm=176, measured_stage="ready")
    pairs = {pair.stage: pair for pair in queries.pairs_of(clay)}
    assert {stage: (pair.wet_mm, pair.later_mm) for stage, pair in pairs.items()} == {
        "bone-dry": (200, 188),
        "fired": (200, 176),
    }
    assert pairs["fired"].percent == pytest.approx(12)
    undo(event=last_undoable(piece), by=maud, client_id=client_id())
    assert [pair.stage for pair in queries.pairs_of(clay)] == ["bone-dry"]


def test_small_pots_and_slips_of_the_finger_are_left_out(clay: ClayBody) -> None:
    maud = factories.tutor()
    for wet, later in ((50, 44), (200, 20)):
        piece = factories.piece(clay=clay, stage="ready", width_mm=wet, depth_mm=wet, height_mm=wet, by=maud)
        resize_piece(
            piece=piece,
            by=maud,
            client_id=client_id(),
            width_mm=later,
            height_mm=later,
            measured_stage="ready",
        )
    assert queries.pairs_of(clay) == []


def test_the_measured_figure_goes_into_the_books(clay: ClayBody) -> None:
    maud = factories.tutor()
    for _ in range(5):
        factories.length_pair(clay=clay, later_mm=Decimal("86.5"))
    assert fired(clay).differs
    actions.use_measured(clay=clay, stage="fired", by=maud)
    clay.refresh_from_db()
    # Five times 13.5 and the books' 12.
    assert clay.shrinkage_fired_pct == Decimal("13.3")
    with pytest.raises(Refused, match="Nothing is measured"):
        actions.use_measured(clay=clay, stage="bisqued", by=maud)
    with pytest.raises(Refused):
        actions.use_measured(clay=clay, stage="fired", by=factories.helper())


def test_a_clay_never_grows_from_stage_to_stage(clay: ClayBody) -> None:
    factories.length_pair(clay=clay, stage="bone-dry", later_mm=Decimal(82))
    with pytest.raises(Refused, match="would grow"):
        actions.use_measured(clay=clay, stage="bone-dry", by=factories.tutor())
    clay.refresh_from_db()
    assert clay.shrinkage_dry_pct == 6


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"later_mm": Decimal(108)}, "percent"),
        ({"later_mm": Decimal(60)}, "percent"),
        ({"wet_mm": Decimal(0)}, "length"),
        ({"stage": "bisqued", "cone": "6"}, "cone-unfired"),
        ({"measured_on": factories.NOW.date() + timedelta(days=4000)}, "measured-ahead"),
    ],
)
def test_refused(clay: ClayBody, changed: dict[str, object], code: str) -> None:
    with pytest.raises(Refused) as refused:
        factories.length_pair(clay=clay, **changed)
    assert [problem.code for problem in refused.value.problems] == [code]
    assert not LengthPair.objects.exists()


def test_entered_twice_is_one_pair(clay: ClayBody) -> None:
    given = {"clay": clay, "client_id": client_id(), "by": factories.tutor()}
    assert factories.length_pair(**given) == factories.length_pair(**given)
    assert LengthPair.objects.count() == 1
