"""Drying: whether a piece's weight is steady, and about how many days it needs.

All of it is common practice, no source: under 0.5 % change of weight in 24 h is steady; drying slows with the
square of the thickness at worst and in proportion to it at best. A figure is no finger: damp ware is colder
to the cheek, and thick bases and joints dry last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import exp, isfinite, log
from statistics import fmean, stdev

from .problems import DomainError
from .say import say

STEADY_PERCENT = 0.5
STEADY_HOURS = 24.0
#: What the studio starts from: an 8 mm wall is bone dry after about a week indoors (common practice).
USUAL_THICKNESS_MM = 8.0
USUAL_DAYS = 7.0
#: Days grow with thickness to this power, between 1 (the air is the brake) and 2 (the clay is).
THICKNESS_POWER = 1.5
#: Fewer records of the studio's own than this are said to be few.
FEW_RECORDS = 5
#: How far single pieces lie from the usual, as a factor, where the studio has too few records to say.
_USUAL_FACTOR = 1.7
#: The usual figure counts like so many records of the studio's own.
_USUAL_COUNTS = 2.0


@dataclass(frozen=True, slots=True)
class WeightCheck:
    """``change_percent`` per 24 h, over ``hours`` between the two weighings that were compared."""

    steady: bool
    change_percent: float
    hours: float


def weight_steady(
    *, weighings: Sequence[tuple[datetime, float]], least_hours: float = 12.0
) -> WeightCheck | None:
    """Whether the last weighing differs by under 0.5 % per 24 h from one at least ``least_hours`` before.

    Weighings are (aware time, g) in any order. The latest one that is old enough is compared; None when
    there is none. Weight gained counts as change too: dry clay takes up damp from the air. Source: common
    practice.
    """
    for at, grams in weighings:
        if at.tzinfo is None:
            raise DomainError(say("A weighing's time needs its time zone."), code="naive-time")
        if not isfinite(grams) or grams <= 0:
            raise DomainError(say("A piece weighs more than 0 g."), code="weight")
    ordered = sorted(weighings)
    if not ordered:
        return None
    last_at, last = ordered[-1]
    for at, grams in reversed(ordered[:-1]):
        hours = (last_at - at).total_seconds() / 3600
        if hours >= least_hours:
            change = (last - grams) / grams * 100 * STEADY_HOURS / hours
            return WeightCheck(abs(change) < STEADY_PERCENT, change, hours)
    return None


@dataclass(frozen=True, slots=True)
class DryingTime:
    """Days from making to bone dry: eight in ten pieces lie between ``low_days`` and ``high_days``."""

    likely_days: float
    low_days: float
    high_days: float
    records: int

    @property
    def few(self) -> bool:
        return self.records < FEW_RECORDS


def days_to_dry(
    *,
    thickness_mm: float,
    records: Sequence[tuple[float, float]] = (),
    usual_days: float = USUAL_DAYS,
) -> DryingTime:
    """Days from wet to bone dry for the thickest part of a piece, from the studio's own record.

    ``records`` are (thickness in mm, days it took); ``usual_days`` is the studio's setting for an 8 mm wall.
    Each record is brought to 8 mm by thickness^1.5, and their logarithms are averaged with the setting, which
    counts like two records. Raises `DomainError` for thickness outside 1 to 200 mm and days outside 0 to 365.
    """
    for thickness in (thickness_mm, *(thickness for thickness, _ in records)):
        if not isfinite(thickness) or not 1 <= thickness <= 200:
            raise DomainError(say("A thickness must be between 1 and 200 mm."), code="thickness")
    for days in (usual_days, *(days for _, days in records)):
        if not isfinite(days) or not 0 < days <= 365:
            raise DomainError(say("Drying takes more than 0 and at most 365 days."), code="days")
    logs = [log(days) - THICKNESS_POWER * log(t / USUAL_THICKNESS_MM) for t, days in records]
    count = len(logs)
    centre = (log(usual_days) * _USUAL_COUNTS + sum(logs)) / (_USUAL_COUNTS + count)
    spread = log(_USUAL_FACTOR) / 1.2816
    if count >= 2:
        own = stdev(logs)
        spread = (_USUAL_COUNTS * spread + count * own) / (_USUAL_COUNTS + count)
        if count >= FEW_RECORDS:
            # With a record of one's own the setting no longer pulls the range to itself.
            spread = max(own, abs(centre - fmean(logs)))
    scale = THICKNESS_POWER * log(thickness_mm / USUAL_THICKNESS_MM)
    half = 1.2816 * spread * (1 + 1 / (2 * max(1, count)))
    return DryingTime(
        exp(centre + scale), exp(centre + scale - half), exp(centre + scale + half), records=count
    )
