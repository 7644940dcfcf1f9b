"""Where in a kiln flaws gather: by height and side, found where they do and not where they don't."""

from __future__ import annotations

from random import Random

import pytest

from studio.models import Firing, Flaw, Kiln, UnloadAnswer
from studio.queries.where_flaws import answers_in, flaws_seen, heights, photos
from tests import factories
from tests.support import many_results

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("shape", ["round", "rectangle"])
@pytest.mark.parametrize(
    ("x", "y", "side"),
    [
        (0, 0, "middle"),
        (100, -100, "middle"),
        (0, -200, "front"),
        (20, 220, "back"),
        (-230, 60, "left"),
        (200, -30, "right"),
    ],
)
def test_a_piece_stands_at_a_side(shape: str, x: int, y: int, side: str) -> None:
    """Chamber 580 mm across: the middle reaches 145 mm out."""
    kiln = factories.kiln(shape=shape)
    firing = factories.firing("unloading", kiln=kiln, pieces=3, layers=3)
    firing.placements.update(x_mm=x, y_mm=y)
    for place in firing.placements.select_related("piece", "layer", "firing"):
        factories.unload_one(place)
    Firing.objects.update(state="closed")
    rows = answers_in(kiln).order_by("placement__layer__number")
    assert list(rows.values_list("level", "side")) == [("bottom", side), ("between", side), ("top", side)]


def test_only_closed_firings_of_this_kiln_and_kind_count() -> None:
    kiln = factories.kiln("Bertha")
    many_results.fired(40, kiln=kiln, on_each=0)
    assert answers_in(kiln).count() == 40
    assert answers_in(kiln, kind="bisque").count() == 0
    assert answers_in(factories.kiln("Small one")).count() == 0
    Firing.objects.update(state="unloading")
    assert heights(kiln) == []


def spoilt(kiln: Kiln, chance_of: dict[str, float], *, usual: float, seed: int = 1) -> None:
    """Every answer sound but for those drawn: ``usual`` of them, another part at these sides."""
    random = Random(seed)
    Flaw.objects.all().delete()
    UnloadAnswer.objects.update(outcome="sound", loss_cause="")
    bad = [
        answer
        for answer in answers_in(kiln).select_related("placement")
        if random.random() < chance_of.get(f"{answer.level} {answer.side}", usual)
    ]
    UnloadAnswer.objects.filter(pk__in=[answer.pk for answer in bad]).update(outcome="flawed")
    Flaw.objects.bulk_create(
        Flaw(answer=answer, piece_id=answer.placement.piece_id, kind="underfired") for answer in bad
    )


def test_a_cold_corner_is_found_and_no_other() -> None:
    kiln = factories.kiln("Bertha")
    many_results.fired(800, kiln=kiln, on_each=0)
    spoilt(kiln, {"bottom front": 0.5}, usual=0.05)
    found = [zone for height in heights(kiln, flaw="underfired") for zone in height.zones if zone.more]
    assert [zone.words for zone in found] == ["Bottom shelf, at the front"]
    assert flaws_seen(kiln) == [("underfired", "Underfired")]
    assert heights(kiln, flaw="running")[0].zones[0].faults.successes == 0


def test_an_even_kiln_stands_out_nowhere() -> None:
    """Twenty even kilns: the stated confidence allows one false alarm in twenty pages."""
    kiln = factories.kiln("Bertha")
    many_results.fired(600, kiln=kiln, on_each=0)
    alarms = 0
    for seed in range(20):
        spoilt(kiln, {}, usual=0.1, seed=seed)
        alarms += any(zone.more or zone.fewer for height in heights(kiln) for zone in height.zones)
    assert alarms <= 2


def test_every_piece_is_in_one_zone_and_one_query_count(django_assert_num_queries) -> None:
    kiln = factories.kiln("Bertha")
    for count in (40, 400):
        many_results.fired(count, kiln=kiln, on_each=0, seed=count)
        with django_assert_num_queries(3):
            found = heights(kiln)
        total = sum(zone.faults.trials for height in found for zone in height.zones)
        assert total == answers_in(kiln).count()
        with django_assert_num_queries(1):
            assert photos(kiln) == []


def test_what_was_not_there_is_no_flaw_of_the_kiln() -> None:
    kiln = factories.kiln("Bertha")
    firing = factories.firing("unloading", kiln=kiln, pieces=1)
    factories.unload_one(firing.placements.get(), "lost", loss_cause="missing")
    Firing.objects.update(state="closed")
    assert answers_in(kiln).count() == 0
