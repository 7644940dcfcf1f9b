"""Estimates of a programme beside published figures, and a firing's report beside sums by hand."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from studio.actions import programmes as actions
from studio.domain.programme import Segment
from studio.models import Reading, Studio
from studio.queries.firing_report import cones_at, report_of
from studio.queries.kiln_rates import rates_of
from studio.queries.programme_estimates import estimate
from studio.queries.programmes import copy_of
from studio.queries.readings_thin import thin_readings
from tests import factories

pytestmark = pytest.mark.django_db


def codes(found):
    return {problem.code for problem in found.warnings}


def test_energy_of_nine_hours_at_half_duty():
    """48 A at 240 V is 11.52 kW (P = V × I); for 9 h at 50 % duty 51.84 kWh (arithmetic; the duty is common
    practice). 900 °C at 100 °C/h are 9 h; at 27p a kWh £14.00."""
    factories.studio()
    kiln = factories.kiln(power_kw=Decimal("11.52"), duty_percent=50)
    found = estimate(
        segments=[Segment(100, 920)], kind="bisque", kiln=kiln, studio=Studio.the(), now=factories.NOW
    )
    assert found.curve.duration_min == pytest.approx(540)
    assert found.wh == 51_840
    assert found.cost_low_minor == found.cost_high_minor == 1400  # 51.84 × 27 = 1399.68


@pytest.mark.parametrize(
    ("rate", "top", "cone"),
    [(60, 1222, "6"), (150, 1243, "6"), (60, 1063, "04"), (150, 1077, "04"), (60, 998, "06")],
)
def test_cone_reached_as_the_published_chart_has_it(rate, top, cone):
    """Orton's chart of temperature equivalents, self-supporting cones, columns of 60 and 150 °C/h."""
    found = estimate(segments=[Segment(rate, top)], kind="glaze", kiln=None, cone=cone)
    assert found.cone.likely == cone
    assert "cone-missed" not in codes(found)


def test_what_is_warned_of():
    """100 °C: water boils (physics). 573 °C: quartz inversion (standard mineralogy), down at 50 °C/h or
    slower (technical literature). 80 to 120 °C and its rate: common practice, no source."""
    kiln = factories.kiln(highest_cone="6")
    fast = estimate(segments=[Segment(200, 1000)], kind="bisque", kiln=kiln)
    assert "fast-through-steam" in codes(fast)
    assert "fast-through-steam" not in codes(estimate(segments=[Segment(60, 1000)], kind="bisque", kiln=kiln))
    down = estimate(segments=[Segment(60, 1000), Segment(80, 400)], kind="bisque", kiln=kiln)
    assert "fast-through-quartz" in codes(down)
    hot = estimate(segments=[Segment(60, 1300)], kind="glaze", kiln=kiln, cone="8")
    assert {"cone-above-kiln", "too-hot-for-kiln"} <= codes(hot)
    cool = estimate(segments=[Segment(60, 1100)], kind="glaze", kiln=kiln, cone="6")
    assert "cone-missed" in codes(cool)


def test_full_power_in_a_kiln_nobody_has_measured_says_so():
    found = estimate(segments=[Segment(None, 1000)], kind="bisque", kiln=factories.kiln())
    assert found.curve is None
    assert "Nobody has measured" in found.trouble


def cooling_readings(firing):
    """A fall of 100 °C an hour, read every quarter of an hour."""
    Reading.objects.bulk_create(
        Reading(firing=firing, at=firing.ended_at + timedelta(minutes=15 * n), temperature_c=1000 - 25 * n)
        for n in range(37)
    )


def test_a_kiln_cools_as_it_was_read_to():
    firing = factories.firing("cooling", pieces=1)
    cooling_readings(firing)
    rates = rates_of(firing.kiln)
    assert not rates.heating
    assert {round(rate) for _, rate in rates.cooling} == {100}


def test_many_readings_are_thinned_in_two_queries(django_assert_num_queries):
    firings = [factories.firing("cooling", kiln=factories.kiln(f"K{n}"), pieces=1) for n in range(3)]
    Reading.objects.bulk_create(
        Reading(firing=firings[0], at=firings[0].lit_at + timedelta(seconds=5 * n), temperature_c=n / 5)
        for n in range(4000)
    )
    cooling_readings(firings[1])
    with django_assert_num_queries(2):
        thin = thin_readings(firings, most=400)
    assert len(thin[firings[0].pk]) == 400
    assert len(thin[firings[1].pk]) == 37
    assert thin[firings[2].pk] == []


def test_cones_of_a_place_are_read_together():
    """Cone 6 at 60 °C/h is 1222 °C and cone 7 is 1239 °C (Orton's chart): 6 down and 7 upright lie between
    about 1218 and 1223 °C."""
    firing = factories.firing("cooling", pieces=2, layers=2)
    factories.witness_cone(firing, "7", 0)
    factories.witness_cone(firing, "6", 90)
    factories.witness_cone(firing, "6", 45, layer_number=2)
    top, bottom = cones_at(firing.witness_cones.all())
    assert (top.layer_number, top.reading.cone) == (2, None)
    assert [row.cone for row in bottom.cones] == ["6", "7"]
    assert bottom.reading.cone == "6"
    assert bottom.reading.low_c == pytest.approx(1218)
    assert bottom.reading.high_c == pytest.approx(1223)


def test_a_report_counts_by_layer_and_sets_firings_of_the_programme_beside(django_assert_max_num_queries):
    maud, kiln = factories.tutor(), factories.kiln()
    programme = factories.programme(kind="glaze", name="Glaze")
    for number in range(3):
        past = factories.closed_firing(
            by=maud,
            kiln=kiln,
            pieces=[factories.piece(maker=factories.student(f"N{number}"), stage="glazed")],
            lit_at=factories.NOW - timedelta(days=30 - number),
        )
        past.programme, past.programme_as_fired = programme, copy_of(programme)
        past.save()
    firing = factories.firing("unloading", kiln=kiln, pieces=4, layers=2, by=maud)
    actions.choose_programme(firing=firing, programme=programme, by=maud)
    firing.refresh_from_db()
    places = list(firing.placements.order_by("pk"))
    factories.unload_one(places[0], "sound", by=maud)
    factories.unload_one(places[1], "lost", by=maud, loss_cause="cracked")
    with django_assert_max_num_queries(24):
        report = report_of(firing, with_money=True)
    assert len(report.others) == 3
    assert report.like_words == f"with Glaze in {kiln}"
    assert sum(layer.sound for layer in report.layers) == 1
    assert [layer.causes for layer in report.layers if layer.lost] == [(("cracked", 1),)]
    assert sum(layer.placed for layer in report.layers) == 4
    assert sum(layer.unanswered for layer in report.layers) == 2
    assert (report.went.lost, report.went.placed) == (1, 4)
    assert all(went.cost_minor is not None for went in report.others)
    assert report_of(firing, with_money=False).others[0].cost_minor is None
