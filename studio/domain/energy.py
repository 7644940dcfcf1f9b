"""Energy and wear of a firing: kWh, what they cost by time of day, wear per firing, and the elements' health.

Energy is whole watt-hours and money whole minor units; prices may have decimals (a unit rate of 27.35 pence),
given as text, Decimal, Fraction or int, never as float. A sum is rounded once, half up, at its end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from itertools import pairwise
from math import isfinite
from statistics import fmean, median

from .problems import DomainError
from .say import figure, say
from .sharing import round_half_up

Exact = int | str | Decimal | Fraction

#: Measured resistance above the new set's by this much: elements are worn (common practice).
WORN_PERCENT = 10.0
#: Firing time above that of a new set by this much: the same (common practice).
SLOWER_PERCENT = 10.0
#: Fewer firings than this since the elements were changed say nothing of a trend.
FEWEST_FIRINGS = 6
#: And more are not looked at: no set lasts so long.
MOST_FIRINGS = 400


def metered_wh(*, start_kwh: Exact, end_kwh: Exact) -> int:
    """Watt-hours between two readings of a meter in kWh. Raises `DomainError` when it runs backwards."""
    start, end = _exact(start_kwh, say("A meter reading")), _exact(end_kwh, say("A meter reading"))
    if end < start:
        raise DomainError(
            say("The meter reads less after the firing than before. Check both readings."), code="meter"
        )
    return round_half_up((end - start) * 1000)


def estimated_wh(*, power_kw: Exact, hours: Exact, duty: Exact) -> int:
    """Watt-hours from connected power × hours × the share of time the elements are on (0 to 1)."""
    power, spent, share = (
        _exact(value, name)
        for value, name in (
            (power_kw, say("The power")),
            (hours, say("The hours")),
            (duty, say("The share of time on")),
        )
    )
    if share > 1:
        raise DomainError(say("The elements can't be on for more than all of the time."), code="duty")
    return round_half_up(power * spent * share * 1000)


@dataclass(frozen=True, slots=True)
class Band:
    """From this local time of day on, a kWh costs so many minor units."""

    starts: time
    minor_per_kwh: Fraction


@dataclass(frozen=True, slots=True)
class Tariff:
    """Prices by local time of day in a zone. One band from midnight is a flat price.

    Bands are in order of their start; before the first one the last one holds, over midnight.
    """

    bands: tuple[Band, ...]
    zone: tzinfo

    @classmethod
    def of(cls, *, prices: Sequence[tuple[time, Exact]], zone: tzinfo) -> Tariff:
        """From (local start, minor units per kWh). `DomainError` for none, doubled or negative ones."""
        if not prices:
            raise DomainError(say("A tariff needs at least one price."), code="tariff")
        bands = sorted((Band(start, _exact(price, say("A price"))) for start, price in prices), key=_start)
        if len({band.starts for band in bands}) != len(bands):
            raise DomainError(say("Two prices start at the same time of day."), code="tariff")
        if any(band.starts.tzinfo is not None for band in bands):
            raise DomainError(
                say("A band starts at a time of day, without a zone of its own."), code="tariff"
            )
        return cls(tuple(bands), zone)

    def price_at(self, moment: datetime) -> Fraction:
        """Minor units per kWh at an aware moment."""
        local = moment.astimezone(self.zone).time()
        holding = [band for band in self.bands if band.starts <= local]
        return (holding[-1] if holding else self.bands[-1]).minor_per_kwh

    def pieces(self, *, start: datetime, end: datetime) -> list[tuple[datetime, datetime, Fraction]]:
        """(from, to, price) in UTC over a span, cut where the local clock passes a band's start.

        Right over midnight and over both clock changes: the span is walked in true time, and an hour that the
        local clock repeats or leaves out is charged by what the clock shows.
        """
        _span(start, end)
        start, end = start.astimezone(UTC), end.astimezone(UTC)
        cuts = [start]
        # Prices change on whole local minutes at the earliest; zones shift by whole quarters of an hour.
        day = start.astimezone(self.zone).date() - timedelta(days=1)
        last = end.astimezone(self.zone).date() + timedelta(days=1)
        while day <= last:
            for band in self.bands:
                for fold in (0, 1):
                    at = datetime.combine(day, band.starts, self.zone).replace(fold=fold).astimezone(UTC)
                    if start < at < end:
                        cuts.append(at)
            cuts += [at for at in self._clock_changes(day) if start < at < end]
            day += timedelta(days=1)
        cuts = [*sorted(set(cuts)), end]
        return [(a, b, self.price_at(a)) for a, b in pairwise(cuts) if a < b]

    def _clock_changes(self, day: date) -> list[datetime]:
        """Moments of that local day at which the zone's offset changes, to the minute."""
        start = datetime.combine(day, time(), self.zone).astimezone(UTC)
        found = []
        for quarter in range(4 * 26):
            before = start + timedelta(minutes=15 * quarter)
            after = before + timedelta(minutes=15)
            if before.astimezone(self.zone).utcoffset() != after.astimezone(self.zone).utcoffset():
                found.append(after)
        return found


def cost_minor(
    *, spans: Sequence[tuple[datetime, datetime, Exact]], tariff: Tariff, standing_minor: int = 0
) -> int:
    """Cost in minor units of energy used evenly within each (aware start, aware end, Wh) span.

    One span is a whole firing; several follow a meter or the duty over time. Rounded half up, once.
    """
    total = Fraction(standing_minor)
    for start, end, wh in spans:
        energy = _exact(wh, say("The energy"))
        length = _span(start, end)
        for a, b, price in tariff.pieces(start=start, end=end):
            total += energy / 1000 * price * _seconds(b - a) / length
    return round_half_up(total)


