"""Drying. Common practice, no source; the arithmetic is worked by hand or on simulated pieces."""

from datetime import UTC, datetime, timedelta
from math import exp
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain.drying import days_to_dry, weight_steady
from studio.domain.problems import DomainError

MONDAY = datetime(2025, 3, 3, 9, 0, tzinfo=UTC)


def weighed(*pairs):
    return [(MONDAY + timedelta(hours=hours), grams) for hours, grams in pairs]


@pytest.mark.parametrize(
    ("weighings", "steady", "change"),
    [
        (weighed((0, 1000), (24, 996)), True, -0.4),
        (weighed((0, 1000), (24, 995)), False, -0.5),  # under 0.5 %, not at it
        (weighed((0, 1000), (24, 980)), False, -2.0),
        (weighed((0, 1000), (48, 992)), True, -0.4),  # 0.8 % in two days
        (weighed((0, 1000), (12, 998)), True, -0.4),  # 0.2 % in half a day
        (weighed((0, 1000), (24, 1010)), False, 1.0),  # damp from the air
        (weighed((0, 1200), (24, 1000), (48, 999)), True, -0.1),  # the latest that is old enough
        (weighed((0, 1000), (23, 700), (24, 999)), True, -0.1),  # an hour apart says nothing
        (list(reversed(weighed((0, 1000), (24, 996)))), True, -0.4),
    ],
)
def test_steady_weight(weighings, steady, change):
    check = weight_steady(weighings=weighings)
    assert check.steady is steady
    assert check.change_percent == pytest.approx(change)


@pytest.mark.parametrize("weighings", [[], weighed((0, 1000)), weighed((0, 1000), (3, 1000))])
def test_too_little_to_say(weighings):
    assert weight_steady(weighings=weighings) is None


def test_the_studios_setting_stands_where_there_is_no_record():
    eight = days_to_dry(thickness_mm=8)
    assert eight.likely_days == pytest.approx(7)
    assert eight.few
    # One piece in ten either side: a factor of 1.7, and half as much again for want of records.
    assert (eight.low_days, eight.high_days) == pytest.approx((7 / 1.7**1.5, 7 * 1.7**1.5), rel=1e-3)
    assert days_to_dry(thickness_mm=8, records=[(8, 7)] * 4).few
    assert not days_to_dry(thickness_mm=8, records=[(8, 7)] * 5).few
    # 16 mm takes 2^1.5 = 2.83 times as long
    assert days_to_dry(thickness_mm=16).likely_days == pytest.approx(7 * 2.8284, abs=1e-3)


@given(st.floats(1, 200), st.floats(1, 200))
def test_thicker_dries_later(first, second):
    thin, thick = sorted((first, second))
    assert days_to_dry(thickness_mm=thin).likely_days <= days_to_dry(thickness_mm=thick).likely_days + 1e-9


def test_the_studios_own_record_takes_over():
    slow_room = days_to_dry(thickness_mm=8, records=[(8, 14)] * 30)
    assert not slow_room.few
    assert slow_room.likely_days == pytest.approx(14, rel=0.06)


def test_the_range_holds_eight_in_ten():
    """200 pieces of simulated studios: 149 to 171 of 200 hold, 95 % of the binomial with 80 %."""
    random = Random(80)
    held = 0
    for _ in range(200):
        usual, spread = random.uniform(4, 14), random.uniform(0.15, 0.4)

        def piece(usual=usual, spread=spread):
            thickness = random.uniform(4, 20)
            return thickness, usual * (thickness / 8) ** 1.5 * exp(random.gauss(0, spread))

        estimate_from = [piece() for _ in range(60)]
        thickness, days = piece()
        estimate = days_to_dry(thickness_mm=thickness, records=estimate_from, usual_days=7)
        held += estimate.low_days <= days <= estimate.high_days
    assert 149 <= held <= 171


@pytest.mark.parametrize(
    "ask",
    [
        lambda: days_to_dry(thickness_mm=0),
        lambda: days_to_dry(thickness_mm=201),
        lambda: days_to_dry(thickness_mm=float("nan")),
        lambda: days_to_dry(thickness_mm=8, records=[(8, 0)]),
        lambda: days_to_dry(thickness_mm=8, records=[(0, 5)]),
        lambda: days_to_dry(thickness_mm=8, usual_days=-1),
        lambda: weight_steady(weighings=weighed((0, 0))),
        lambda: weight_steady(weighings=[(datetime(2025, 1, 1), 10.0)]),  # noqa: DTZ001
    ],
)
def test_nonsense_is_refused(ask):
    with pytest.raises(DomainError):
        ask()
