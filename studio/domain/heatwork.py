"""Pyrometric cones measure heat work, not temperature: how hot, at what rate, for how long.

A cone goes down at a higher temperature the faster it is heated; the published charts give one temperature
per cone at 15, 60 and 150 °C/h over the last 100 °C. Between the columns the temperature is taken as a
straight line in the logarithm of the rate. For a logged curve with holds, each cone gets one Arrhenius pair
that fits its own row: heat work = ∫ exp(−Q/T) dt, done when it reaches the cone's own W. That interpolates;
it is no physics.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from itertools import pairwise
from math import exp, isfinite, log

from .cones import CONES, heat_order
from .heatwork_curve import cools_slowly, hot_part, soak_minutes, thinned
from .problems import DomainError
from .say import figure, say

Reading = tuple[datetime, float]

#: °C at 15, 60 and 150 °C/h for self-supporting cones. Source: Orton's published chart of temperature
#: equivalents; from memory are the column at 15 °C/h of cones 07 to 4 and 9 to 14, and the rows of 05.5, 5.5,
#: 11, 12 and 14. None: the chart has no value.
TABLE: dict[str, tuple[float | None, float, float]] = {
    "022": (None, 586, 590),
    "021": (None, 600, 617),
    "020": (None, 626, 638),
    "019": (656, 678, 695),
    "018": (686, 715, 734),
    "017": (705, 738, 763),
    "016": (742, 772, 796),
    "015": (750, 791, 818),
    "014": (757, 807, 838),
    "013": (807, 837, 861),
    "012": (843, 861, 882),
    "011": (857, 875, 894),
    "010": (891, 903, 915),
    "09": (907, 920, 930),
    "08": (922, 942, 956),
    "07": (962, 976, 987),
    "06": (981, 998, 1013),
    "05.5": (1004, 1015, 1025),
    "05": (1021, 1031, 1044),
    "04": (1046, 1063, 1077),
    "03": (1071, 1086, 1104),
    "02": (1078, 1102, 1122),
    "01": (1093, 1119, 1138),
    "1": (1109, 1137, 1154),
    "2": (1112, 1142, 1164),
    "3": (1115, 1152, 1170),
    "4": (1141, 1162, 1183),
    "5": (1159, 1186, 1207),
    "5.5": (1167, 1203, 1225),
    "6": (1185, 1222, 1243),
    "7": (1201, 1239, 1257),
    "8": (1211, 1249, 1271),
    "9": (1224, 1260, 1280),
    "10": (1251, 1285, 1305),
    "11": (1272, 1294, 1315),
    "12": (1285, 1306, 1326),
    "13": (1310, 1331, 1348),
    "14": (1351, 1365, 1384),
}
COLUMNS_C_PER_H = (15.0, 60.0, 150.0)
RATES_C_PER_H = (1.0, 1000.0)
#: The chart and the fit to it agree within this, so an answer is a range so wide.
TOLERANCE_C = 4.0
_ZERO_K = 273.15


def cone_name(text: str) -> str:
    """A cone as typed ("cone 06", "Δ6", "5½", "05.5") by its plain name. Raises `DomainError` if unknown."""
    plain = text.strip().lower().replace("½", ".5").replace(",", ".")
    plain = re.sub(r"^(cone|c|\^|[δ△▲])\s*", "", plain).replace(" 1/2", ".5").strip()
    if plain not in TABLE:
        heat_order(text.strip())  # says which cones there are
    return plain


def temperature_for(*, cone: str, rate_c_per_h: float) -> float:
    """Temperature in °C at which a cone goes down when the last 100 °C rise at this rate in °C/h.

    The published cell where there is one, a straight line in ln(rate) between the columns and on beyond them.
    Cones 022 to 020 have no value at 15 °C/h; below 60 they follow the slope of cone 019. Raises
    `DomainError` for an unknown cone, by its name, and for rates outside 1 to 1,000 °C/h.
    """
    heat_order(cone)
    slow, middle, fast = TABLE[cone]
    if not isfinite(rate_c_per_h) or not RATES_C_PER_H[0] <= rate_c_per_h <= RATES_C_PER_H[1]:
        raise DomainError(say("A heating rate must be between 1 and 1,000 °C/h."), code="rate")
    logs = [log(rate) for rate in COLUMNS_C_PER_H]
    if rate_c_per_h >= COLUMNS_C_PER_H[1]:
        slope = (fast - middle) / (logs[2] - logs[1])
    else:
        row = (slow, middle) if slow is not None else TABLE["019"][:2]
        slope = (row[1] - row[0]) / (logs[1] - logs[0])
    return middle + slope * (log(rate_c_per_h) - logs[1])


@dataclass(frozen=True, slots=True)
class ConeReached:
    """The hottest cone down, and how sure: between ``low`` and ``high``; None is "not even the coolest".

    ``above_c`` is how far the curve went past ``likely``, ``short_c`` how far it fell short of the next
    cone, in °C at that curve's own rate. ``rate_c_per_h`` is over the last 100 °C, ``soak_min`` the time
    within 5 °C of the top. ``reasons`` are plain sentences.
    """

    likely: str | None
    low: str | None
    high: str | None
    peak_c: float
    above_c: float | None
    short_c: float | None
    rate_c_per_h: float | None
    soak_min: float
    reasons: tuple[str, ...]


def cone_for(*, temperature_c: float, rate_c_per_h: float) -> ConeReached:
    """The cone that goes down at a temperature reached at this rate, without a hold; `temperature_for` back.

    Where neighbours lie within 4 °C of each other, as cones 1 to 3 do at slow rates, low and high differ.
    """
    if not isfinite(temperature_c):
        raise DomainError(say("The temperature is no number."), code="temperature")
    margins = {cone: temperature_c - temperature_for(cone=cone, rate_c_per_h=rate_c_per_h) for cone in CONES}
    return _reached(margins, peak_c=temperature_c, rate=rate_c_per_h, soak_min=0.0)


def cone_reached(*, readings: Sequence[Reading], spare_c: float = 0.0) -> ConeReached:
    """The hottest cone that a logged curve brought down, from readings (aware time, °C) in any order.

    Heat work is summed over the rise and the holds; cooling is left out, as in the charts, and named among
    the reasons where it was slow. ``spare_c`` widens the range for a thermocouple not checked lately.
    Raises `DomainError` for fewer than three readings, and where nothing of the rise was read.
    """
    curve = _curve(readings)
    if len(hot_part(curve, max(celsius for _, celsius in curve))) < 2:
        raise DomainError(say("The way up to the top was not read, so no cone can be told."), code="no-rise")
    return reached_on_curve(curve, spare_c=spare_c)


def reached_on_curve(curve: Sequence[tuple[float, float]], *, spare_c: float = 0.0) -> ConeReached:
    """As `cone_reached`, from (hours, °C) in order of time."""
    peak = max(celsius for _, celsius in curve)
    hot = thinned(hot_part(curve, peak))
    rate, soak = last_rate(curve), soak_minutes(curve, peak)
    if len(hot) < 2:  # it begins at its hottest: there is no heat work to sum
        margins = {cone: min(-1.0, peak - temperature_for(cone=cone, rate_c_per_h=60)) for cone in CONES}
    else:
        margins = {cone: _margin(cone, hot, peak) - misfit(cone, rate) for cone in CONES}
    gap = max((after[0] - before[0] for before, after in pairwise(hot)), default=0.0)
    return _reached(
        margins,
        peak_c=peak,
        rate=rate,
        soak_min=soak,
        spare_c=spare_c,
        gap_h=gap,
        slow_cooling=cools_slowly(curve, peak),
    )


def last_rate(curve: Sequence[tuple[float, float]]) -> float | None:
    """Mean rate in °C/h over the last 100 °C to the top, from (hours, °C); None if they are not seen."""
    peak = max(celsius for _, celsius in curve)
    top = next(place for place, (_, celsius) in enumerate(curve) if celsius >= peak - 0.5)
    for place in range(top - 1, -1, -1):
        hours, celsius = curve[place]
        if celsius <= peak - 100:
            after_h, after_c = curve[place + 1]
            crossed = hours + (after_h - hours) * (peak - 100 - celsius) / (after_c - celsius)
            spent = curve[top][0] - crossed
            return (curve[top][1] - (peak - 100)) / spent if spent > 0 else None
    return None


def _reached(
    margins: Mapping[str, float],
    *,
    peak_c: float,
    rate: float | None,
    soak_min: float,
    spare_c: float = 0.0,
    gap_h: float = 0.0,
    slow_cooling: bool = False,
) -> ConeReached:
    tolerance = TOLERANCE_C + spare_c + (2.0 if gap_h > 0.5 else 0.0)

    def hottest(least: float) -> str | None:
        down = [cone for cone in CONES if margins[cone] >= least]
        return down[-1] if down else None

    # Readings are whole degrees: half of one is no reason to deny a cone that was fired to its own figure.
    likely = hottest(-0.5)
    place = -1 if likely is None else heat_order(likely)
    after = CONES[place + 1] if place + 1 < len(CONES) else None
    reasons = [say("The top was {peak_c} °C.", peak_c=figure(peak_c, ".0f"))]
    if rate is None:
        reasons.append(say("The readings do not show the last 100 °C, so the rate is not known."))
    else:
        reasons.append(say("The last 100 °C rose at about {rate} °C/h.", rate=figure(rate, ".0f")))
        if not COLUMNS_C_PER_H[0] <= rate <= COLUMNS_C_PER_H[-1]:
            reasons.append(
                say("The published charts end at 15 and 150 °C/h: this is carried on beyond them.")
            )
    if soak_min >= 5:
        reasons.append(
            say(
                "It stayed within 5 °C of the top for {soak_min} min, which is heat work too.",
                soak_min=figure(soak_min, ".0f"),
            )
        )
    if gap_h > 0.5:
        reasons.append(say("Readings are more than half an hour apart where it matters."))
    if slow_cooling:
        reasons.append(
            say("It cooled slowly from the top; that adds some heat work, which is not counted here.")
        )
    low, high = hottest(tolerance), hottest(-tolerance)
    if low != high:
        reasons.append(
            say(
                "Within {tolerance} °C it may be another cone: witness cones would tell.",
                tolerance=figure(tolerance, ".0f"),
            )
        )
    return ConeReached(
        likely=likely,
        low=low,
        high=high,
        peak_c=peak_c,
        above_c=None if likely is None else margins[likely],
        short_c=None if after is None else -margins[after],
        rate_c_per_h=rate,
        soak_min=soak_min,
        reasons=tuple(reasons),
    )


def _curve(readings: Sequence[Reading]) -> list[tuple[float, float]]:
    """(hours since the first, °C) in order of time; the later of two at the same time wins."""
    by_time: dict[datetime, float] = {}
    for at, celsius in readings:
        if at.tzinfo is None:
            raise DomainError(say("A reading's time needs its time zone."), code="naive-time")
        if not isfinite(celsius) or not -60 <= celsius <= 1600:
            raise DomainError(
                say("{celsius} is no temperature of a kiln.", celsius=celsius), code="temperature"
            )
        by_time[at] = celsius
    if len(by_time) < 3:
        raise DomainError(
            say("Too few readings to tell a cone. At least three are needed."), code="too-few-readings"
        )
    start = min(by_time)
    return [((at - start).total_seconds() / 3600, by_time[at]) for at in sorted(by_time)]


@lru_cache
def arrhenius_pair(cone: str) -> tuple[float, float]:
    """(Q in K, ln W in ln hours) of a cone: fits its row of the chart best in °C, least squares."""
    cells = [
        (rate, celsius + _ZERO_K)
        for rate, celsius in zip(COLUMNS_C_PER_H, TABLE[cone], strict=True)
        if celsius is not None
    ]

    def fit(q: float) -> tuple[float, float]:
        works = [(_log_ramp(q, kelvin) - log(rate), kelvin**2 / q) for rate, kelvin in cells]
        weight = sum(to_c**2 for _, to_c in works)
        mean = sum(work * to_c**2 for work, to_c in works) / weight
        return sum(((work - mean) * to_c) ** 2 for work, to_c in works), mean

    low, high = log(15_000.0), log(500_000.0)
    for _ in range(60):  # golden section: the misfit has one valley
        third = (high - low) * 0.381966
        if fit(exp(low + third))[0] < fit(exp(high - third))[0]:
            high -= third
        else:
            low += third
    q = exp((low + high) / 2)
    return q, fit(q)[1]


def misfit(cone: str, rate_c_per_h: float | None) -> float:
    """How far off the pair of this cone is at a rate, in °C: at the columns exactly, between them in
    ln(rate).

    Taken off again, so that an even rise without a hold agrees with the chart.
    """
    if rate_c_per_h is None:
        return 0.0
    q, log_w = arrhenius_pair(cone)
    cells = [
        (log(rate), (_log_ramp(q, celsius + _ZERO_K) - log(rate) - log_w) * (celsius + _ZERO_K) ** 2 / q)
        for rate, celsius in zip(COLUMNS_C_PER_H, TABLE[cone], strict=True)
        if celsius is not None
    ]
    at = min(max(log(rate_c_per_h), cells[0][0]), cells[-1][0])
    for (low, first), (high, second) in pairwise(cells):
        if at <= high:
            return first + (second - first) * (at - low) / (high - low)
    return cells[-1][1]


def _log_ramp(q: float, kelvin: float) -> float:
    """ln of ∫ exp(−q/T) dT from 0 to this temperature: Senum and Yang's rational form (1977, from memory)."""
    x = q / kelvin
    top = x**3 + 18 * x**2 + 86 * x + 96
    bottom = x**4 + 20 * x**3 + 120 * x**2 + 240 * x + 120
    return log(q / x * top / bottom) - x


def _margin(cone: str, hot: list[tuple[float, float]], peak: float) -> float:
    """How far the curve's heat work went past a cone, in °C at the cone's own temperature."""
    q, log_w = arrhenius_pair(cone)
    scale = q / (peak + _ZERO_K)  # keeps the exponentials near 1
    work = 0.0
    for (start_h, start), (end_h, end) in pairwise(hot):
        low, high = min(start, end) + _ZERO_K, max(start, end) + _ZERO_K
        if high - low < 0.01:
            work += (end_h - start_h) * exp(scale - q / high)
        else:
            ramp = exp(_log_ramp(q, high) + scale) - exp(_log_ramp(q, low) + scale)
            work += (end_h - start_h) / (high - low) * ramp
    return (log(work) - scale - log_w) * (peak + _ZERO_K) ** 2 / q