def wear_minor(*, price_minor: int, expected_firings: int, firing_number: int) -> int:
    """The part of a set's price that its firing number so-and-so bears (1 is the first since the change).

    Parts differ by one minor unit at most and sum exactly to the price over the expected firings; a set that
    lasts longer bears nothing more. Raises `DomainError` for nonsense.
    """
    for value, least in ((price_minor, 0), (expected_firings, 1), (firing_number, 1)):
        if type(value) is not int or value < least:
            raise DomainError(
                say("Wear needs a price, the firings expected and which one it is."), code="wear"
            )
    if firing_number > expected_firings:
        return 0
    return (
        price_minor * firing_number // expected_firings
        - price_minor * (firing_number - 1) // expected_firings
    )


@dataclass(frozen=True, slots=True)
class ElementHealth:
    """``slower_percent``: firing time against the set's first firings, by the trend; None with too few
    firings.

    ``resistance_percent``: measured resistance above the new set's; None when not measured.
    ``per_firing_min`` is how much longer each firing takes than the one before; ``first_hours`` and
    ``last_hours`` are the trend at the first and the last firing looked at. ``worn`` follows from either;
    ``firings_left`` is until the trend crosses the mark, None without a rising trend.
    """

    firings: int
    worn: bool
    slower_percent: float | None = None
    per_firing_min: float | None = None
    first_hours: float | None = None
    last_hours: float | None = None
    firings_left: int | None = None
    resistance_percent: float | None = None
    reasons: tuple[str, ...] = ()


def element_health(
    *,
    firing_hours: Sequence[float],
    firing_counts: Sequence[int] | None = None,
    new_ohm: float | None = None,
    measured_ohm: float | None = None,
) -> ElementHealth:
    """Health of a set of elements from firing times since it was changed, oldest first, and its resistance.

    Firing times are of one programme and like loads. ``firing_counts`` says which firing since the change
    each one was, rising (others lie between them); without it they follow each other. The trend is the median
    of all slopes between two firings (Theil 1950, Sen 1968), so that a few odd loads do not sway it. At one
    voltage power falls as 1 ÷ resistance.
    """
    if any(not isfinite(hours) or hours <= 0 for hours in firing_hours):
        raise DomainError(say("A firing takes more than 0 hours."), code="hours")
    places = list(range(len(firing_hours))) if firing_counts is None else list(firing_counts)
    if len(places) != len(firing_hours) or any(later <= earlier for earlier, later in pairwise(places)):
        raise DomainError(say("Each firing has a count of its own, and the counts rise."), code="counts")
    firing_hours, places = firing_hours[-MOST_FIRINGS:], places[-MOST_FIRINGS:]
    count, reasons, worn = len(firing_hours), [], False
    slower = slope_min = first = last = left = resistance = None
    if count < FEWEST_FIRINGS:
        reasons.append(
            say("Only {count} firings since the elements were changed: too few for a trend.", count=count)
        )
    else:
        slope = median(
            (firing_hours[j] - firing_hours[i]) / (places[j] - places[i])
            for i in range(count)
            for j in range(i + 1, count)
        )
        first = median(
            hours - slope * (place - places[0]) for place, hours in zip(places, firing_hours, strict=True)
        )
        gone = places[-1] - places[0]
        last = first + slope * gone
        slower = slope * gone / first * 100
        slope_min = slope * 60
        worn = slower >= SLOWER_PERCENT
        if slope > 0:
            left = max(0, int(first * SLOWER_PERCENT / 100 / slope) - gone)
        reasons.append(
            say("Firings take {slower} % against the set's first ones.", slower=figure(slower, "+.0f"))
        )
    if new_ohm is not None and measured_ohm is not None:
        if not all(isfinite(ohm) and ohm > 0 for ohm in (new_ohm, measured_ohm)):
            raise DomainError(say("A resistance is more than 0 ohm."), code="ohm")
        resistance = (measured_ohm / new_ohm - 1) * 100
        worn = worn or resistance >= WORN_PERCENT
        power = (new_ohm / measured_ohm - 1) * 100
        reasons.append(
            say(
                "Resistance is {resistance} % against new, so power is {power} %.",
                resistance=figure(resistance, "+.0f"),
                power=figure(power, "+.0f"),
            )
        )
    return ElementHealth(
        firings=count,
        worn=worn,
        slower_percent=slower,
        per_firing_min=slope_min,
        first_hours=first,
        last_hours=last,
        firings_left=left,
        resistance_percent=resistance,
        reasons=tuple(reasons),
    )


def typical_duty(*, duties: Sequence[float]) -> float | None:
    """Mean share of time on over past firings of a programme with a meter, or None without any."""
    return fmean(duties) if duties else None


def _start(band: Band) -> time:
    return band.starts


def _exact(value: Exact, what: str) -> Fraction:
    if isinstance(value, bool | float):
        raise DomainError(
            say("{what} must be exact: a whole number, a decimal or text.", what=what), code="float"
        )
    try:
        exact = Fraction(value)
    except (ValueError, TypeError, OverflowError, ZeroDivisionError, InvalidOperation):
        raise DomainError(say("{what} is not a number.", what=what), code="number") from None
    if exact < 0:
        raise DomainError(say("{what} can't be below 0.", what=what), code="negative")
    return exact


def _seconds(length: timedelta) -> Fraction:
    return Fraction(length // timedelta(microseconds=1), 1_000_000)


def _span(start: datetime, end: datetime) -> Fraction:
    if start.tzinfo is None or end.tzinfo is None:
        raise DomainError(say("Times need their time zone."), code="naive-time")
    # Aware times of one zone subtract by the wall clock; UTC makes it true time.
    length = end.astimezone(UTC) - start.astimezone(UTC)
    if length <= timedelta(0):
        raise DomainError(say("A firing ends after it starts."), code="span")
    return _seconds(length)
