"""What is amiss with a fire, out of its readings: each cause holds or does not, at a moment.

Too fast through steam: water must be gone before the ware passes 100 °C; 80 to 120 °C and the rates there
are common practice (see `programme`). Stalled, past the top and silent are common practice, no source. None
of it makes a kiln safe: it has its own controls, and somebody looks after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from .fire_rates import HOUR, Reading, value_at
from .programme import STEAM_C, STEAM_C_PER_H, PlannedCurve
from .say import figure, say


class AlarmCause(StrEnum):
    STEAM = "steam"
    STALLED = "stalled"
    PAST_TOP = "past-top"
    SILENT = "silent"


#: Ware may go this much faster than it should before anybody is woken: readings scatter.
_STEAM_SPARE = 1.2
#: A rate through steam is taken over at least so many degrees, and is news this long after it.
_STEAM_SPAN_C = 20.0
_STEAM_NEWS = timedelta(hours=1)
#: Less than this in an hour is no climb.
_STALLED_C = 5.0
#: A plan that asks for less than this in the hour holds.
_ASKED_C = 10.0
#: Below this, without a plan, a kiln may be held until the ware is dry.
_DRYING_C = 150.0
_NEAR_TOP_C = 25.0
_PAST_TOP_C = 10.0
SILENT_AFTER = HOUR


@dataclass(frozen=True, slots=True)
class Alarm:
    cause: AlarmCause
    sentence: str


@dataclass(frozen=True, slots=True)
class Watched:
    """A burning kiln. ``top_c``: the hottest it should get; ``greenware``: whether any of it is raw.

    ``readings`` in order of time. ``lit_at`` counts as heard when there are none.
    """

    lit_at: datetime
    readings: Sequence[Reading]
    top_c: float
    greenware: bool = False
    plan: PlannedCurve | None = None


def alarms(watched: Watched, *, now: datetime) -> list[Alarm]:
    """Every cause that holds at ``now``; none of them for a kiln that is off."""
    found = [_steam(watched, now), _stalled(watched, now), _past_top(watched), _silent(watched, now)]
    return [alarm for alarm in found if alarm is not None]


def steepest(readings: Sequence[Reading], low_c: float, high_c: float) -> tuple[float, datetime] | None:
    """The fastest rise between two temperatures, °C an hour over at least twenty degrees, and when it ended.

    None when the readings do not rise so far in there.
    """
    inside = _within(readings, low_c, high_c)
    best: tuple[float, datetime] | None = None
    start = 0
    for end in range(1, len(inside)):
        # The latest start that still leaves twenty degrees.
        while start + 1 < end and inside[end][1] - inside[start + 1][1] >= _STEAM_SPAN_C:
            start += 1
        (from_at, from_c), (to_at, to_c) = inside[start], inside[end]
        if to_c - from_c >= _STEAM_SPAN_C and to_at > from_at:
            rate = (to_c - from_c) / ((to_at - from_at) / HOUR)
            if best is None or rate > best[0]:
                best = (rate, to_at)
    return best


def _within(readings: Sequence[Reading], low_c: float, high_c: float) -> list[Reading]:
    """The rise between two temperatures, with the moments worked out at which it crosses them."""
    found: list[Reading] = []
    for place, (at, celsius) in enumerate(readings):
        if place:
            before_at, before = readings[place - 1]
            for edge in (low_c, high_c):
                if before < edge < celsius:
                    found.append(
                        (before_at + (at - before_at) * ((edge - before) / (celsius - before)), edge)
                    )
        if low_c <= celsius <= high_c:
            found.append((at, celsius))
        if celsius > high_c:
            break
    return found


def _steam(watched: Watched, now: datetime) -> Alarm | None:
    if not watched.greenware:
        return None
    found = steepest(watched.readings, *STEAM_C)
    if found is None or found[0] <= STEAM_C_PER_H * _STEAM_SPARE or now - found[1] > _STEAM_NEWS:
        return None
    rate = found[0]
    return Alarm(
        AlarmCause.STEAM,
        say(
            "It went through 80 to 120 °C at {rate} °C/h. Raw ware bursts when its water turns "
            "to steam: slow it down, or hold below 100 °C until no more steam comes.",
            rate=figure(rate, ".0f"),
        ),
    )


def _stalled(watched: Watched, now: datetime) -> Alarm | None:
    readings = watched.readings
    if len(readings) < 2 or now - readings[-1][0] > SILENT_AFTER:
        return None
    at, celsius = readings[-1]
    before = value_at(readings, at - HOUR)
    peak = max(value for _, value in readings)
    if before is None or peak >= watched.top_c - _NEAR_TOP_C or celsius - before >= _STALLED_C:
        return None
    if watched.plan is None:
        if celsius < _DRYING_C:
            return None
    else:
        minutes = (at - watched.lit_at) / timedelta(minutes=1)
        asked = watched.plan.celsius_at(minutes=minutes) - watched.plan.celsius_at(minutes=minutes - 60)
        if asked < _ASKED_C and celsius >= watched.plan.celsius_at(minutes=minutes) - _NEAR_TOP_C:
            return None
    if celsius < before - _STALLED_C:
        said = say(
            "It fell from {before} to {celsius} °C in the last hour, before it was at its top.",
            before=figure(before, ".0f"),
            celsius=figure(celsius, ".0f"),
        )
    else:
        said = say(
            "It stands at {celsius} °C and rose by less than 5 °C in the last hour.",
            celsius=figure(celsius, ".0f"),
        )
    return Alarm(
        AlarmCause.STALLED,
        say("{said} Has a fuse gone, an element or a relay, or was it switched off?", said=said),
    )


def _past_top(watched: Watched) -> Alarm | None:
    if not watched.readings or watched.readings[-1][1] <= watched.top_c + _PAST_TOP_C:
        return None
    return Alarm(
        AlarmCause.PAST_TOP,
        say(
            "It is at {readings} °C, and {top_c} °C was to be the top. Switch it off at the wall "
            "if it does not stop.",
            readings=figure(watched.readings[-1][1], ".0f"),
            top_c=figure(watched.top_c, ".0f"),
        ),
    )


def _silent(watched: Watched, now: datetime) -> Alarm | None:
    last = watched.readings[-1][0] if watched.readings else watched.lit_at
    if now - last < SILENT_AFTER:
        return None
    if watched.readings:
        said = say(
            "The last reading, {readings} °C, is more than an hour old.",
            readings=figure(watched.readings[-1][1], ".0f"),
        )
    else:
        said = say("There is no reading yet, more than an hour after the lighting.")
    return Alarm(AlarmCause.SILENT, say("{said} Look at the kiln, and note its temperature.", said=said))
