"""Energy by hand, tariffs over midnight and both clock changes, wear that sums.

Sources: P = V × I and arithmetic; duties and the marks for worn elements are common practice. Metered loads
of a full 75 L kiln (26 to 29 kWh at cone 06, 34 to 36 at cone 9) are potters' reports: a sanity band only.
"""

from datetime import UTC, datetime, time, timedelta, timezone
from decimal import Decimal
from fractions import Fraction
from random import Random
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain import energy
from studio.domain.energy import Tariff, cost_minor, element_health, estimated_wh, metered_wh, wear_minor
from studio.domain.problems import DomainError

LONDON = ZoneInfo("Europe/London")
FLAT = Tariff.of(prices=[(time(0), "27.35")], zone=LONDON)
NAIVE = datetime(2025, 1, 1)  # noqa: DTZ001
#: 30 by day from 07:00, 10 by night from 00:30.
NIGHT = Tariff.of(prices=[(time(7), 30), (time(0, 30), 10)], zone=LONDON)


@pytest.mark.parametrize(
    ("kw", "hours", "duty", "wh"),
    [
        ("11.52", 7, "0.15", 12_096),  # preheat; 48 A × 240 V = 11.52 kW
        ("11.52", 9, "0.50", 51_840),  # bisque
        (Decimal("11.52"), Fraction(1, 3), 1, 3_840),
        (0, 10, "0.5", 0),
    ],
)
def test_power_times_duty_times_time(kw, hours, duty, wh):
    assert estimated_wh(power_kw=kw, hours=hours, duty=duty) == wh
    assert 48 * 240 == 11_520


def test_a_full_small_kiln_lies_in_the_band_of_potters_meters():
    """A 75 L kiln of 5 kW for nine hours to cone 06 at 60 %: 27 kWh (26 to 29 reported)."""
    assert 26_000 <= estimated_wh(power_kw=5, hours=9, duty="0.6") <= 29_000


def test_a_meter():
    assert metered_wh(start_kwh="10432.7", end_kwh="10461.2") == 28_500
    with pytest.raises(DomainError, match="less after"):
        metered_wh(start_kwh=5, end_kwh=4)


def at(zone, *when):
    return datetime(*when, tzinfo=zone)


def test_a_flat_price():
    """28.5 kWh × 27.35 = 779.475 → 779."""
    span = (at(UTC, 2025, 5, 1, 8), at(UTC, 2025, 5, 1, 18), 28_500)
    assert cost_minor(spans=[span], tariff=FLAT) == 779
    assert cost_minor(spans=[span], tariff=FLAT, standing_minor=50) == 829


def test_over_midnight():
    """Ten hours of 3 kW from 20:00: 4.5 h at 30 to 00:30, 5.5 h at 10: 405 + 165."""
    span = (at(LONDON, 2025, 1, 10, 20), at(LONDON, 2025, 1, 11, 6), 30_000)
    assert cost_minor(spans=[span], tariff=NIGHT) == 570


def test_before_the_first_band_the_last_one_of_the_evening_holds():
    tariff = Tariff.of(prices=[(time(6), 30), (time(22), 10)], zone=LONDON)
    span = (at(LONDON, 2025, 1, 10, 21), at(LONDON, 2025, 1, 11, 7), 10_000)
    assert cost_minor(spans=[span], tariff=tariff) == 30 + 8 * 10 + 30


def test_the_night_the_clocks_go_back_has_an_hour_more():
    """26 October 2025, 02:00 BST becomes 01:00 GMT: 00:30 to 07:00 lasts 7.5 h, all at the night price."""
    start, end = at(LONDON, 2025, 10, 25, 23, 30), at(LONDON, 2025, 10, 26, 8)
    assert (end.astimezone(UTC) - start.astimezone(UTC)) == timedelta(hours=9.5)
    # 1 h at 30, 7.5 h at 10, 1 h at 30, 1 kW
    assert cost_minor(spans=[(start, end, 9_500)], tariff=NIGHT) == 30 + 75 + 30


