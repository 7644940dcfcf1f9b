"""A firing programme: its planned curve and duration, and what to watch in it.

A segment is a rate in °C/h, a target in °C and a hold in minutes; without a rate the kiln goes at full
power, up as fast as its own measured rates allow, down as fast as it cools by itself. Temperatures to
watch: 100 °C is where water boils (physics); slow through 80 to 120 °C and through quartz inversion at 573
°C (standard mineralogy); 50 °C/h down through 573 °C (technical literature); the hold below 100 °C is
common practice.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite

from .cones import heat_order
from .heatwork import ConeReached, reached_on_curve, temperature_for
from .problems import DomainError, Problem
from .programme_ware import Ware, glaze_ranges
from .say import figure, say

BOILING_C = 100.0
STEAM_C = (80.0, 120.0)
#: Cooling through quartz inversion faster than this may crack ware; the band watched is wide enough for a
#: thermocouple's error.
QUARTZ_COOLING_C_PER_H = 50.0
QUARTZ_BAND_C = (540.0, 600.0)
#: Above this through steam, greenware needs to be bone dry and thin (common practice).
STEAM_C_PER_H = 100.0
_STEP_C = 5.0


@dataclass(frozen=True, slots=True)
class Segment:
    """``rate_c_per_h`` above 0, up or down to ``target_c``; None is full power, or natural cooling on the way
    down. Then held for ``hold_min``."""

    rate_c_per_h: float | None
    target_c: float
    hold_min: float = 0.0

    def __post_init__(self) -> None:
        rate = self.rate_c_per_h
        if rate is not None and (not isfinite(rate) or not 0 < rate <= 2000):
            raise DomainError(say("A rate must be above 0 and at most 2,000 °C/h, up or down."), code="rate")
        if not isfinite(self.target_c) or not 0 <= self.target_c <= 1500:
            raise DomainError(say("A target must be between 0 and 1,500 °C."), code="target")
        if not isfinite(self.hold_min) or not 0 <= self.hold_min <= 6000:
            raise DomainError(say("A hold must be between 0 and 6,000 minutes."), code="hold")


@dataclass(frozen=True, slots=True)
class KilnRates:
    """The kiln's own measured rates: (°C, °C/h) at full power going up, and cooling by itself going down.

    Between the points a straight line, beyond them the nearest one. Empty: not measured.
    """

    heating: tuple[tuple[float, float], ...] = ()
    cooling: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        for points in (self.heating, self.cooling):
            if any(not rate > 0 for _, rate in points):
                raise DomainError(say("A kiln's measured rates are above 0 °C/h."), code="rate")
            if any(low >= high for (low, _), (high, _) in pairwise(points)):
                raise DomainError(say("A kiln's measured rates go from cold to hot."), code="rate")

    def most(self, celsius: float, *, upwards: bool) -> float | None:
        """Fastest possible rate in °C/h at a temperature, or None if not measured."""
        points = self.heating if upwards else self.cooling
        if not points:
            return None
        place = bisect_left(points, (celsius, 0.0))
        if place == 0:
            return points[0][1]
        if place == len(points):
            return points[-1][1]
        (low, first), (high, second) = points[place - 1], points[place]
        return first + (second - first) * (celsius - low) / (high - low)


@dataclass(frozen=True, slots=True)
class PlannedCurve:
    """``points`` are (minutes from the start, °C), a point at least wherever the rate changes.

    ``ends_min`` says when each segment is over. ``limited`` are the numbers (from 1) of segments that the
    kiln cannot do at the rate asked, so that they take longer.
    """

    points: tuple[tuple[float, float], ...]
    ends_min: tuple[float, ...]
    limited: tuple[int, ...]

    @property
    def duration_min(self) -> float:
        return self.points[-1][0]

    @property
    def top_c(self) -> float:
        return max(celsius for _, celsius in self.points)

    def celsius_at(self, *, minutes: float) -> float:
        """Planned temperature at so many minutes; before and after, the first and last one."""
        place = bisect_left(self.points, (minutes, -1e9))
        if place == 0:
            return self.points[0][1]
        if place == len(self.points):
            return self.points[-1][1]
        (start, first), (end, second) = self.points[place - 1], self.points[place]
        return second if end == start else first + (second - first) * (minutes - start) / (end - start)


def plan(
    *, segments: Sequence[Segment], start_c: float = 20.0, kiln: KilnRates | None = None
) -> PlannedCurve:
    """The curve that a programme gives from a starting temperature in this kiln.

    Raises `DomainError` without segments, and for a full-power segment if the kiln's rates are not measured.
    """
    if not segments:
        raise DomainError(say("A programme needs at least one segment."), code="no-segments")
    if not isfinite(start_c) or not -20 <= start_c <= 1500:
        raise DomainError(say("The starting temperature must be between -20 and 1,500 °C."), code="start")
    kiln = kiln or KilnRates()
    points, ends, limited = [(0.0, float(start_c))], [], []
    for number, segment in enumerate(segments, start=1):
        if _ramp(points, segment, kiln):
            limited.append(number)
        if segment.hold_min:
            points.append((points[-1][0] + segment.hold_min, segment.target_c))
        ends.append(points[-1][0])
    return PlannedCurve(tuple(points), tuple(ends), tuple(limited))


def _ramp(points: list[tuple[float, float]], segment: Segment, kiln: KilnRates) -> bool:
    """Add the ramp of a segment; true when the kiln held it up."""
    minutes, celsius = points[-1]
    target, rate = float(segment.target_c), segment.rate_c_per_h
    if celsius == target:
        return False
    upwards = target > celsius
    measured = kiln.heating if upwards else kiln.cooling
    if not measured:
        if rate is None:
            what = say("how fast it heats at full power") if upwards else say("how fast it cools by itself")
            raise DomainError(
                say("Nobody has measured {what} in this kiln. Enter a rate.", what=what), code="not-measured"
            )
        points.append((minutes + abs(target - celsius) / rate * 60, target))
        return False
    held_up = False
    steps = max(1, round(abs(target - celsius) / _STEP_C))
    for step in range(1, steps + 1):
        after = celsius + (target - celsius) * step / steps
        before = celsius + (target - celsius) * (step - 1) / steps
        most = kiln.most((before + after) / 2, upwards=upwards)
        if rate is not None and rate <= most:
            most = rate
        elif rate is not None:
            held_up = True
        minutes += abs(after - before) / most * 60
        points.append((minutes, after))
    if rate is not None and not held_up:
        del points[-steps:-1]  # one straight line
    return held_up


def warnings(
    *,
    segments: Sequence[Segment],
    cone: str | None = None,
    highest_cone: str | None = None,
    ware: Ware | None = None,
    start_c: float = 20.0,
    kiln: KilnRates | None = None,
) -> list[Problem]:
    """What to look at before this programme is fired; all of it the tutor may overrule.

    ``cone`` is what the firing is meant to reach, ``highest_cone`` the kiln's limit. Raises `DomainError` for
    cones unknown and segments that make no curve.
    """
    ware = ware or Ware()
    curve = plan(segments=segments, start_c=start_c, kiln=kiln)
    return [
        *_steam(curve, ware),
        *_quartz(curve),
        *_kiln_limit(curve, cone, highest_cone),
        *_cone_met(curve, cone),
        *glaze_ranges(cone, ware),
        *(
            Problem(
                "held-up",
                say(
                    "Segment {number} is faster than this kiln has ever gone; it will take longer.",
                    number=number,
                ),
                overridable=True,
            )
            for number in curve.limited
        ),
    ]


def _steepest(curve: PlannedCurve, low: float, high: float, *, upwards: bool) -> float:
    """Fastest planned rate in °C/h anywhere between two temperatures; 0 if never there in that direction."""
    fastest = 0.0
    for (start, first), (end, second) in pairwise(curve.points):
        if first == second or (second > first) != upwards or end <= start:
            continue
        if min(first, second) < high and max(first, second) > low:
            fastest = max(fastest, abs(second - first) / (end - start) * 60)
    return round(fastest, 6)  # a rate typed as 50 is 50, whatever the minutes made of it


def _steam(curve: PlannedCurve, ware: Ware) -> list[Problem]:
    if curve.top_c <= BOILING_C:
        return []
    found = []
    if ware.damp:
        found.append(
            Problem(
                "damp-above-100",
                say(
                    "There is damp ware in the load, and the programme goes above 100 °C: steam bursts "
                    "it. Dry it first, or hold at 80 to 95 °C until no more steam comes."
                ),
                overridable=True,
            )
        )
    rate = _steepest(curve, *STEAM_C, upwards=True)
    if (ware.greenware or ware.damp) and rate > (STEAM_C_PER_H / 2 if ware.thick else STEAM_C_PER_H):
        found.append(
            Problem(
                "fast-through-steam",
                say(
                    "The programme goes through 80 to 120 °C at {rate} °C/h. Slow down there for greenware.",
                    rate=figure(rate, ".0f"),
                ),
                overridable=True,
            )
        )
    return found


def _quartz(curve: PlannedCurve) -> list[Problem]:
    rate = _steepest(curve, *QUARTZ_BAND_C, upwards=False)
    if rate <= QUARTZ_COOLING_C_PER_H:
        return []
    return [
        Problem(
            "fast-through-quartz",
            say(
                "The programme cools through quartz inversion (573 °C) at {rate} °C/h. Ware may "
                "crack above 50 °C/h.",
                rate=figure(rate, ".0f"),
            ),
            overridable=True,
        )
    ]


def _kiln_limit(curve: PlannedCurve, cone: str | None, highest_cone: str | None) -> list[Problem]:
    if highest_cone is None:
        return []
    found = []
    if cone is not None and heat_order(cone) > heat_order(highest_cone):
        found.append(
            Problem(
                "cone-above-kiln",
                say(
                    "Cone {cone} is above this kiln's highest, cone {highest_cone}. Choose another kiln.",
                    cone=cone,
                    highest_cone=highest_cone,
                ),
                overridable=True,
            )
        )
    limit = temperature_for(cone=highest_cone, rate_c_per_h=150)
    if curve.top_c > limit:
        found.append(
            Problem(
                "too-hot-for-kiln",
                say(
                    "The programme goes to {top_c} °C; this kiln's highest, cone {highest_cone}, is "
                    "{limit} °C at most.",
                    top_c=figure(curve.top_c, ".0f"),
                    highest_cone=highest_cone,
                    limit=figure(limit, ".0f"),
                ),
                overridable=True,
            )
        )
    return found


def cone_of(curve: PlannedCurve) -> ConeReached:
    """The hottest cone that the planned curve brings down, as a range."""
    return reached_on_curve([(minutes / 60, celsius) for minutes, celsius in curve.points])


def _cone_met(curve: PlannedCurve, cone: str | None) -> list[Problem]:
    if cone is None:
        return []
    got = cone_of(curve)
    low, high = (-1 if name is None else heat_order(name) for name in (got.low, got.high))
    if low <= heat_order(cone) <= high:
        return []
    name = say("no cone at all") if got.likely is None else say("about cone {likely}", likely=got.likely)
    only = say("only ") if high < heat_order(cone) and got.likely is not None else ""
    return [
        Problem(
            "cone-missed",
            say(
                "As planned, this programme reaches {only}{name}, not cone {cone}. Change the top or "
                "the hold.",
                only=only,
                name=name,
                cone=cone,
            ),
            overridable=True,
        )
    ]
