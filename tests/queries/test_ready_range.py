"""When a piece will be ready: what the records say, what a planned firing adds, and what it costs to ask."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from studio.actions import pieces as actions
from studio.domain.forecast import Forecast
from studio.domain.stages import Stage
from studio.models import Piece
from studio.queries.ready_range import asked_before, range_of, ranges_of, records, steps_left
from studio.templatetags.studio_format import day_range
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

NOW = factories.NOW
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio()


def said_of(piece: Piece) -> Forecast:
    return ranges_of([piece], now=NOW)[piece.pk]


@pytest.mark.parametrize(
    ("stage", "route", "left"),
    [
        ("wet", "bisque-then-glaze", "drying bisque 'bisque firing' glazing glaze 'glaze firing'"),
        ("bone-dry", "bisque-only", "bisque 'bisque firing'"),
        ("leather-hard", "single-fired", "drying glaze 'glaze firing'"),
        ("bisqued", "bisque-then-glaze", "glazing glaze 'glaze firing'"),
        ("glazed", "bisque-then-glaze", "glaze 'glaze firing'"),
        ("finishing", "bisque-then-glaze", "finishing"),
        ("ready", "bisque-then-glaze", ""),
        ("collected", "bisque-then-glaze", ""),
    ],
)
def test_what_is_left_follows_the_route(stage: str, route: str, left: str) -> None:
    piece = factories.piece(stage=stage, route=route)
    shown = " ".join(f"'{each}'" if " " in each else str(each) for each in steps_left(piece))
    assert shown == left


def test_a_low_firing_wanted_comes_last() -> None:
    piece = factories.piece(stage="glazed", low_firings_wanted=1)
    assert steps_left(piece)[-2:] == ["low", "low firing"]
    # Fired already, it waits for the low one alone.
    assert steps_left(factories.piece(stage="fired", low_firings_wanted=1)) == ["low", "low firing"]


def test_without_records_the_usual_times_stand_in_and_that_is_said() -> None:
    said = said_of(factories.piece(stage="glazed", made_at=NOW - 3 * DAY))
    assert NOW < said.earliest < said.likely < said.latest
    assert set(said.few) == {"Glaze firing", "glaze firing"}
    assert "Few records of glaze firing: a usual time is taken instead." in said.reasons


def test_the_same_day_says_the_same() -> None:
    piece = factories.piece(stage="bisqued")
    assert said_of(piece) == said_of(Piece.objects.get(pk=piece.pk))


def test_a_planned_firing_sharpens_what_is_said() -> None:
    piece = factories.piece(stage="glazed", made_at=NOW - 3 * DAY)
    before = said_of(piece)
    lit = NOW + 4 * DAY
    factories.firing(kind="glaze", pieces=0, planned_for=lit)
    after = said_of(piece)
    assert after.latest - after.earliest < before.latest - before.earliest
    assert "Glaze firing: the calendar is counted on." in after.reasons
    assert after.earliest >= lit


def test_one_that_stands_in_the_planned_load_goes_into_that_firing() -> None:
    piece, other = (factories.piece(stage="glazed", made_at=NOW - 3 * DAY) for _ in range(2))
    lit = NOW + 25 * DAY
    factories.firing(kind="glaze", pieces=[piece], planned_for=lit)
    factories.firing(kind="glaze", pieces=0, planned_for=NOW + 4 * DAY, kiln=factories.kiln("Other"))
    said = said_of(piece)
    assert lit < said.earliest < said.latest < lit + 5 * DAY
    assert said_of(other).latest < lit


def test_one_in_the_kiln_is_reckoned_from_when_that_was_lit() -> None:
    piece = factories.piece(stage="glazed")
    factories.firing("firing", pieces=[piece], lit_at=NOW - DAY)
    piece.refresh_from_db()
    said = said_of(piece)
    assert NOW <= said.earliest < said.latest < NOW + 6 * DAY


def test_a_cancelled_firing_is_no_plan_and_no_rhythm() -> None:
    factories.firing("cancelled", kind="glaze", planned_for=NOW + 2 * DAY)
    found = records(now=NOW, pieces=[])
    assert not found.planned
    assert not found.lit


def test_hours_are_gathered_from_what_happened_and_what_was_undone_is_not() -> None:
    by = factories.tutor()
    piece = factories.piece(stage="leather-hard", made_at=NOW - 9 * DAY)
    actions.move_piece(
        piece=piece, to=Stage.BONE_DRY, by=by, client_id=factories.client_id(), now=NOW - 3 * DAY
    )
    assert records(now=NOW).took_h["drying"] == [6 * 24]
    piece.refresh_from_db()
    back = actions.move_piece(
        piece=piece, to=Stage.LEATHER_HARD, by=by, client_id=factories.client_id(), now=NOW - 2 * DAY
    )
    assert back.to_stage == "leather-hard"
    assert records(now=NOW, until=NOW - 4 * DAY).took_h == {}


@pytest.mark.parametrize("count", [1, 30])
def test_three_queries_whatever_the_number(count: int, django_assert_num_queries) -> None:
    pieces = [factories.piece(stage="glazed") for _ in range(count)]
    with django_assert_num_queries(3):
        assert len(ranges_of(pieces, now=NOW)) == count


def test_ready_ones_cost_nothing(django_assert_num_queries) -> None:
    with django_assert_num_queries(0):
        assert ranges_of([Piece(stage="ready"), Piece(stage="lost")], now=NOW) == {}


def test_past_pieces_are_asked_about_from_what_was_known_then() -> None:
    by = factories.tutor()
    piece = factories.piece(stage="glazed", made_at=NOW - 20 * DAY)
    firing = factories.firing("unloading", pieces=[piece], lit_at=NOW - 6 * DAY)
    factories.unload_one(firing.placements.get(), by=by)
    [(earliest, latest, ready)] = asked_before()
    assert NOW - 20 * DAY < earliest < latest
    assert ready == Piece.objects.get(pk=piece.pk).stage_since
    out = StringIO()
    call_command("ready_ranges", stdout=out)
    assert "of 1 ranges held" in out.getvalue()


def test_the_command_says_so_where_nothing_is_ready_yet() -> None:
    out = StringIO()
    call_command("ready_ranges", stdout=out)
    assert "nothing can be said" in out.getvalue()


def test_the_range_is_on_the_pages_of_its_maker_and_of_the_tutor() -> None:
    ines = factories.student()
    piece = factories.piece(maker=ines, stage="glazed")
    words = "ready about"
    assert words in signed_in(ines).get("/").content.decode()
    for who in (ines, factories.tutor()):
        assert "Ready about" in signed_in(who).get(f"/pieces/{piece.code}/").content.decode()


def test_no_range_for_what_has_left() -> None:
    piece = factories.piece(stage="fired", low_firings_wanted=0)
    assert steps_left(piece) == ["finishing"]
    assert range_of(factories.piece(stage="lost"), found=records(now=NOW), now=NOW) is None


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        ((2031, 12, 3), (2031, 12, 9), "3 to 9 December 2031"),
        ((2031, 11, 28), (2031, 12, 3), "28 November to 3 December 2031"),
        ((2031, 12, 29), (2032, 1, 4), "29 December 2031 to 4 January 2032"),
        ((2031, 12, 3), (2031, 12, 3), "3 December 2031"),
    ],
)
def test_a_range_of_days_in_words(first: tuple, last: tuple, words: str) -> None:
    noon = [datetime(*day, 12, tzinfo=UTC) for day in (first, last)]
    assert day_range(Forecast(noon[0], noon[0], noon[1], (), ())) == words