def test_the_night_the_clocks_go_forward_has_an_hour_less():
    """30 March 2025, 01:00 GMT becomes 02:00 BST: 00:30 to 07:00 lasts 5.5 h."""
    start, end = at(LONDON, 2025, 3, 29, 23, 30), at(LONDON, 2025, 3, 30, 8)
    assert (end.astimezone(UTC) - start.astimezone(UTC)) == timedelta(hours=7.5)
    assert cost_minor(spans=[(start, end, 7_500)], tariff=NIGHT) == 30 + 55 + 30


def test_a_band_within_the_repeated_hour_holds_both_times():
    """A band from 01:15 to 01:45 local comes twice that night: half an hour each time."""
    tariff = Tariff.of(prices=[(time(0), 10), (time(1, 15), 100), (time(1, 45), 10)], zone=LONDON)
    span = (at(UTC, 2025, 10, 25, 23), at(UTC, 2025, 10, 26, 3), 4_000)
    assert cost_minor(spans=[span], tariff=tariff) == 30 + 100


def test_a_band_that_starts_in_the_hour_left_out():
    """A dear band 01:30 to 03:00 on 30 March 2025: the clock shows 02:00 to 03:00 of it, one hour."""
    tariff = Tariff.of(prices=[(time(0), 10), (time(1, 30), 100), (time(3), 10)], zone=LONDON)
    span = (at(UTC, 2025, 3, 30, 0), at(UTC, 2025, 3, 30, 4), 4_000)
    assert cost_minor(spans=[span], tariff=tariff) == 30 + 100


