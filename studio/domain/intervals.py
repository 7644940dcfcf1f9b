"""How much a rate from a few pots tells: Wilson's interval, small counts, and comparing two rates.

Sources: Wilson, "Probable inference", JASA 22 (1927); Newcombe, "Two-sided confidence intervals for the
single proportion" and "Interval estimation for the difference between independent proportions", Statistics
in Medicine 17 (1998), 857 and 873.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite, sqrt
from statistics import NormalDist

from .problems import DomainError
from .say import later, say

#: Fewer than this on a side is called a small count and never said to differ (common practice).
FEW = 10


def wilson(*, successes: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Wilson's score interval for a rate, as (low, high) between 0 and 1.

    Raises `DomainError` for no trials, more successes than trials, or a confidence outside 0 to 1 (both ends
    excluded). Source: Wilson 1927; method 3 of Newcombe 1998.
    """
    _counts(successes, trials)
    z = _z(confidence)
    rate = successes / trials
    centre = rate + z * z / (2 * trials)
    half = z * sqrt(rate * (1 - rate) / trials + z * z / (4 * trials * trials))
    scale = 1 + z * z / trials
    low = 0.0 if successes == 0 else max(0.0, (centre - half) / scale)
    high = 1.0 if successes == trials else min(1.0, (centre + half) / scale)
    return low, high


@dataclass(frozen=True, slots=True)
class Rate:
    """A rate with its interval; ``few`` says that the count is small, and any page says so beside it."""

    successes: int
    trials: int
    low: float
    high: float

    @property
    def value(self) -> float:
        return self.successes / self.trials

    @property
    def few(self) -> bool:
        return self.trials < FEW


def rate(*, successes: int, trials: int, confidence: float = 0.95) -> Rate:
    """A rate with Wilson's interval. Raises `DomainError` as `wilson` does."""
    return Rate(successes, trials, *wilson(successes=successes, trials=trials, confidence=confidence))


class Verdict(StrEnum):
    TOO_FEW = later("too few to say")
    NO_DIFFERENCE = later("no difference seen")
    HIGHER = "higher"
    LOWER = "lower"


@dataclass(frozen=True, slots=True)
class Comparison:
    """The first rate less the second: ``difference`` with its interval, and what may be said of it."""

    first: Rate
    second: Rate
    difference: float
    low: float
    high: float
    verdict: Verdict


def compare(
    *,
    first_successes: int,
    first_trials: int,
    second_successes: int,
    second_trials: int,
    confidence: float = 0.95,
    comparisons: int = 1,
) -> Comparison:
    """Whether the first rate is higher or lower than the second, without crying wolf.

    Newcombe's hybrid score interval for the difference; a difference is called one only if the interval
    leaves out 0 and neither count is small. ``comparisons`` is how many pairs are looked at together
    (layers, glazes): the confidence is raised for that (Bonferroni), so that one false alarm among all
    stays rare.
    """
    if comparisons < 1:
        raise DomainError(say("At least one comparison is made."), code="comparisons")
    _z(confidence)
    strict = 1 - (1 - confidence) / comparisons
    one = rate(successes=first_successes, trials=first_trials, confidence=strict)
    two = rate(successes=second_successes, trials=second_trials, confidence=strict)
    difference = one.value - two.value
    low = difference - sqrt((one.value - one.low) ** 2 + (two.high - two.value) ** 2)
    high = difference + sqrt((one.high - one.value) ** 2 + (two.value - two.low) ** 2)
    if one.few or two.few:
        verdict = Verdict.TOO_FEW
    elif low > 0:
        verdict = Verdict.HIGHER
    elif high < 0:
        verdict = Verdict.LOWER
    else:
        verdict = Verdict.NO_DIFFERENCE
    return Comparison(one, two, difference, max(-1.0, low), min(1.0, high), verdict)


def _counts(successes: int, trials: int) -> None:
    if type(successes) is not int or type(trials) is not int:
        raise DomainError(say("Counts are whole numbers."), code="counts")
    if trials < 1:
        raise DomainError(say("There are no results yet, so there is no rate."), code="no-trials")
    if not 0 <= successes <= trials:
        raise DomainError(
            say("There can't be more successes than results, nor fewer than none."), code="counts"
        )


def _z(confidence: float) -> float:
    if not isfinite(confidence) or not 0 < confidence < 1:
        raise DomainError(say("A confidence lies between 0 and 1, such as 0.95."), code="confidence")
    return NormalDist().inv_cdf((1 + confidence) / 2)
