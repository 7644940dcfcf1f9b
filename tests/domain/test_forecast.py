"""Forecasts on simulated studios, whose truth is known.

Source of the bands: the binomial distribution; of 50, 100 and 200 ranges that hold 80 % of the time, 34 to
45, 72 to 88 and 149 to 171 hold in 95 % of trials (worked again below).
"""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import comb, exp
from random import Random

import pytest

from studio.domain.forecast import KilnWait, Step, held, ready_range
from studio.domain.problems import DomainError

NOW = datetime(2025, 3, 3, 9, 0, tzinfo=UTC)
BANDS = {50: (34, 45), 100: (72, 88), 200: (149, 171)}


@pytest.mark.parametrize(("asked", "low", "high"), [(n, *band) for n, band in BANDS.items()])
def test_the_bands_are_those_of_the_binomial(asked, low, high):
    chance = sum(comb(asked, k) * 0.8**k * 0.2 ** (asked - k) for k in range(low, high + 1))
    assert chance >= 0.95


class Studio:
    """An invented studio that dries, fires and glazes at its own pace, without the forecast's own means."""

    def __init__(self, seed):
        self.random = random = Random(seed)
        self.drying = random.uniform(80, 300), random.uniform(0.15, 0.6)
        self.glazing = random.uniform(40, 200), random.uniform(0.2, 0.7)
        self.in_kiln = random.uniform(24, 48), 0.1
        self.bisque = random.uniform(72, 240), random.uniform(0.05, 0.35)
        self.glaze = random.uniform(96, 336), random.uniform(0.05, 0.35)
        self.chance = random.choice([1, 1, 0.9, 0.8])

    def takes(self, pace):
        return pace[0] * exp(self.random.gauss(0, pace[1]))

    def firings(self, pace):
        at, found = -self.random.uniform(3000, 4000), []
        while at < 6000:
            found.append(at)
            at += self.takes(pace)
        return found

    def taken(self, firings, ready):
        return next(at for at in firings if at >= ready and self.random.random() < self.chance)

    def piece(self, *, records):
        """(steps left and hours in the first, hours until truly ready) of a piece that is drying now."""
        spent = self.random.uniform(0, self.drying[0])
        dry = next(d for d in iter(lambda: self.takes(self.drying), None) if d > spent)
        bisque, glaze = self.firings(self.bisque), self.firings(self.glaze)
        out = self.taken(bisque, dry - spent) + self.takes(self.in_kiln)
        ready = self.taken(glaze, out + self.takes(self.glazing)) + self.takes(self.in_kiln)
        went_in = sum(self.random.random() < self.chance for _ in range(records))

        def history(pace):
            return tuple(self.takes(pace) for _ in range(records))

        def wait(name, firings):
            past = [at for at in firings if at <= 0]
            gaps = tuple(b - a for a, b in pairwise(past))[-records:]
            return KilnWait(name, gaps, (100, 250), -past[-1], (), went_in, records)

        steps = [
            Step("drying", history(self.drying), (96, 300)),
            wait("bisque firing", bisque),
            Step("in the kiln", history(self.in_kiln), (24, 48)),
            Step("glazing", history(self.glazing), (40, 200)),
            wait("glaze firing", glaze),
            Step("in the kiln", history(self.in_kiln), (24, 48)),
        ]
        return steps, spent, ready


def hits(*, asked, records, first_seed):
    found = []
    for seed in range(first_seed, first_seed + asked):
        steps, spent, ready = Studio(seed).piece(records=records)
        given = ready_range(steps=steps, now=NOW, random=Random(seed), in_first_step_h=spent, draws=300)
        found.append((given.earliest, given.latest, NOW + timedelta(hours=ready)))
    return held(ranges=found)


@pytest.mark.parametrize("records", [8, 20, 60])
def test_eight_in_ten_ranges_hold(records):
    count, asked = hits(asked=200, records=records, first_seed=1000 * records)
    low, high = BANDS[asked]
    assert low <= count <= high


@pytest.mark.parametrize("asked", [50, 100])
def test_they_hold_in_smaller_samples_too(asked):
    count, _ = hits(asked=asked, records=30, first_seed=77_000)
    assert BANDS[asked][0] <= count <= BANDS[asked][1]


def alone(hours, setting=(10, 20)):
    return Step("drying", tuple(hours), setting)


def hours_of(given):
    return [(at - NOW).total_seconds() / 3600 for at in (given.earliest, given.likely, given.latest)]


def test_few_records_say_so_and_fall_back_on_the_setting():
    given = ready_range(steps=[alone([500] * 4, (100, 200))], now=NOW, random=Random(1), draws=2000)
    assert given.few == ("drying",)
    assert "usual time" in given.reasons[0]
    low, middle, high = hours_of(given)
    assert low == pytest.approx(100, rel=0.06)
    assert high == pytest.approx(200, rel=0.06)
    assert middle == pytest.approx(141, rel=0.06)
    assert ready_range(steps=[alone([500] * 5)], now=NOW, random=Random(1)).few == ()


