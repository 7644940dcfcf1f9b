"""Whether a fault grows with a measure: published worked example, a reference library, simulated studios."""

from __future__ import annotations

from math import sqrt
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import pearsonr

from studio.domain.problems import DomainError
from studio.domain.trend import At, Trend, bands, trend_in, z_of

#: Smokers among lung patients in four studies: Fleiss, Statistical Methods for Rates and Proportions (1981),
#: as worked in the manual of R's prop.trend.test, X-squared = 8.2249 (from memory, worked again below).
SMOKERS = [At(1, 83, 86), At(2, 90, 93), At(3, 129, 136), At(4, 70, 82)]


def test_the_worked_example_of_fleiss() -> None:
    assert z_of(SMOKERS) ** 2 == pytest.approx(8.2249, abs=5e-5)
    assert z_of(SMOKERS) < 0


counts = st.tuples(st.integers(0, 40), st.integers(0, 40)).filter(sum)


@given(st.dictionaries(st.integers(3, 20), counts, min_size=2, max_size=8))
def test_it_is_the_correlation_of_measure_and_fault(counted: dict[int, tuple[int, int]]) -> None:
    """The statistic squared is N r² (Agresti, Categorical Data Analysis, from memory): against SciPy's r."""
    rows = [At(mm, faults, faults + sound) for mm, (faults, sound) in counted.items()]
    measures = np.concatenate([[mm] * sum(each) for mm, each in counted.items()])
    faults = np.concatenate([[1] * bad + [0] * good for bad, good in counted.values()])
    if len(set(faults)) < 2:
        return
    expected = pearsonr(measures, faults).statistic * sqrt(len(measures))
    assert z_of(rows) == pytest.approx(expected, abs=1e-6)


def thrown(seed: int, *, growing: float, pieces: int = 300) -> list[At]:
    """A studio's bowls with bases of 4 to 14 mm, of which 3 % crack at 4 mm and ``growing`` more each mm."""
    random = Random(seed)
    found: dict[int, list[int]] = {}
    for _ in range(pieces):
        mm = random.randint(4, 14)
        cracked = random.random() < (0.12 if not growing else 0.03 + growing * (mm - 4))
        row = found.setdefault(mm, [0, 0])
        row[0] += cracked
        row[1] += 1
    return [At(mm, *row) for mm, row in found.items()]


def test_an_effect_that_is_there_is_found_in_95_of_100_studios() -> None:
    found = [trend_in(thrown(seed, growing=0.03)).trend for seed in range(100)]
    assert found.count(Trend.MORE) >= 95
    assert Trend.LESS not in found


def test_none_is_found_where_there_is_none_in_95_of_100_studios() -> None:
    found = [trend_in(thrown(seed, growing=0.0)).trend for seed in range(100)]
    assert found.count(Trend.NONE) >= 95


def test_few_pieces_say_nothing() -> None:
    assert trend_in([]).trend == Trend.TOO_FEW
    assert trend_in([At(5, 0, 10), At(12, 10, 10)]).trend == Trend.TOO_FEW
    assert trend_in([At(5, 0, 40), At(12, 4, 40)]).trend == Trend.TOO_FEW
    assert trend_in([At(5, 20, 40)]).trend == Trend.TOO_FEW
    assert trend_in([At(5, 1, 40), At(12, 14, 40)]).trend == Trend.MORE
    assert trend_in([At(5, 14, 40), At(12, 1, 40)]).trend == Trend.LESS


def test_bands_have_ten_pieces_each_and_lose_none() -> None:
    rows = [At(4, 0, 3), At(5, 1, 8), At(6, 0, 20), At(9, 2, 4), At(11, 1, 2)]
    found = bands(rows)
    assert [(band.low, band.high, band.rate.successes, band.rate.trials) for band in found] == [
        (4, 5, 1, 11),
        (6, 11, 3, 26),
    ]


def test_impossible_counts_are_refused() -> None:
    with pytest.raises(DomainError):
        trend_in([At(5, 3, 2)])
