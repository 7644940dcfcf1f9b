"""Intervals against Newcombe's published tables and statsmodels.

Sources: Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, method 3; statsmodels' own Wilson
interval and its Newcombe interval for a difference.
"""

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from studio.domain.intervals import FEW, Verdict, compare, rate, wilson
from studio.domain.problems import DomainError

counts = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        # Newcombe 1998, Statistics in Medicine 17:857-872, Table I, method 3
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
    ],
)
def test_newcombes_table(successes, trials, low, high):
    found = wilson(successes=successes, trials=trials)
    assert (round(found[0], 4), round(found[1], 4)) == (low, high)


@given(counts, st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99]))
def test_wilson_agrees_with_statsmodels(count, confidence):
    successes, trials = count
    theirs = proportion_confint(successes, trials, alpha=1 - confidence, method="wilson")
    assert wilson(successes=successes, trials=trials, confidence=confidence) == pytest.approx(
        theirs, abs=1e-9
    )


@given(counts)
def test_wilson_stays_between_0_and_1_and_around_the_rate(count):
    successes, trials = count
    low, high = wilson(successes=successes, trials=trials)
    assert 0 <= low <= successes / trials <= high <= 1
    assert low < high
    mirrored = wilson(successes=trials - successes, trials=trials)
    assert (1 - high, 1 - low) == pytest.approx(mirrored, abs=1e-12)


@given(counts, st.integers(2, 20))
def test_more_of_the_same_tells_more(count, times):
    successes, trials = count
    narrow = wilson(successes=successes * times, trials=trials * times)
    wide = wilson(successes=successes, trials=trials)
    assert narrow[1] - narrow[0] < wide[1] - wide[0]


@given(counts, counts)
def test_differences_agree_with_statsmodels(first, second):
    ours = compare(
        first_successes=first[0], first_trials=first[1], second_successes=second[0], second_trials=second[1]
    )
    theirs = confint_proportions_2indep(*first, *second, method="newcomb", compare="diff")
    assert (ours.low, ours.high) == pytest.approx(theirs, abs=1e-9)


def test_a_difference_stays_between_less_and_more_than_all():
    found = compare(
        first_successes=12, first_trials=12, second_successes=0, second_trials=12, comparisons=1000
    )
    assert -1 <= found.low < 1 == found.difference == found.high


def test_three_pots_say_how_little_they_know():
    three = rate(successes=3, trials=3)
    assert three.few
    assert three.low < 0.45
    assert not rate(successes=9, trials=FEW).few


@pytest.mark.parametrize(
    ("first", "second", "verdict"),
    [
        ((40, 50), (20, 50), Verdict.HIGHER),
        ((20, 50), (40, 50), Verdict.LOWER),
        ((25, 50), (27, 50), Verdict.NO_DIFFERENCE),
        ((9, 9), (0, 9), Verdict.TOO_FEW),
        ((0, 3), (50, 50), Verdict.TOO_FEW),
    ],
)
def test_verdicts(first, second, verdict):
    found = compare(
        first_successes=first[0], first_trials=first[1], second_successes=second[0], second_trials=second[1]
    )
    assert found.verdict == verdict


def draw(random, chance, trials):
    return sum(random.random() < chance for _ in range(trials))


def test_an_effect_that_is_there_is_found_and_none_where_there_is_none():
    """95 of 100 runs each (binomial): half against a tenth of 60 pots, and the same rate twice."""
    random = Random(95)
    found = cried = 0
    for _ in range(100):
        effect = compare(
            first_successes=draw(random, 0.5, 60),
            first_trials=60,
            second_successes=draw(random, 0.1, 60),
            second_trials=60,
        )
        found += effect.verdict == Verdict.HIGHER
        nothing = compare(
            first_successes=draw(random, 0.2, 60),
            first_trials=60,
            second_successes=draw(random, 0.2, 60),
            second_trials=60,
            comparisons=3,
        )
        cried += nothing.verdict in (Verdict.HIGHER, Verdict.LOWER)
    assert found >= 95
    assert cried <= 5


def test_looking_at_twenty_pairs_does_not_cry_wolf():
    """Of 200 studios with 20 equal layers each, at most 8 % see any difference (5 % and a margin)."""
    random = Random(20)
    alarms = 0
    for _ in range(200):
        alarms += any(
            compare(
                first_successes=draw(random, 0.15, 40),
                first_trials=40,
                second_successes=draw(random, 0.15, 200),
                second_trials=200,
                comparisons=20,
            ).verdict
            in (Verdict.HIGHER, Verdict.LOWER)
            for _ in range(20)
        )
    assert alarms <= 16


@pytest.mark.parametrize(
    "ask",
    [
        {"successes": 0, "trials": 0},
        {"successes": -1, "trials": 5},
        {"successes": 6, "trials": 5},
        {"successes": 1.0, "trials": 5},
        {"successes": 1, "trials": 5, "confidence": 1},
        {"successes": 1, "trials": 5, "confidence": 0},
        {"successes": 1, "trials": 5, "confidence": float("nan")},
    ],
)
def test_nonsense_is_refused(ask):
    with pytest.raises(DomainError):
        wilson(**ask)
