"""Shrinkage of clay bodies: the size at any stage from the size at any other, and a body's figure from pairs.

Total linear shrinkage S to a stage is in % of the wet (plastic) length, so size at a stage = wet × (1 −
S/100) (the form of ASTM C326). To make 90 mm fired from a body of 12 %, divide: 90 ÷ 0.88 = 102.27 mm wet;
adding 12 % gives 100.8 and comes out too small. Absorption and its kin follow ASTM C373.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite, sqrt
from statistics import NormalDist, fmean, stdev

from .problems import DomainError
from .say import figure, say

#: No pottery body shrinks more than this in all, %: a sanity bound, common practice.
MOST_PERCENT = 30.0

# Student's t, two-sided 95 %, degrees of freedom 1 to 30: the printed table (also in the tests, from scipy).
_T95 = (
    *(12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145),
    *(2.131, 2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048),
    *(2.045, 2.042),
)


def linear_percent(*, before_mm: float, after_mm: float) -> float:
    """Shrinkage in % of the earlier length: (before − after) ÷ before. Negative is growth.

    Drying: wet and dry length; total: wet and fired; firing: dry and fired. Source: ASTM C326.
    """
    _length(before_mm, say("The length before"))
    _length(after_mm, say("The length after"))
    return (before_mm - after_mm) / before_mm * 100


def volume_percent(*, linear_percent: float) -> float:
    """Volume shrinkage in % of a body that shrinks alike in all directions: 1 − (1 − S)³."""
    return (1 - (1 - _percent(linear_percent) / 100) ** 3) * 100


def firing_percent(*, drying_percent: float, total_percent: float) -> float:
    """Firing shrinkage in % of the dry length, from drying and total shrinkage in % of the wet length."""
    dry = 1 - _percent(drying_percent) / 100
    return (dry - (1 - _percent(total_percent) / 100)) / dry * 100


def wet_size(*, size_mm: float, percent_to_stage: float) -> float:
    """Wet size in mm that gives ``size_mm`` at a stage with this total shrinkage: size ÷ (1 − S)."""
    return _length(size_mm, say("The size")) / (1 - _percent(percent_to_stage) / 100)


def size_at(*, size_mm: float, measured_at: str, wanted_at: str, percents: Mapping[str, float]) -> float:
    """Size in mm at one stage from the size at another.

    ``percents`` holds the body's total linear shrinkage from wet, in %, per stage; wet itself may be left
    out. Raises `DomainError` for a stage without a figure.
    """
    remaining = []
    for stage in (measured_at, wanted_at):
        if stage not in percents and stage != "wet":
            raise DomainError(
                say("The body has no shrinkage figure for {stage}. Enter one.", stage=stage), code="no-figure"
            )
        remaining.append(1 - _percent(percents.get(stage, 0.0)) / 100)
    return _length(size_mm, say("The size")) / remaining[0] * remaining[1]


@dataclass(frozen=True, slots=True)
class Lid:
    """How large across a lid is to be made, in mm at the stage it is measured at; and both as fired."""

    lid_mm: float
    lid_fired_mm: float
    gallery_fired_mm: float


def lid_for(
    *,
    gallery_mm: float,
    gallery_at: str,
    lid_at: str,
    gap_mm: float,
    gallery_percents: Mapping[str, float],
    lid_percents: Mapping[str, float],
) -> Lid:
    """A lid for a gallery (the ledge it sits in) that leaves ``gap_mm`` all round once both are fired.

    Both are brought to their fired size and back, each by its own body's figures. Raises `DomainError` when
    the gap leaves no lid.
    """
    gallery = size_at(
        size_mm=gallery_mm, measured_at=gallery_at, wanted_at="fired", percents=gallery_percents
    )
    fired = gallery - 2 * gap_mm
    if not isfinite(gap_mm) or gap_mm < 0 or fired <= 0:
        raise DomainError(say("That gap leaves no lid. Make it smaller."), code="gap")
    lid = size_at(size_mm=fired, measured_at="fired", wanted_at=lid_at, percents=lid_percents)
    return Lid(lid, fired, gallery)


@dataclass(frozen=True, slots=True)
class BodyFigure:
    """A body's shrinkage to a stage in %, with a 95 % interval of its mean, from so many measured pairs.

    With no pairs it is the maker's word, with no interval. ``piece_low`` to ``piece_high`` is where the next
    single piece is to be expected (95 %).
    """

    percent: float
    pairs: int
    low: float | None = None
    high: float | None = None
    piece_low: float | None = None
    piece_high: float | None = None

    @property
    def few(self) -> bool:
        """Too few pairs to rely on: fewer than five (common practice)."""
        return self.pairs < 5


def figure_from_pairs(
    *, pairs_mm: Sequence[tuple[float, float]], stated_percent: float | None = None
) -> BodyFigure:
    """A body's figure from measured (wet, later) lengths in mm of the same piece.

    The mean of the pairs' own shrinkage with Student's t; the maker's ``stated_percent`` counts like one
    pair, so that a single measurement does not throw it over. Two pairs or more give an interval.
    """
    measured = [linear_percent(before_mm=wet, after_mm=later) for wet, later in pairs_mm]
    for percent in measured:
        _percent(percent)
    if stated_percent is not None:
        _percent(stated_percent)
    if not measured:
        if stated_percent is None:
            raise DomainError(say("Nothing is known of this body's shrinkage yet."), code="no-figure")
        return BodyFigure(stated_percent, 0)
    known = measured if stated_percent is None else [*measured, stated_percent]
    mean = fmean(known)
    if len(measured) < 2:
        return BodyFigure(mean, len(measured))
    centre, count = fmean(measured), len(measured)
    spread, t = stdev(measured), t_95(degrees_of_freedom=count - 1)
    half, piece = t * spread / sqrt(count), t * spread * sqrt(1 + 1 / count)
    return BodyFigure(
        mean,
        count,
        low=min(centre - half, mean),
        high=max(centre + half, mean),
        piece_low=centre - piece,
        piece_high=centre + piece,
    )


@dataclass(frozen=True, slots=True)
class Absorption:
    """ASTM C373's figures of a fired body. Volume in cm³, absorption and porosity in %, density in g/cm³."""

    exterior_volume_cm3: float
    absorption_percent: float
    apparent_porosity_percent: float
    bulk_density: float
    apparent_specific_gravity: float


