"""Temperatures of a firing: what a reading is, which can't be of this firing, and how evenly they come."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise
from statistics import median_low

from .problems import Problem
from .say import date_words, say

Reading = tuple[datetime, Decimal]

#: No kiln is colder than its shed in a hard winter or hotter than its bricks stand.
COLDEST_C, HOTTEST_C = Decimal(-30), Decimal(1450)
SHOWN = 5
#: Readings further apart than this, and than four of their usual steps, are a gap.
LEAST_GAP = timedelta(minutes=10)
_STEPS_TO_A_GAP = 4


def degrees_words(celsius: Decimal | float, limit_c: int | None = None) -> str:
    """``104 °C``: whole degrees, halves up, as everywhere on the pages.

    To a tenth where whole degrees would hide that it is still above ``limit_c``.
    """
    exact = Decimal(str(celsius))
    whole = exact.quantize(Decimal(1), ROUND_HALF_UP)
    if limit_c is not None and exact > limit_c >= whole:
        return f"{exact.quantize(Decimal('0.1'), ROUND_HALF_UP)} °C"
    return f"{whole + 0:f} °C"


@dataclass(frozen=True, slots=True)
class Gap:
    """No reading between two moments."""

    after: datetime
    before: datetime

    @property
    def length(self) -> timedelta:
        return self.before - self.after


def usual_step(moments: Sequence[datetime]) -> timedelta | None:
    """The middle one of the steps between moments in order; None for fewer than two."""
    return median_low([after - before for before, after in pairwise(moments)]) if len(moments) > 1 else None


def gaps(moments: Sequence[datetime]) -> tuple[Gap, ...]:
    """Where moments in order lie unusually far apart, the longest gap first."""
    step = usual_step(moments)
    if step is None:
        return ()
    least = max(LEAST_GAP, _STEPS_TO_A_GAP * step)
    found = [Gap(before, after) for before, after in pairwise(moments) if after - before > least]
    return tuple(sorted(found, key=lambda gap: (-gap.length, gap.after)))


def order_problems(
    readings: Iterable[Reading], *, earliest: datetime, latest: datetime, zone: tzinfo
) -> list[Problem]:
    """Readings that lie outside the firing, or that give two temperatures for one moment."""
    problems = []
    seen: dict[datetime, Decimal] = {}
    for at, celsius in readings:
        if earliest <= at <= latest and seen.setdefault(at, celsius) == celsius:
            continue
        stamp = f"{date_words(at.astimezone(zone), 'j M H:i')}"
        if at < earliest:
            problems.append(
                Problem(
                    "before-lit", say("The reading of {stamp} is from before the kiln was lit.", stamp=stamp)
                )
            )
        elif at > latest:
            problems.append(
                Problem(
                    "in-future", say("The reading of {stamp} is in the future. Check the clock.", stamp=stamp)
                )
            )
        else:
            words = say(
                "There are two temperatures for {stamp}: {seen} and {celsius} °C. Keep one.",
                stamp=stamp,
                seen=seen[at],
                celsius=celsius,
            )
            problems.append(Problem("two-at-once", words))
    return problems[:SHOWN]
