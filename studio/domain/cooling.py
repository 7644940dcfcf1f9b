"""When a cooling kiln will have come down to a temperature, as a range.

Newton's law of cooling (the excess over the room falls by the same share in the same time) does not hold
for a kiln over its whole way down: radiation and the hot bricks make it fall fast at first and ever more
slowly later. So only the recent tail is fitted, to dE/dt = −c·E^(1+p): p = 0 is Newton's law, p = 0.25 free
convection (its exponent 5/4 is in heat transfer textbooks; here from memory), larger p a kiln that slows
down more. The range comes from every p that fits the tail about as well as the best, from the readings' own
scatter and from not knowing the room's temperature exactly. An estimate is no reading: the kiln is opened
by its thermocouple.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import exp, isfinite, log, sqrt

from .problems import DomainError
from .say import figure, say

Reading = tuple[datetime, float]

#: Fewest readings, and least fall of the excess over the room (as a share), to say anything from.
FEWEST_READINGS = 5
LEAST_FALL = 0.06
#: More than this in the tail are thinned out.
MOST_READINGS = 200
#: The tail reaches back to where the excess was so many times what it is now.
TAIL_TIMES = 3.0
#: And its last part to here.
END_TIMES = 1.5
#: How well the room's temperature is known, and how far from the truth a thermocouple may scatter, °C.
ROOM_KNOWN_TO_C = 2.0
SCATTER_C = 0.6
#: A reading this far above an earlier, cooler one says that the kiln is being heated again, °C.
RISE_C = 5.0
#: What the tail says of p need not last: once the bricks are the warmest part, Newton's law holds again
#: (p = 0, the soonest), and no kiln slows down for long faster than the slowest p. One more bit for every
#: halving of the excess to come. Set so that the range holds on walls worked out by finite differences.
_LIKELY_P = 0.12
_SLOWEST_P = 0.55
_P_DRIFT = 0.04
_P_GRID = [step / 20 for step in range(-2, 25)]


class TooFewReadings(DomainError):
    """Not enough cooling seen yet to say when."""


class NotCooling(DomainError):
    """The last readings do not fall."""


@dataclass(frozen=True, slots=True)
class CoolingEstimate:
    """When ``target_c`` will be reached. ``likely`` lies between ``earliest`` and ``latest``.

    The range is meant to hold at least nine times in ten. ``reached`` says that the readings have got there
    already; then all three are the moment they did. ``readings_used`` and ``tail_from_c`` say what the
    estimate rests on.
    """

    target_c: float
    earliest: datetime
    likely: datetime
    latest: datetime
    reached: bool
    readings_used: int
    tail_from_c: float


@dataclass(frozen=True, slots=True)
class CoolingLaw:
    """dE/dt = −c·E^(1+p) for the excess E over ``ambient_c``, time in hours."""

    c: float
    p: float
    ambient_c: float

    def hours(self, *, from_c: float, to_c: float) -> float:
        """Hours from one temperature down to another, both above the room; these add up over stages."""
        start, end = from_c - self.ambient_c, to_c - self.ambient_c
        if start <= 0 or end <= 0:
            raise DomainError(
                say(
                    "A kiln never gets as cool as the room it stands in ({ambient_c} °C).",
                    ambient_c=figure(self.ambient_c, "g"),
                ),
                code="below-room",
            )
        return _hours(self.c, self.p, start, end)


def fit_tail(*, readings: Sequence[Reading], ambient_c: float) -> CoolingLaw:
    """The law that fits the recent tail of a cooling best. Raises `TooFewReadings` or `NotCooling`."""
    tail = _tail(_clean(readings), ambient_c)
    return min(_fits(tail, ambient_c), key=lambda fit: fit.misfit).law


def reached_at(
    *, readings: Sequence[Reading], target_c: float = 50.0, ambient_c: float = 20.0
) -> CoolingEstimate:
    """When a cooling kiln reaches ``target_c``, from readings (aware time, °C) in any order.

    Only what comes after the hottest reading counts. Raises `TooFewReadings` when less than five readings or
    less than a 6 % fall have been seen, `NotCooling` when the last readings do not fall, `DomainError` for a
    target no higher than the room or readings that are no temperatures.
    """
    if not isfinite(target_c) or not isfinite(ambient_c) or target_c <= ambient_c + ROOM_KNOWN_TO_C:
        raise DomainError(
            say(
                "A kiln never gets as cool as the room it stands in ({ambient_c} °C). Choose a "
                "higher figure.",
                ambient_c=figure(ambient_c, "g"),
            ),
            code="below-room",
        )
    cooling = _clean(readings)
    when = _already(cooling, target_c)
    if when is not None:
        return CoolingEstimate(target_c, when, when, when, True, len(cooling), cooling[0][1])

    tail = _tail(cooling, ambient_c)
    last_at = tail[-1][0]
    fits = _fits(tail, ambient_c)
    best = min(fits, key=lambda fit: fit.misfit)
    likely = best.hours_to(target_c)
    at_the_end = _newton_at_the_end(tail, ambient_c)
    if at_the_end is not None:
        likely = (likely + at_the_end.hours_to(target_c)) / 2
    early, late = likely, likely
    for room in (ambient_c - ROOM_KNOWN_TO_C, ambient_c, ambient_c + ROOM_KNOWN_TO_C):
        if tail[-1][1] - room <= 1:
            continue
        for fit in _fits(tail, room):
            if fit.misfit > best.misfit + 4.0:  # twice the log likelihood ratio: about 95 %
                continue
            for hours in fit.range_to(target_c):
                early, late = min(early, hours), max(late, hours)
        newton = _newton_at_the_end(tail, room)
        if newton is not None:
            early = min(early, newton.range_to(target_c)[0])
    at = [last_at + timedelta(hours=hours) for hours in (max(early, 0.0), likely, late)]
    return CoolingEstimate(target_c, *at, False, len(tail), tail[0][1])


def safe_to_open(
    *, readings: Sequence[Reading], limit_c: float = 50.0, ambient_c: float = 20.0
) -> CoolingEstimate:
    """`reached_at` for the studio's limit for opening the kiln; a limit above 100 °C is refused.

    Source: opening near room temperature, at most 100 °C, is common practice and in teaching notes.
    """
    if limit_c > 100:
        raise DomainError(
            say("Don't open a kiln above 100 °C. Choose a limit of at most 100 °C."), code="too-hot"
        )
    return reached_at(readings=readings, target_c=limit_c, ambient_c=ambient_c)


@dataclass(frozen=True, slots=True)
class _Fit:
    law: CoolingLaw
    misfit: float  # sum of squared residuals over the scatter's variance
    last_excess: float
    last_excess_error: float
    c_error: float  # relative, one standard error

    def hours_to(self, target_c: float) -> float:
        return self._onwards(min(max(self.law.p, 0.0), _LIKELY_P), self.last_excess, target_c)

    def range_to(self, target_c: float) -> tuple[float, float]:
        halvings = max(0.0, log(self.last_excess / (target_c - self.law.ambient_c), 2))
        spread = 1 + 1.7 * self.c_error
        soonest = self._onwards(min(self.law.p, 0.0), self.last_excess - self.last_excess_error, target_c)
        slowest = min(max(self.law.p, 0.0), _SLOWEST_P) + _P_DRIFT * halvings
        last = self._onwards(slowest, self.last_excess + self.last_excess_error, target_c)
        return soonest / spread, last * spread

    def _onwards(self, p: float, start: float, target_c: float) -> float:
        """Hours to go with the rate that the kiln has now, bending by ``p`` from here on."""
        rate = self.law.c * self.last_excess**self.law.p
        return _hours(rate / self.last_excess**p, p, max(start, 1e-6), target_c - self.law.ambient_c)


def _hours(c: float, p: float, start: float, end: float) -> float:
    if abs(p) < 1e-9:
        return log(start / end) / c
    return (end**-p - start**-p) / (c * p)


def _clean(readings: Sequence[Reading]) -> list[Reading]:
    """In order of time, from the last hottest reading on; two at the same time become their mean."""
    by_time: dict[datetime, list[float]] = {}
    for at, celsius in readings:
        if at.tzinfo is None:
            raise DomainError(say("A reading's time needs its time zone."), code="naive-time")
        if not isfinite(celsius) or not -60 <= celsius <= 1600:
            raise DomainError(
                say("{celsius} is no temperature of a kiln.", celsius=celsius), code="temperature"
            )
        by_time.setdefault(at, []).append(celsius)
    ordered = [(at, sum(values) / len(values)) for at, values in sorted(by_time.items())]
    if not ordered:
        raise TooFewReadings(say("There are no readings yet."), code="too-few-readings")
    hottest = max(range(len(ordered)), key=lambda place: (ordered[place][1], place))
    return ordered[hottest:]


def _already(cooling: list[Reading], target_c: float) -> datetime | None:
    """The moment the readings came down to the target for good, between two of them."""
    if cooling[-1][1] > target_c:
        return None
    for place in range(len(cooling) - 1, 0, -1):
        (before_at, before), (after_at, after) = cooling[place - 1], cooling[place]
        if before > target_c:
            return before_at + (after_at - before_at) * ((before - target_c) / (before - after))
    return cooling[0][0]


def _tail(cooling: list[Reading], ambient_c: float) -> list[Reading]:
    last = cooling[-1][1] - ambient_c
    tail = [(at, celsius) for at, celsius in cooling if celsius - ambient_c <= TAIL_TIMES * last]
    if cooling[-1][1] > min(celsius for _, celsius in cooling) + RISE_C:
        raise NotCooling(
            say("The last readings do not fall. Is the kiln still on, or the door open?"), code="not-cooling"
        )
    usable = [celsius - ambient_c for _, celsius in tail if celsius - ambient_c > 1]
    if len(usable) < FEWEST_READINGS or last <= 1 or usable[0] * (1 - LEAST_FALL) < usable[-1]:
        raise TooFewReadings(
            say("Too few readings while cooling to say when. Add some over the next hour."),
            code="too-few-readings",
        )
    tail = [(at, celsius) for at, celsius in tail if celsius - ambient_c > 1]
    # Hundreds of readings say no more than a few hundred do.
    step = 1 + len(tail) // MOST_READINGS
    return tail[(len(tail) - 1) % step :: step]


def _newton_at_the_end(tail: list[Reading], ambient_c: float) -> _Fit | None:
    """Newton's law through the last part of the tail alone, which a bend further back can't hold down."""
    last = tail[-1][1] - ambient_c
    end = [reading for reading in tail if reading[1] - ambient_c <= END_TIMES * last]
    if len(end) < FEWEST_READINGS or end[0][1] <= end[-1][1]:
        return None
    return next((fit for fit in _fits(end, ambient_c) if fit.law.p == 0), None)


def _fits(tail: list[Reading], ambient_c: float) -> list[_Fit]:
    """For each p, E^(−p) (or −ln E) is a straight line in time: fitted by least squares, weighted to °C."""
    last_at = tail[-1][0]
    hours = [(at - last_at).total_seconds() / 3600 for at, _ in tail]
    excess = [celsius - ambient_c for _, celsius in tail]
    fits = []
    for p in _P_GRID:
        values = [-log(e) if p == 0 else e**-p / p for e in excess]
        # A degree's scatter in E is E^(−1−p) in the value: weigh by its inverse square.
        weights = [e ** (2 + 2 * p) for e in excess]
        total = sum(weights)
        mean_t = sum(w * t for w, t in zip(weights, hours, strict=True)) / total
        mean_v = sum(w * v for w, v in zip(weights, values, strict=True)) / total
        spread = sum(w * (t - mean_t) ** 2 for w, t in zip(weights, hours, strict=True))
        if spread <= 0:
            continue
        slope = (
            sum(w * (t - mean_t) * (v - mean_v) for w, t, v in zip(weights, hours, values, strict=True))
            / spread
        )
        now = mean_v - slope * mean_t
        if slope <= 0 or (p != 0 and now * p <= 0):
            continue
        residuals = sum(
            w * (v - now - slope * t) ** 2 for w, t, v in zip(weights, hours, values, strict=True)
        )
        scatter = max(SCATTER_C**2, residuals / max(1, len(excess) - 2))
        last = exp(-now) if p == 0 else (now * p) ** (-1 / p)
        fits.append(
            _Fit(
                law=CoolingLaw(slope, p, ambient_c),
                misfit=residuals / SCATTER_C**2,
                last_excess=last,
                last_excess_error=sqrt(scatter * (1 / total + mean_t**2 / spread)) * last ** (1 + p),
                c_error=sqrt(scatter / spread) / slope,
            )
        )
    if not fits:
        raise NotCooling(say("The readings do not fall as a cooling kiln's do."), code="not-cooling")
    return fits