def test_every_minute_by_brute_force():
    """The price of each minute looked up by itself, over random spans near both clock changes."""
    random = Random(26)
    zones = [LONDON, ZoneInfo("Australia/Lord_Howe"), ZoneInfo("America/New_York"), UTC]
    for _ in range(60):
        zone = random.choice(zones)
        minutes = random.sample(range(0, 1440, 5), random.randint(1, 4))
        tariff = Tariff.of(
            prices=[(time(m // 60, m % 60), random.randint(0, 60)) for m in minutes], zone=zone
        )
        day = random.choice([(2025, 3, 29), (2025, 10, 25), (2025, 4, 5), (2025, 10, 4), (2025, 11, 1)])
        start = at(UTC, *day) + timedelta(minutes=random.randrange(2880))
        length = random.randint(1, 2000)
        brute = sum((tariff.price_at(start + timedelta(minutes=m)) for m in range(length)), start=Fraction(0))
        pieces = tariff.pieces(start=start, end=start + timedelta(minutes=length))
        ours = sum((price * int((b - a).total_seconds()) for a, b, price in pieces), start=Fraction(0))
        assert ours == brute * 60


def test_spans_follow_a_meter():
    spans = [
        (at(LONDON, 2025, 1, 10, 20), at(LONDON, 2025, 1, 10, 22), 1_000),
        (at(LONDON, 2025, 1, 11, 1), at(LONDON, 2025, 1, 11, 5), 20_000),
    ]
    assert cost_minor(spans=spans, tariff=NIGHT) == 30 + 200


def test_the_zone_that_times_are_written_in_does_not_matter():
    span = (at(LONDON, 2025, 1, 10, 20), at(LONDON, 2025, 1, 11, 6), 30_000)
    india = timezone(timedelta(hours=5, minutes=30))
    elsewhere = (span[0].astimezone(india), span[1].astimezone(india), 30_000)
    assert cost_minor(spans=[elsewhere], tariff=NIGHT) == cost_minor(spans=[span], tariff=NIGHT)


@given(st.integers(0, 10**6), st.integers(1, 400))
def test_wear_sums_to_the_price(price, firings):
    parts = [
        wear_minor(price_minor=price, expected_firings=firings, firing_number=n)
        for n in range(1, firings + 1)
    ]
    assert sum(parts) == price
    assert max(parts) - min(parts) <= 1
    assert wear_minor(price_minor=price, expected_firings=firings, firing_number=firings + 1) == 0


def test_firing_times_creeping_up():
    """100 firings that grow by 1 min each from 9 h: 99 min or 18 % slower."""
    times = [9 + place / 60 for place in range(100)]
    health = element_health(firing_hours=times)
    assert health.per_firing_min == pytest.approx(1)
    assert health.slower_percent == pytest.approx(99 / 540 * 100)
    assert health.worn
    early = element_health(firing_hours=times[:20])
    assert not early.worn
    assert early.firings_left == 54 - 19  # 10 % of 540 min is 54


def test_other_firings_between_count_as_wear():
    """Every third firing is of this programme: 1 min a firing of any kind is 3 min from one to the next."""
    counts = list(range(2, 62, 3))
    health = element_health(firing_hours=[9 + count / 60 for count in counts], firing_counts=counts)
    assert health.per_firing_min == pytest.approx(1)
    assert health.first_hours == pytest.approx(9 + 2 / 60)
    assert health.last_hours == pytest.approx(9 + 59 / 60)
    assert health.slower_percent == pytest.approx(57 / 542 * 100)
    # 10 % of 542 min is 54.2: reached 54 firings after the first one, 57 after it are gone.
    assert health.worn
    assert health.firings_left == 0


def test_odd_loads_do_not_sway_the_trend():
    random = Random(2)
    times = [9 + random.gauss(0, 0.1) for _ in range(40)]
    for place in (3, 17, 30, 38):
        times[place] = 14
    health = element_health(firing_hours=times)
    assert abs(health.slower_percent) < 3
    assert not health.worn


@pytest.mark.parametrize(
    ("measured", "worn", "percent"), [(10.5, False, 5), (11.0, True, 10), (12.0, True, 20), (9.9, False, -1)]
)
def test_resistance(measured, worn, percent):
    health = element_health(firing_hours=[], new_ohm=10, measured_ohm=measured)
    assert health.worn is worn
    assert health.resistance_percent == pytest.approx(percent)
    assert health.slower_percent is None
    assert "too few" in health.reasons[0]


def test_power_falls_as_one_over_resistance():
    assert "power is -17 %" in element_health(firing_hours=[], new_ohm=10, measured_ohm=12).reasons[-1]


@pytest.mark.parametrize(
    "ask",
    [
        lambda: estimated_wh(power_kw=11.52, hours=1, duty=1),
        lambda: estimated_wh(power_kw=-1, hours=1, duty=1),
        lambda: estimated_wh(power_kw=1, hours=1, duty="1.1"),
        lambda: estimated_wh(power_kw="a lot", hours=1, duty=1),
        lambda: estimated_wh(power_kw=Decimal("NaN"), hours=1, duty=1),
        lambda: Tariff.of(prices=[], zone=LONDON),
        lambda: Tariff.of(prices=[(time(1), 1), (time(1), 2)], zone=LONDON),
        lambda: Tariff.of(prices=[(time(1), -1)], zone=LONDON),
        lambda: Tariff.of(prices=[(time(1), 0.3)], zone=LONDON),
        lambda: Tariff.of(prices=[(time(1, tzinfo=UTC), 1)], zone=LONDON),
        lambda: cost_minor(spans=[(at(UTC, 2025, 1, 2), at(UTC, 2025, 1, 1), 1)], tariff=FLAT),
        lambda: cost_minor(spans=[(NAIVE, at(UTC, 2025, 1, 2), 1)], tariff=FLAT),
        lambda: wear_minor(price_minor=1, expected_firings=0, firing_number=1),
        lambda: wear_minor(price_minor=1.5, expected_firings=1, firing_number=1),
        lambda: element_health(firing_hours=[9, 0]),
        lambda: element_health(firing_hours=[9], new_ohm=0, measured_ohm=1),
        lambda: element_health(firing_hours=[9, 9], firing_counts=[4, 4]),
        lambda: element_health(firing_hours=[9, 9], firing_counts=[4]),
    ],
)
def test_nonsense_is_refused(ask):
    with pytest.raises(DomainError):
        ask()


def test_no_floats_in_money():
    price = FLAT.price_at(at(UTC, 2025, 1, 1))
    assert type(price) is Fraction
    assert type(cost_minor(spans=[(at(UTC, 2025, 1, 1), at(UTC, 2025, 1, 2), 1)], tariff=FLAT)) is int


def test_a_usual_duty():
    assert energy.typical_duty(duties=[0.4, 0.6]) == pytest.approx(0.5)
    assert energy.typical_duty(duties=[]) is None
