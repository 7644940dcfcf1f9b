"""How fast a kiln goes by itself: cooling with the lid shut, and heating at full power, as it was read."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from statistics import median

from studio.domain.programme import KilnRates
from studio.models import Firing, Kiln

from .readings_thin import thin_readings

_FIRINGS_LOOKED_AT = 3
_BAND_C = 100
#: Rates over less than this are noise of the thermocouple.
_SHORTEST_H = 1 / 12
_READINGS_LOOKED_AT = 150


def rates_of(kiln: Kiln) -> KilnRates:
    """The rates of its latest firings with readings, °C/h by bands of 100 °C; empty where there are none.

    Cooling: the median while the kiln was off. Heating: only where a firing's programme asked for full power,
    for elsewhere the controller held it back. Three queries.
    """
    firings = list(
        Firing.objects.filter(kiln=kiln, ended_at__isnull=False, readings__isnull=False)
        .distinct()
        .order_by("-number")[:_FIRINGS_LOOKED_AT]
    )
    curves = thin_readings(firings, most=_READINGS_LOOKED_AT)
    falls: dict[int, list[float]] = {}
    rises: dict[int, list[float]] = {}
    for firing in firings:
        full_power = list(_full_power_c(firing))
        for (start, first), (end, second) in pairwise(curves[firing.pk]):
            hours = (end - start).total_seconds() / 3600
            middle = (first + second) / 2
            if hours < _SHORTEST_H or first == second:
                continue
            if start >= firing.ended_at and second < first:
                falls.setdefault(int(middle // _BAND_C), []).append((first - second) / hours)
            elif second > first and any(low <= first and second <= high for low, high in full_power):
                rises.setdefault(int(middle // _BAND_C), []).append((second - first) / hours)
    return KilnRates(heating=_by_band(rises), cooling=_by_band(falls))


def _by_band(rates: dict[int, list[float]]) -> tuple[tuple[float, float], ...]:
    return tuple(((band + 0.5) * _BAND_C, median(found)) for band, found in sorted(rates.items()))


def _full_power_c(firing: Firing) -> Iterable[tuple[float, float]]:
    """(°C, °C) of each stretch that the programme left to the kiln's full power."""
    before = 0.0
    for rate, target, _ in (firing.programme_as_fired or {}).get("segments", ()):
        if rate is None and target > before:
            yield before, target
        before = target