def absorption(*, dry_g: float, suspended_g: float, saturated_g: float) -> Absorption:
    """From dry (D), suspended in water (S) and saturated (M) mass in g. Source: ASTM C373, water as 1 g/cm³.

    Raises `DomainError` unless S < D ≤ M.
    """
    if not all(isfinite(mass) and mass > 0 for mass in (dry_g, suspended_g, saturated_g)):
        raise DomainError(say("All three masses must be above 0 g."), code="mass")
    if not suspended_g < dry_g <= saturated_g:
        raise DomainError(
            say("The suspended mass must be below the dry mass, and that no more than the saturated one."),
            code="mass",
        )
    volume = saturated_g - suspended_g
    return Absorption(
        exterior_volume_cm3=volume,
        absorption_percent=(saturated_g - dry_g) / dry_g * 100,
        apparent_porosity_percent=(saturated_g - dry_g) / volume * 100,
        bulk_density=dry_g / volume,
        apparent_specific_gravity=dry_g / (dry_g - suspended_g),
    )


def t_95(*, degrees_of_freedom: int) -> float:
    """Student's t for a two-sided 95 % interval; above 30 by Cornish and Fisher's expansion."""
    if degrees_of_freedom < 1:
        raise DomainError(say("An interval needs at least two measurements."), code="too-few")
    if degrees_of_freedom <= len(_T95):
        return _T95[degrees_of_freedom - 1]
    z = NormalDist().inv_cdf(0.975)
    return (
        z
        + (z**3 + z) / (4 * degrees_of_freedom)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * degrees_of_freedom**2)
    )


def _length(value: float, what: str) -> float:
    if not isfinite(value) or not 0 < value <= 10_000:
        raise DomainError(say("{what} must be between 0 and 10,000 mm.", what=what), code="length")
    return value


def _percent(value: float) -> float:
    if not isfinite(value) or not -5 <= value <= MOST_PERCENT:
        raise DomainError(
            say(
                "A shrinkage of {value} % can't be right. Check the two lengths.", value=figure(value, ".3g")
            ),
            code="percent",
        )
    return value
