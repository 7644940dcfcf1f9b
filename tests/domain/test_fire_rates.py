"""Rates and time left of a fire, against straight lines whose answer is arithmetic."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import exp, log

import pytest

from studio.domain import fire_rates
from studio.domain.heatwork import last_rate
from studio.domain.programme import Segment, plan

LIT = datetime(2025, 11, 17, 9, 0, tzinfo=UTC)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


def line(rate: float, hours: float, start: float = 20.0, step: timedelta = 5 * MINUTE) -> list:
    return [(LIT + step * n, start + rate * n * (step / HOUR)) for n in range(round(hours * HOUR / step) + 1)]


def test_the_rate_of_the_last_hour_of_a_straight_line() -> None:
    assert fire_rates.rate_of_last_hour(line(85, 5)) == pytest.approx(85)
    assert fire_rates.rate_of_last_hour(line(-40, 5, 1000)) == pytest.approx(-40)
    assert fire_rates.rate_of_last_hour(line(85, 0.5)) == pytest.approx(85)
    assert fire_rates.rate_of_last_hour(line(85, 0.1)) is None
    assert fire_rates.rate_of_last_hour([]) is None


def test_only_the_last_hour_counts() -> None:
    rows = [(LIT, 20.0), (LIT + 5 * HOUR, 520.0), (LIT + 6 * HOUR, 570.0)]
    assert fire_rates.rate_of_last_hour(rows) == pytest.approx(50)


def test_the_rate_of_the_last_hundred_degrees_is_that_of_the_cones() -> None:
    """The charts go by the last 100 °C; `heatwork` reads the same from its own form of the curve."""
    rows = [*line(150, 6), (LIT + 8 * HOUR, 1040.0)]
    assert fire_rates.rate_of_last_hundred(rows) == pytest.approx(60)
    hours = [((at - LIT) / HOUR, celsius) for at, celsius in rows]
    assert fire_rates.rate_of_last_hundred(rows) == pytest.approx(last_rate(hours))
    assert fire_rates.rate_of_last_hundred(line(60, 1)) is None


def test_values_between_readings() -> None:
    rows = [(LIT, 20.0), (LIT + HOUR, 80.0)]
    assert fire_rates.value_at(rows, LIT + 20 * MINUTE) == pytest.approx(40)
    assert fire_rates.value_at(rows, LIT + HOUR) == 80
    assert fire_rates.value_at(rows, LIT + 2 * HOUR) is None


ASKED = plan(segments=[Segment(100, 1020, 60)])


def test_behind_and_ahead_of_the_plan() -> None:
    """100 °C an hour reaches 520 °C five hours after the lighting."""
    assert fire_rates.behind_plan([(LIT + 6 * HOUR, 520.0)], ASKED, LIT) == HOUR
    assert fire_rates.behind_plan([(LIT + 4.5 * HOUR, 520.0)], ASKED, LIT) == -HOUR / 2
    assert fire_rates.behind_plan([(LIT + 10 * HOUR, 1020.0)], ASKED, LIT) is None


def test_time_left_by_the_plan_holds_what_is_left_of_it() -> None:
    """From 520 °C: five hours of climb and one of hold."""
    left = fire_rates.time_left(readings=line(100, 5), lit_at=LIT, plan=ASKED)
    assert left.earliest <= LIT + 11 * HOUR <= left.latest
    assert left.latest - left.earliest < HOUR


def test_a_kiln_at_half_the_pace_may_take_twice_as_long() -> None:
    left = fire_rates.time_left(readings=line(50, 10), lit_at=LIT, plan=ASKED)
    assert left.earliest < LIT + 16 * HOUR + MINUTE
    assert left.latest >= LIT + 22 * HOUR


def test_in_the_hold_at_the_top_the_rest_of_the_plan_is_left() -> None:
    rows = [*line(100, 10), (LIT + 10.5 * HOUR, 1020.0)]
    left = fire_rates.time_left(readings=rows, lit_at=LIT, plan=ASKED)
    assert left.earliest <= LIT + 11 * HOUR <= left.latest


def test_time_left_by_earlier_firings_spans_them() -> None:
    earlier = [[(0, 20), (5, 520), (5 + rest, 1220)] for rest in (5, 7)]
    left = fire_rates.time_left(readings=line(100, 5), lit_at=LIT, earlier=earlier)
    assert left.earliest <= LIT + 10 * HOUR
    assert left.latest >= LIT + 12 * HOUR
    assert "the last 2 firings" in left.because


def test_time_left_by_its_own_rate_holds_for_a_kiln_that_slows_down() -> None:
    """A kiln that goes towards 1500 °C by Newton's law, a time constant of ten hours, reaches 1222 °C after
    10 × ln(1480 ÷ 278) hours."""
    done = 10 * log(1480 / 278)
    for seen in (9.0, 12.0, 14.0):
        rows = [(LIT + 5 * MINUTE * n, 1500 - 1480 * exp(-n / 120)) for n in range(round(seen * 12) + 1)]
        left = fire_rates.time_left(readings=rows, lit_at=LIT, top_c=1222)
        assert left.earliest <= LIT + done * HOUR <= left.latest


def test_nothing_is_said_from_nothing() -> None:
    assert fire_rates.time_left(readings=[], lit_at=LIT, top_c=1222) is None
    assert fire_rates.time_left(readings=line(2, 5), lit_at=LIT, top_c=1222) is None
    assert fire_rates.time_left(readings=line(100, 5), lit_at=LIT) is None
