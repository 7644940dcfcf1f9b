"""How a fire goes, out of its readings: how fast over the last hour and the last 100 °C, and when it is done.

Readings are (aware time, °C) in order of time, each moment once. Plans are `programme.PlannedCurve`, minutes
counted from the lighting.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from .programme import PlannedCurve
from .say import figure, say

Reading = tuple[datetime, float]

HOUR = timedelta(hours=1)
#: A rate over less than this says more of the thermocouple's noise than of the kiln.
LEAST_SPAN = timedelta(minutes=10)
_LAST_C = 100.0
#: A fire is behind or ahead by this share at most, for an estimate of its end.
_SLOWEST, _FASTEST = 2.0, 0.9
_SPARE = 0.05


@dataclass(frozen=True, slots=True)
class TimeLeft:
    """When the kiln should be off, as a range; ``because`` says what that rests on."""

    earliest: datetime
    latest: datetime
    because: str


def value_at(readings: Sequence[Reading], at: datetime) -> float | None:
    """The temperature at a moment, straight between readings; None outside them."""
    if not readings or not readings[0][0] <= at <= readings[-1][0]:
        return None
    place = bisect_left(readings, at, key=lambda reading: reading[0])
    after_at, after = readings[place]
    if after_at == at:
        return after
    before_at, before = readings[place - 1]
    return before + (after - before) * ((at - before_at) / (after_at - before_at))


def rate_of_last_hour(readings: Sequence[Reading]) -> float | None:
    """°C an hour over the hour to the last reading, or what there is of it; None for under ten minutes."""
    if len(readings) < 2:
        return None
    last_at, last = readings[-1]
    start = max(last_at - HOUR, readings[0][0])
    before = value_at(readings, start)
    if before is None or last_at - start < LEAST_SPAN:
        return None
    return (last - before) / ((last_at - start) / HOUR)


def rate_of_last_hundred(readings: Sequence[Reading]) -> float | None:
    """°C an hour over the last 100 °C of the rise to the hottest reading so far; None before it rose so far.

    It is what cones go by: their temperatures in the charts are those at this rate.
    """
    if len(readings) < 2:
        return None
    top = max(range(len(readings)), key=lambda place: (readings[place][1], -place))
    top_at, peak = readings[top]
    for place in range(top - 1, -1, -1):
        at, celsius = readings[place]
        if celsius <= peak - _LAST_C:
            after_at, after = readings[place + 1]
            crossed = at + (after_at - at) * ((peak - _LAST_C - celsius) / (after - celsius))
            return _LAST_C / ((top_at - crossed) / HOUR) if top_at > crossed else None
    return None


def behind_plan(readings: Sequence[Reading], plan: PlannedCurve, lit_at: datetime) -> timedelta | None:
    """How much later than planned the kiln got to where it is; less than nothing when it is ahead.

    None once it is past the planned top, or while it holds: a temperature alone does not say how long of it.
    """
    if not readings:
        return None
    at, celsius = readings[-1]
    planned = _planned_minutes(plan, celsius)
    return None if planned is None else at - lit_at - timedelta(minutes=planned)


def time_left(
    *,
    readings: Sequence[Reading],
    lit_at: datetime,
    plan: PlannedCurve | None = None,
    earlier: Sequence[Sequence[tuple[float, float]]] = (),
    top_c: float | None = None,
) -> TimeLeft | None:
    """When the kiln will be off: by its plan, else by earlier firings of its kind, else by its own rate.

    ``earlier`` are curves of earlier firings as (hours from the lighting, °C), the last point when the kiln
    was switched off. ``top_c`` is where the wanted cone goes down. None when nothing can be said.
    """
    if not readings:
        return None
    at, celsius = readings[-1]
    if plan is not None:
        planned = _planned_minutes(plan, celsius)
        minutes = (at - lit_at) / timedelta(minutes=1) if planned is None else planned
        left = timedelta(minutes=max(plan.duration_min - minutes, 0.0))
        pace = _pace(readings, plan, minutes)
        return _range(
            at, left * min(pace, 1.0), left * max(pace, 1.0), say("by its programme and its pace so far")
        )
    spans = [span for curve in earlier if (span := _hours_from(curve, celsius)) is not None]
    if spans:
        many = (
            say("the last firing") if len(spans) == 1 else say("the last {count} firings", count=len(spans))
        )
        because = say(
            "as {many_} of this kind went on from {celsius} °C", many_=many, celsius=figure(celsius, ".0f")
        )
        return _range(at, timedelta(hours=min(spans)), timedelta(hours=max(spans)), because)
    rate = rate_of_last_hour(readings)
    if top_c is None or rate is None or rate < 5 or celsius >= top_c:
        return None
    hours = timedelta(hours=(top_c - celsius) / rate)
    # Kilns climb ever more slowly on the way up (common practice), so the longer end is twice as long.
    return _range(at, hours, hours * 2, say("at the rate of the last hour, or slowing down to half of it"))


def _range(at: datetime, least: timedelta, most: timedelta, because: str) -> TimeLeft:
    return TimeLeft(at + least * (1 - _SPARE), at + most * (1 + _SPARE), because)


def _planned_minutes(plan: PlannedCurve, celsius: float) -> float | None:
    """When the plan's way up first passes a temperature; None from just under its top on."""
    if celsius >= plan.top_c - 2 or celsius < plan.points[0][1]:
        return None
    for (start, first), (end, second) in pairwise(plan.points):
        if first <= celsius < second:
            return start + (end - start) * (celsius - first) / (second - first)
    return None


def _pace(readings: Sequence[Reading], plan: PlannedCurve, minutes: float) -> float:
    """Time taken over time planned for the last hour's climb, within reason; 1 where it can't be told."""
    rate = rate_of_last_hour(readings)
    asked = plan.celsius_at(minutes=minutes) - plan.celsius_at(minutes=max(minutes - 60, 0.0))
    asked_rate = asked / (min(minutes, 60.0) / 60) if minutes > 0 else 0.0
    if rate is None or rate < 1 or asked_rate < 1:
        return 1.0
    return min(max(asked_rate / rate, _FASTEST), _SLOWEST)


def _hours_from(curve: Sequence[tuple[float, float]], celsius: float) -> float | None:
    """Hours from first passing a temperature to the end of an earlier firing's curve."""
    for (start, first), (end, second) in pairwise(curve):
        if first <= celsius < second:
            return curve[-1][0] - (start + (end - start) * (celsius - first) / (second - first))
    return None