def test_time_already_spent_counts():
    history = [100 + place for place in range(60)]
    fresh = hours_of(ready_range(steps=[alone(history)], now=NOW, random=Random(2)))
    waited = hours_of(ready_range(steps=[alone(history)], now=NOW, random=Random(2), in_first_step_h=90))
    assert waited[1] == pytest.approx(fresh[1] - 90, abs=6)
    assert waited[0] >= 0


def test_longer_than_any_on_record_is_said():
    given = ready_range(
        steps=[alone([100, 110, 120, 130, 105])], now=NOW, random=Random(3), in_first_step_h=500
    )
    assert any("longer than any on record" in reason for reason in given.reasons)
    assert given.earliest > NOW


def test_the_calendar_comes_before_the_rhythm():
    wait = KilnWait("glaze firing", (168,) * 20, (100, 250), since_last_h=10, planned_h=(50, 218))
    given = ready_range(steps=[wait], now=NOW, random=Random(4))
    assert hours_of(given) == pytest.approx([50, 50, 50])
    later = ready_range(steps=[alone([60] * 10), wait], now=NOW, random=Random(4))
    assert hours_of(later) == pytest.approx([218, 218, 218])
    assert any("calendar" in reason for reason in later.reasons)


def test_after_the_last_planned_firing_the_rhythm_goes_on():
    wait = KilnWait("glaze firing", (168,) * 20, (100, 250), since_last_h=10, planned_h=(50,))
    given = ready_range(steps=[alone([60] * 10), wait], now=NOW, random=Random(4))
    assert hours_of(given)[1] == pytest.approx(50 + 168, abs=10)


def test_a_weekly_kiln_is_lit_a_week_after_it_was():
    wait = KilnWait(
        "bisque firing", tuple(166 + place % 5 for place in range(30)), (100, 250), since_last_h=100
    )
    low, middle, high = hours_of(ready_range(steps=[wait], now=NOW, random=Random(5)))
    assert middle == pytest.approx(68, abs=4)
    assert high - low < 36


def test_a_rhythm_seen_a_few_times_is_not_taken_for_a_clock():
    """Every 26 days five times over: the next may still be days off. Own choice, no source."""
    given = hours_of(
        ready_range(
            steps=[KilnWait("glaze firing", (26 * 24,) * 5, (100, 250), since_last_h=24)],
            now=NOW,
            random=Random(8),
        )
    )
    assert given[1] == pytest.approx(25 * 24, abs=24)
    assert 4 * 24 < given[2] - given[0] < 12 * 24
    # Seen more often it is surer, and what scatters by itself is not widened.
    many = hours_of(ready_range(steps=[alone([200] * 100)], now=NOW, random=Random(8), draws=2000))
    assert 8 < many[2] - many[0] < 24
    scattered = [100 * 1.01**place for place in range(100)]
    low, _, high = hours_of(ready_range(steps=[alone(scattered)], now=NOW, random=Random(8), draws=2000))
    assert (low, high) == (pytest.approx(scattered[10], rel=0.06), pytest.approx(scattered[90], rel=0.06))


def test_pieces_left_out_wait_for_the_next():
    """If half are left out, more than one in ten waits for the second firing and more."""
    wait = KilnWait("bisque firing", (168,) * 30, (100, 250), since_last_h=100, went_in=50, waited=100)
    assert hours_of(ready_range(steps=[wait], now=NOW, random=Random(6)))[2] > 68 + 167


def test_the_same_draw_gives_the_same_range():
    steps, spent, _ = Studio(5).piece(records=20)
    ranges = [ready_range(steps=steps, now=NOW, random=Random(9), in_first_step_h=spent) for _ in range(2)]
    assert ranges[0] == ranges[1]
    assert ranges[0].earliest <= ranges[0].likely <= ranges[0].latest


def test_nothing_left_is_ready_now():
    assert ready_range(steps=[], now=NOW, random=Random(1)).likely == NOW


@pytest.mark.parametrize(
    "ask",
    [
        lambda: ready_range(steps=[alone([1] * 5)], now=datetime(2025, 1, 1), random=Random(1)),  # noqa: DTZ001
        lambda: ready_range(steps=[alone([1] * 5)], now=NOW, random=Random(1), in_first_step_h=-1),
        lambda: ready_range(steps=[alone([1] * 5)], now=NOW, random=Random(1), draws=10),
        lambda: alone([-1]),
        lambda: alone([float("nan")]),
        lambda: alone([], (20, 10)),
        lambda: alone([], (0, 10)),
        lambda: KilnWait("bisque", (), (1, 2), since_last_h=-1),
        lambda: KilnWait("bisque", (), (1, 2), planned_h=(float("nan"),)),
        lambda: KilnWait("bisque", (), (1, 2), went_in=2, waited=1),
    ],
)
def test_nonsense_is_refused(ask):
    with pytest.raises(DomainError):
        ask()
