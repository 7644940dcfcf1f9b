"""Temperatures over time: the firing plot, and the words and rows that say the same without the picture.

Every drawing is one SVG without a viewBox, so its labels keep the size of the page's text and are never
stretched; only the lines inside it, in a nested SVG, stretch to the room there is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from studio.domain.say import date_words, figure, say

from .svg_text import checked_id, num, percent, words

#: Where the colour of heat changes (°C): clay glows from about 600 °C (common practice).
_HEAT_STOPS = (
    (1200, "heat-1"),
    (1000, "heat-2"),
    (800, "heat-3"),
    (600, "heat-4"),
    (400, "heat-5"),
    (60, "heat-6"),
)
_WIDE, _TALL = 1000.0, 400.0


@dataclass(frozen=True, slots=True)
class Reading:
    """A temperature in °C at an aware time; the time's own zone is the one labels are written in."""

    at: datetime
    temperature_c: float


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a point of a curve: a bold line and a smaller one. ``kind`` '' or 'safe'; hidden on phones
    when ``wide_only``."""

    at: datetime
    temperature_c: float
    text: str
    small: str = ""
    kind: str = ""
    wide_only: bool = False


def clipped(readings: Sequence[Reading], start: datetime, end: datetime) -> list[Reading]:
    """The readings between two times, in order, with values worked out at the two ends where they cross."""
    ordered = sorted(readings, key=lambda reading: reading.at)
    found: list[Reading] = []
    for before, after in pairwise(ordered):
        for edge in (start, end):
            if before.at < edge < after.at:
                part = (edge - before.at) / (after.at - before.at)
                value = before.temperature_c + (after.temperature_c - before.temperature_c) * part
                found.append(Reading(edge, value))
    found += [reading for reading in ordered if start <= reading.at <= end]
    return sorted(found, key=lambda reading: reading.at)


def thinned(readings: Sequence[Reading], most: int = 240) -> list[Reading]:
    """At most about ``most`` readings: first, last, and the lowest and highest of each stretch between."""
    if len(readings) <= most:
        return list(readings)
    size = len(readings) / (most / 2)
    kept = {0, len(readings) - 1}
    for step in range(int(most / 2)):
        stretch = range(int(step * size), min(int((step + 1) * size) or 1, len(readings)))
        if stretch:
            kept.add(min(stretch, key=lambda index: readings[index].temperature_c))
            kept.add(max(stretch, key=lambda index: readings[index].temperature_c))
    return [readings[index] for index in sorted(kept)]


def path_of(
    readings: Sequence[Reading],
    start: datetime,
    end: datetime,
    top_c: float,
    *,
    tall: float = _TALL,
    share: float = 1.0,
) -> str:
    """Path data of a curve in a box 1000 wide and ``tall`` high; ``share`` below 1 draws a rill under it."""
    span = (end - start).total_seconds()
    points = [
        (
            _WIDE * (reading.at - start).total_seconds() / span,
            tall - tall * min(max(reading.temperature_c, 0) / top_c, 1) * share,
        )
        for reading in thinned(clipped(readings, start, end))
    ]
    return "M" + "L".join(f"{num(x)} {num(y)}" for x, y in points) if points else ""


def heat_gradient(name: str, top_c: float, tall: float) -> str:
    """A vertical gradient that gives each temperature its own colour, so that only heat glows."""
    stops = []
    if top_c > _HEAT_STOPS[0][0]:
        stops.append('<stop offset="0" class="heat-1"/>')
    for degrees, css in _HEAT_STOPS:
        if degrees <= top_c:
            stops.append(f'<stop offset="{num(100 - degrees / top_c * 100)}%" class="{css}"/>')
    return (
        f'<linearGradient id="{checked_id(name)}" gradientUnits="userSpaceOnUse" x1="0" y1="0" x2="0" '
        f'y2="{num(tall)}">{"".join(stops)}</linearGradient>'
    )


def hour_ticks(start: datetime, end: datetime, most: int = 8) -> list[tuple[datetime, str]]:
    """Whole hours between two times, at most about ``most``, as (time, '16:00' or 'Tue 00:00')."""
    hours = (end - start).total_seconds() / 3600
    step = next((step for step in (1, 2, 3, 4, 6, 12, 24, 48, 96) if hours / step <= most), 192)
    zone = start.tzinfo
    moment = start.replace(minute=0, second=0, microsecond=0)
    if moment < start:
        moment += timedelta(hours=1)
    found: list[tuple[datetime, str]] = []
    day = None
    while moment <= end:
        # Wall-clock hours: a night with a clock change simply has one step of another length.
        if moment.hour % min(step, 24) == 0 and (step <= 24 or moment.toordinal() % (step // 24) == 0):
            label = f"{date_words(moment, 'D H:i')}" if moment.date() != day else f"{moment:%H:%M}"
            found.append((moment, label))
            day = moment.date()
        moment = (moment + timedelta(hours=1)).replace(tzinfo=zone)
    return found


def firing_plot(
    *,
    start: datetime,
    end: datetime,
    asked: Sequence[Reading] = (),
    measured: Sequence[Reading] = (),
    to_come: Sequence[Reading] = (),
    band: tuple[datetime, datetime] | None = None,
    now: datetime | None = None,
    labels: Sequence[Label] = (),
    top_c: float | None = None,
    uid: str = "plot",
    summary: str = "",
) -> str:
    """The firing as asked for, as measured and as it should go on, in a box that the class ``plot`` sizes.

    ``band`` is the likely opening. Times are aware and in the studio's zone. ``summary`` is read aloud in
    place of the picture (see :func:`summary_of`).
    """
    checked_id(uid)
    highest = max((r.temperature_c for r in (*asked, *measured, *to_come)), default=0.0)
    top = top_c or max(highest * 1.06, 200.0)
    span = (end - start).total_seconds()

    def place(at: datetime) -> float:
        return (at - start).total_seconds() / span

    step = 200 if top > 700 else 100 if top > 300 else 50
    levels = range(0, int(top) + 1, step)
    lines = "".join(f'<path d="M0 {num(_TALL - level / top * _TALL)}H1000"/>' for level in levels)
    parts = [f'<g class="plot__grid">{lines}</g>']
    for rill in range(1, 9):
        d = path_of(measured, start, end, top, share=rill / 9)
        if d:
            parts.append(f'<path class="plot__rill" d="{d}"/>')
    if band:
        low, high = max(place(band[0]), 0) * _WIDE, min(place(band[1]), 1) * _WIDE
        if high > low:
            parts.append(f'<path class="plot__band" d="M{num(low)} 0H{num(high)}V400H{num(low)}Z"/>')
            parts.append(f'<path class="plot__safe" d="M{num(low)} 0V400M{num(high)} 0V400"/>')
    if asked:
        parts.append(f'<path class="plot__plan" d="{path_of(asked, start, end, top)}"/>')
    measured_path = path_of(measured, start, end, top)
    if measured_path:
        parts.append(f'<path class="plot__case" d="{measured_path}"/>')
        parts.append(f'<path class="plot__was" stroke="url(#{uid}-heat)" d="{measured_path}"/>')
    if to_come:
        parts.append(f'<path class="plot__will" d="{path_of(to_come, start, end, top)}"/>')
    if now and start <= now <= end:
        parts.append(f'<path class="plot__now" d="M{num(place(now) * _WIDE)} 308V400"/>')
    texts = [
        f'<text class="plot__y" x="0" dx="-8" dy="5" y="{percent(1 - level / top)}">{level}'
        f"{' °C' if level == max(levels) else ''}</text>"
        for level in levels
    ]
    for index, (at, text) in enumerate(hour_ticks(start, end)):
        css = say("plot__x only-wide-plot") if index % 2 else "plot__x"
        texts.append(f'<text class="{css}" x="{percent(place(at))}" y="100%" dy="22">{words(text)}</text>')
    texts += [_label(label, place(label.at), 1 - min(label.temperature_c / top, 1)) for label in labels]
    told = words(summary or say("Kiln temperature over time"))
    return (
        f'<div class="plot"><svg class="plot__svg" role="img" aria-label="{told}">'
        f"<defs>{heat_gradient(f'{uid}-heat', top, _TALL)}</defs>{stretched(_TALL, parts)}"
        f"{''.join(texts)}</svg></div>"
    )


def stretched(tall: float, parts: Sequence[str]) -> str:
    """Paths of a box 1000 wide and ``tall`` high, stretched to the SVG around them; no text goes in here."""
    return (
        f'<svg width="100%" height="100%" viewBox="0 0 1000 {num(tall)}" preserveAspectRatio="none" '
        f'overflow="visible">{"".join(parts)}</svg>'
    )


def _label(label: Label, x: float, y: float) -> str:
    """Two lines beside a point, on the side where there is room, with a halo of paper behind the letters."""
    on_left = x > 0.55
    names = ["plot__tag", f"plot__tag--{label.kind}" if label.kind else ""]
    css = " ".join(filter(None, [*names, "only-wide-plot" if label.wide_only else ""]))
    dx = "-12" if on_left else "12"
    anchor = ' text-anchor="end"' if on_left else ""
    # The words of a point near the top stand beside it, lower points carry theirs above the line.
    lift = "-1.6em" if y > 0.2 else "0.2em"
    small = ""
    if label.small:
        small = (
            f'<tspan class="plot__small" x="{percent(x)}" dx="{dx}" dy="1.25em">{words(label.small)}</tspan>'
        )
    return (
        f'<text class="{css}" x="{percent(x)}" y="{percent(y)}" dx="{dx}" dy="{lift}"{anchor}>'
        f"{words(label.text)}{small}</text>"
    )


def value_at(readings: Sequence[Reading], at: datetime) -> float | None:
    """The temperature on a curve at a time, between its readings; None outside them."""
    ordered = sorted(readings, key=lambda reading: reading.at)
    for before, after in pairwise(ordered):
        if before.at <= at <= after.at and after.at > before.at:
            part = (at - before.at) / (after.at - before.at)
            return before.temperature_c + (after.temperature_c - before.temperature_c) * part
    return ordered[0].temperature_c if len(ordered) == 1 and ordered[0].at == at else None


def rows(
    *,
    start: datetime,
    end: datetime,
    measured: Sequence[Reading],
    asked: Sequence[Reading] = (),
    most: int = 24,
) -> list[tuple[datetime, float | None, float | None]]:
    """The plot as a table for <details>: (time, measured °C, asked °C) at whole hours, None where unknown."""
    return [
        (at, value_at(measured, at), value_at(asked, at))
        for at, _ in hour_ticks(start, end, most)
        if value_at(measured, at) is not None or value_at(asked, at) is not None
    ]


def summary_of(
    *, measured: Sequence[Reading], now: Reading | None = None, opens_at: datetime | None = None
) -> str:
    """One or two sentences that say what the curve shows, for figcaptions and screen readers."""
    if not measured:
        return say("No temperatures yet.")
    ordered = sorted(measured, key=lambda reading: reading.at)
    peak = max(ordered, key=lambda reading: reading.temperature_c)
    text = say(
        "Kiln temperature from {at} to {at_2}. The highest reading is {temperature_c} °C at {peak_at}.",
        at=date_words(ordered[0].at, "l H:i"),
        at_2=date_words(ordered[-1].at, "l H:i"),
        temperature_c=figure(peak.temperature_c, ".0f"),
        peak_at=format(peak.at, "%H:%M"),
    )
    if now:
        text += say(" It is {temperature_c} °C now.", temperature_c=figure(now.temperature_c, ".0f"))
    if opens_at:
        text += say(" It should be cool enough to open about {opens_at}.", opens_at=format(opens_at, "%H:%M"))
    return text
