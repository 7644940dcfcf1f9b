"""When a piece will be ready, as a range that holds eight times in ten, from the studio's own records.

What is left of a piece's way is drawn many times from what such steps took here before, given how long it has
been where it is now; a wait for a kiln is drawn from that kind of firing's own rhythm, or from the
calendar. The range runs from the tenth to the ninetieth of a hundred draws. A smoothed bootstrap (Efron and
Tibshirani, "An Introduction to the Bootstrap", 1993, from memory) stands in for what few records leave out.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import exp, isfinite, log, sqrt
from random import Random
from statistics import fmean, stdev

from .problems import DomainError
from .say import say

#: With fewer records than this, a usual time is taken and that is said.
FEW_RECORDS = 5
DRAWS = 500
#: Older records than these say little of how the studio works now.
MOST_RECORDS = 200
#: Spread that no step goes below, as a share of its time: for one record; of n it is this over √n. A studio
#: that fired every 26 days five times over has a full shelf or an illness sooner or later (own choice, no
#: source; on the demo's year ranges without it were an hour wide, and three in five held).
LEAST_SPREAD = 0.3
_TENTH_TO_MIDDLE = 1.2816  # standard deviations between the 10 % and the 50 % point of a normal


@dataclass(frozen=True, slots=True)
class Step:
    """A step by itself, such as drying, being in the kiln, glazing, finishing.

    ``took_h`` are hours it took other pieces here, latest last; ``setting_h`` is the studio's own idea of
    it, as hours that eight in ten lie between.
    """

    name: str
    took_h: tuple[float, ...]
    setting_h: tuple[float, float]

    def __post_init__(self) -> None:
        _check(self.name, self.took_h, self.setting_h)


@dataclass(frozen=True, slots=True)
class KilnWait:
    """Waiting for the next firing of a kind.

    ``gaps_h`` are hours from one such firing to the next, latest last; ``since_last_h`` since the last was
    lit, None if unknown. ``planned_h`` are firings on the calendar, in hours from now: they come before any
    rhythm. ``went_in`` of ``waited`` pieces in the past went into the first firing after they were ready.
    """

    name: str
    gaps_h: tuple[float, ...]
    setting_gap_h: tuple[float, float]
    since_last_h: float | None = None
    planned_h: tuple[float, ...] = ()
    went_in: int = 0
    waited: int = 0

    def __post_init__(self) -> None:
        _check(self.name, self.gaps_h, self.setting_gap_h)
        if self.since_last_h is not None and not (isfinite(self.since_last_h) and self.since_last_h >= 0):
            raise DomainError(
                say("{name}: the last firing can't lie ahead.", name=self.name), code="since-last"
            )
        if any(not isfinite(hours) for hours in self.planned_h):
            raise DomainError(say("{name}: a planned firing has no time.", name=self.name), code="planned")
        if not 0 <= self.went_in <= self.waited:
            raise DomainError(say("{name}: more went in than waited.", name=self.name), code="went-in")


@dataclass(frozen=True, slots=True)
class Forecast:
    """Eight in ten such ranges are meant to hold: ready between ``earliest`` and ``latest``, ``likely``
    between.

    ``few`` names the steps that rest on a usual time for want of records; ``reasons`` are sentences.
    """

    earliest: datetime
    likely: datetime
    latest: datetime
    few: tuple[str, ...]
    reasons: tuple[str, ...]


def ready_range(
    *,
    steps: Sequence[Step | KilnWait],
    now: datetime,
    random: Random,
    in_first_step_h: float = 0.0,
    draws: int = DRAWS,
) -> Forecast:
    """When a piece with these steps left will be ready; it has been in the first for ``in_first_step_h``
    hours.

    The same state of ``random`` gives the same range. Raises `DomainError` for a naive ``now``, a negative
    time in the step, or fewer than 100 draws. Without steps left it is ready now.
    """
    if now.tzinfo is None:
        raise DomainError(say("The time needs its time zone."), code="naive-time")
    if not isfinite(in_first_step_h) or in_first_step_h < 0:
        raise DomainError(say("A piece can't have been in a step for less than no time."), code="in-step")
    if draws < 100:
        raise DomainError(say("A range needs at least 100 draws."), code="draws")
    if not steps:
        return Forecast(now, now, now, (), (say("Nothing is left to do."),))
    samplers = [_KilnDraw(step) if isinstance(step, KilnWait) else _StepDraw(step) for step in steps]
    totals = sorted(_one_way(samplers, in_first_step_h, random) for _ in range(draws))
    few = tuple(sampler.step.name for sampler in samplers if sampler.few)
    reasons = [say("Few records of {name}: a usual time is taken instead.", name=name) for name in few]
    first = samplers[0]
    if isinstance(first, _StepDraw) and first.longer_than_all(in_first_step_h):
        reasons.append(say("Its {name} has taken longer than any on record.", name=first.step.name))
    for sampler in samplers:
        if isinstance(sampler, _KilnDraw) and sampler.step.planned_h:
            reasons.append(say("{name}: the calendar is counted on.", name=sampler.step.name))
    if not reasons:
        reasons.append(say("From how long such pieces took here before."))

    def at(share: float) -> datetime:
        return now + timedelta(hours=totals[min(draws - 1, int(share * draws))])

    return Forecast(at(0.1), at(0.5), at(0.9), few, tuple(reasons))


def held(*, ranges: Sequence[tuple[datetime, datetime, datetime]]) -> tuple[int, int]:
    """Of past ranges as (earliest, latest, when it was ready): how many held, and how many there were."""
    return sum(earliest <= ready <= latest for earliest, latest, ready in ranges), len(ranges)


def _one_way(samplers: Sequence[_StepDraw | _KilnDraw], spent: float, random: Random) -> float:
    hours = 0.0
    for place, sampler in enumerate(samplers):
        if isinstance(sampler, _KilnDraw):
            hours = sampler.lit_after(hours, random)
        else:
            hours += sampler.left(spent if place == 0 else 0.0, random)
    return hours


class _Smoothed:
    """Draws from records of hours, smoothed on the log scale without widening them beyond what n allows."""

    def __init__(self, records: Sequence[float], setting: tuple[float, float]) -> None:
        records = [max(hours, 0.01) for hours in records[-MOST_RECORDS:]]
        self.few = len(records) < FEW_RECORDS
        if self.few:
            self.logs, self.centre, self.kept = [], (log(setting[0]) + log(setting[1])) / 2, 0.0
            self.noise = (log(setting[1]) - log(setting[0])) / 2 / _TENTH_TO_MIDDLE
            return
        self.logs = [log(hours) for hours in records]
        count = len(self.logs)
        self.centre, spread = fmean(self.logs), stdev(self.logs)
        width = 0.9 * count**-0.2
        # Drawing from the records and adding noise would widen them; shrink first, and leave 1 + 1/n over.
        widen = sqrt((1 + 1 / count) * (count + 2) / count)
        self.kept = widen / sqrt(1 + width * width)
        least = sqrt(max(0.0, LEAST_SPREAD**2 / count - (self.kept * spread) ** 2))
        self.noise = max(width * spread * self.kept, least)

    def draw(self, random: Random) -> float:
        value = random.choice(self.logs) - self.centre if self.logs else 0.0
        return exp(self.centre + self.kept * value + random.gauss(0.0, self.noise))

    def draw_above(self, least: float, random: Random) -> float:
        """A draw given that it is more than ``least``."""
        for _ in range(60):
            hours = self.draw(random)
            if hours > least:
                return hours
        # Longer than all that is known: what has lasted lasts on for about as long again as is usual.
        return least + exp(self.centre) * random.expovariate(2.0)


class _StepDraw:
    def __init__(self, step: Step) -> None:
        self.step = step
        self.hours = _Smoothed(step.took_h, step.setting_h)
        self.few = self.hours.few

    def left(self, spent: float, random: Random) -> float:
        return self.hours.draw_above(spent, random) - spent

    def longer_than_all(self, spent: float) -> bool:
        longest = max(self.step.took_h, default=0.0) if not self.few else self.step.setting_h[1] * 2
        return spent > longest


class _KilnDraw:
    def __init__(self, step: KilnWait) -> None:
        self.step = step
        self.gaps = _Smoothed(step.gaps_h, step.setting_gap_h)
        self.few = self.gaps.few
        self.planned = sorted(hours for hours in step.planned_h if hours >= 0)
        # As if one more had gone in: with no record, the first firing takes it.
        self.chance = (step.went_in + 1) / (step.waited + 1)

    def lit_after(self, ready: float, random: Random) -> float:
        """Hours from now at which the firing that takes the piece is lit, if it is ready at ``ready``."""
        for lit in self.planned[bisect_left(self.planned, ready) :]:
            if random.random() < self.chance:
                return lit
        if self.planned:
            lit = self.planned[-1]
        elif self.step.since_last_h is None:
            # Somewhere in a gap, long ones being met more often than short ones are.
            lit = -random.random() * max(self.gaps.draw(random) for _ in range(2))
        else:
            lit = -self.step.since_last_h
            lit += self.gaps.draw_above(self.step.since_last_h, random)
            if lit >= ready and random.random() < self.chance:
                return lit
        for _ in range(10_000):
            lit += self.gaps.draw(random)
            if lit >= max(ready, 0.0) and random.random() < self.chance:
                return lit
        return max(lit, ready)


def _check(name: str, hours: Sequence[float], setting: tuple[float, float]) -> None:
    if any(not isfinite(value) or value < 0 for value in hours):
        raise DomainError(say("{name}: a step can't take less than no time.", name=name), code="hours")
    if not all(isfinite(value) and value > 0 for value in setting) or setting[0] > setting[1]:
        raise DomainError(
            say("{name}: the studio's setting must be two times above 0, shorter first.", name=name),
            code="setting",
        )
