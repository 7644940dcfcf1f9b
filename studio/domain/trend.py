"""Whether a fault grows commoner with a measure, such as S-cracks with the thickness of the base.

Cochran's and Armitage's test for a trend in proportions, with the measure itself as the score: Cochran, "Some
methods for strengthening the common chi-squared tests", Biometrics 10 (1954), 417; Armitage, "Tests for
linear trends in proportions and frequencies", Biometrics 11 (1955), 375. It says whether the two go together,
not why: who throws thick bases may also be new to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import sqrt
from statistics import NormalDist

from .intervals import FEW, Rate, rate
from .problems import DomainError
from .say import later, say

#: A trend is called one at this confidence: of a hundred studios without one, one is told of one.
CONFIDENCE = 0.99
#: Fewer pieces, or fewer with the fault or without it, tell nothing (common practice, no source).
FEWEST_PIECES = 30
FEWEST_EACH = 5


class Trend(StrEnum):
    TOO_FEW = later("too few to say")
    NONE = later("no effect seen")
    MORE = later("more as it grows")
    LESS = later("less as it grows")


@dataclass(frozen=True, slots=True)
class At:
    """Of ``pieces`` with this measure so many had the fault."""

    measure: int
    faults: int
    pieces: int


@dataclass(frozen=True, slots=True)
class Band:
    """Neighbouring measures taken together: ``low`` to ``high``, both included."""

    low: int
    high: int
    rate: Rate


@dataclass(frozen=True, slots=True)
class Seen:
    """``z`` is the standardised sum, positive where the fault grows with the measure; 0 of too few."""

    trend: Trend
    z: float
    faults: int
    pieces: int
    bands: tuple[Band, ...]


def trend_in(rows: Iterable[At], *, confidence: float = CONFIDENCE) -> Seen:
    """What may be said of faults counted by a measure. Raises `DomainError` for impossible counts."""
    found = sorted(rows, key=lambda row: row.measure)
    for row in found:
        if row.pieces < 0 or not 0 <= row.faults <= row.pieces:
            raise DomainError(
                say("There can't be more faults than pieces, nor fewer than none."), code="counts"
            )
    found = [row for row in found if row.pieces]
    faults, pieces = sum(row.faults for row in found), sum(row.pieces for row in found)
    few = pieces < FEWEST_PIECES or min(faults, pieces - faults) < FEWEST_EACH or len(found) < 2
    z = 0.0 if few else z_of(found)
    limit = NormalDist().inv_cdf((1 + confidence) / 2)
    said = Trend.NONE
    if few:
        said = Trend.TOO_FEW
    elif z > limit:
        said = Trend.MORE
    elif z < -limit:
        said = Trend.LESS
    return Seen(said, z, faults, pieces, bands(found))


def z_of(rows: Sequence[At]) -> float:
    """The standardised statistic; its square is chi-squared with one degree of freedom (Armitage 1955)."""
    pieces = sum(row.pieces for row in rows)
    part = sum(row.faults for row in rows) / pieces
    total = sum(row.measure * (row.faults - row.pieces * part) for row in rows)
    spread = sum(row.pieces * row.measure**2 for row in rows)
    spread -= sum(row.pieces * row.measure for row in rows) ** 2 / pieces
    return total / sqrt(part * (1 - part) * spread)


def bands(rows: Sequence[At], *, least: int = FEW) -> tuple[Band, ...]:
    """Neighbours taken together until each band has ``least`` pieces; the last may take in what is left."""
    groups: list[list[At]] = []
    for row in rows:
        if groups and sum(each.pieces for each in groups[-1]) < least:
            groups[-1].append(row)
        else:
            groups.append([row])
    if len(groups) > 1 and sum(each.pieces for each in groups[-1]) < least:
        left = groups.pop()
        groups[-1] += left
    return tuple(
        Band(
            group[0].measure,
            group[-1].measure,
            rate(successes=sum(each.faults for each in group), trials=sum(each.pieces for each in group)),
        )
        for group in groups
    )
