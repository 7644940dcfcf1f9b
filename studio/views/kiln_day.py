"""A hot kiln's night and day, as the first page draws it."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import exp, log

from django.utils import timezone

from studio.domain.readings import degrees_words
from studio.domain.say import say
from studio.imaging.curves import Label, Reading
from studio.imaging.days import DayCurve, DaySlip
from studio.models import Firing
from studio.queries.firings import AMBIENT_C, SafeToOpen
from studio.queries.readings import curve_of
from studio.templatetags.studio_format import clock, when

#: The page looks back this long before the even hour it starts at, and shows one whole day.
LOOK_BACK = timedelta(hours=16)
STEP = timedelta(minutes=20)


def day_curve(
    firing: Firing, opening: SafeToOpen, *, now: datetime, slips: tuple[DaySlip, ...] = ()
) -> DayCurve:
    """The last readings and, where it can be told, how it goes on cooling. Times in the studio's zone."""
    local_now = timezone.localtime(now)
    start = local_now.replace(minute=0, second=0, microsecond=0) - LOOK_BACK
    start -= timedelta(hours=start.hour % 6)
    end = start + timedelta(hours=24)
    measured = [Reading(timezone.localtime(at), celsius) for at, celsius in curve_of(firing)]
    seen = [reading for reading in measured if reading.at >= start]
    pins = []
    if seen:
        peak, last = max(seen, key=lambda reading: reading.temperature_c), seen[-1]
        if peak.at < last.at:
            pins.append(Label(peak.at, peak.temperature_c, degrees_words(peak.temperature_c), clock(peak.at)))
        side = "left" if last.at - start > (end - start) / 2 else ""
        pins.append(
            Label(
                last.at,
                last.temperature_c,
                degrees_words(last.temperature_c, opening.limit_c),
                clock(last.at),
                side,
            )
        )
    to_come = still_to_come(measured, opening, end)
    if opening.likely and measured and measured[-1].at < timezone.localtime(opening.likely) < end:
        likely = timezone.localtime(opening.likely)
        # Near the edge of the page the words stand to the left, where there is room.
        side = "left" if likely - start > (end - start) * 0.8 else ""
        # As round as the heading says it: the estimate knows no minutes.
        about = likely + timedelta(minutes=5)
        about -= timedelta(minutes=about.minute % 10)
        pins.append(
            Label(
                likely,
                opening.limit_c,
                say("about {about}", about=format(about, "%H:%M")),
                say("{limit_c} °C, open", limit_c=opening.limit_c),
                side,
            )
        )
    return DayCurve(
        start=start,
        end=end,
        measured=tuple(measured),
        to_come=tuple(to_come),
        pins=tuple(pins),
        slips=slips,
        summary=_summary(firing, seen, opening),
    )


def still_to_come(measured: list[Reading], opening: SafeToOpen, end: datetime) -> list[Reading]:
    """From the last reading through the likely opening, at the rate that joins the two."""
    if not measured or not opening.likely:
        return []
    last, likely = measured[-1], timezone.localtime(opening.likely)
    warm, cool = last.temperature_c - AMBIENT_C, opening.limit_c - AMBIENT_C
    if likely <= last.at or warm <= cool or cool <= 0:
        return []
    rate = log(warm / cool) / (likely - last.at).total_seconds()
    points, at = [], last.at
    while at <= end:
        points.append(Reading(at, AMBIENT_C + warm * exp(-rate * (at - last.at).total_seconds())))
        at += STEP
    return points


def _summary(firing: Firing, seen: list[Reading], opening: SafeToOpen) -> str:
    if not seen:
        return say(
            "{kiln}: no temperature has been noted today. {heading}.",
            kiln=firing.kiln,
            heading=opening.heading,
        )
    peak, last = max(seen, key=lambda reading: reading.temperature_c), seen[-1]
    return say(
        "{kiln}: {degrees_words} on {when}, {degrees_words_2} at {clock}. {heading}.",
        kiln=firing.kiln,
        degrees_words=degrees_words(peak.temperature_c),
        when=when(peak.at),
        degrees_words_2=degrees_words(last.temperature_c, opening.limit_c),
        clock=clock(last.at),
        heading=opening.heading,
    )
