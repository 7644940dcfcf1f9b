"""Temperatures by hours from the lighting: a programme's plan, and firings laid over each other.

Built like the firing plot: one SVG whose labels keep the size of the page's text, while the lines inside a
nested one stretch to the room there is. Lines differ by their dashes as well as by their weight, so that they
can be told apart in print and without colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from studio.domain.say import say

from .curves import heat_gradient, stretched
from .svg_text import checked_id, num, percent, words

_TALL = 400.0
_MOST_POINTS = 300


@dataclass(frozen=True, slots=True)
class HourCurve:
    """(hours, °C) in order. ``kind`` is "plan", "was", or "before-1" to "before-4" for earlier firings."""

    points: Sequence[tuple[float, float]]
    kind: str = "plan"
    label: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """Temperatures to take care in, across the whole plot, with a word at its right end."""

    low_c: float
    high_c: float
    label: str


@dataclass(frozen=True, slots=True)
class Mark:
    """Words at a point; ``wide_only`` hides them on a phone."""

    hours: float
    celsius: float
    text: str
    small: str = ""
    wide_only: bool = False


@dataclass(frozen=True, slots=True)
class HourPlot:
    """What `hour_plot` draws. ``summary`` is read aloud in place of the picture."""

    curves: Sequence[HourCurve]
    summary: str
    bands: Sequence[Band] = ()
    marks: Sequence[Mark] = field(default_factory=tuple)

    @property
    def end_h(self) -> float:
        return max((hours for curve in self.curves for hours, _ in curve.points), default=1.0) or 1.0

    @property
    def top_c(self) -> float:
        highest = max((celsius for curve in self.curves for _, celsius in curve.points), default=0.0)
        return max(highest * 1.08, 200.0)


def hour_plot(plot: HourPlot, *, uid: str = "hours") -> str:
    """The curves in a box that the class ``plot`` sizes; hours run along the bottom."""
    checked_id(uid)
    end, top = plot.end_h, plot.top_c
    step = 200 if top > 700 else 100 if top > 300 else 50
    levels = range(0, int(top) + 1, step)
    lines = "".join(f'<path d="M0 {num(_y(level, top))}H1000"/>' for level in levels)
    parts = [f'<g class="plot__grid">{lines}</g>']
    texts = [
        f'<text class="plot__y" x="0" dx="-8" dy="5" y="{percent(1 - level / top)}">{level}'
        f"{' °C' if level == max(levels) else ''}</text>"
        for level in levels
    ]
    for band in plot.bands:
        if band.low_c < top:
            high = _y(min(band.high_c, top), top)
            parts.append(f'<path class="plot__care" d="M0 {num(high)}H1000V{num(_y(band.low_c, top))}H0Z"/>')
            middle = (band.low_c + min(band.high_c, top)) / 2
            texts.append(
                f'<text class="plot__carename" x="100%" dx="-4" dy="-7" '
                f'y="{percent(1 - middle / top)}">{words(band.label)}</text>'
            )
    for curve in sorted(plot.curves, key=_order):
        parts += _drawn(curve, end, top, uid)
    texts += _hours(end)
    texts += [_mark(mark, mark.hours / end, 1 - min(mark.celsius / top, 1)) for mark in plot.marks]
    return (
        f'<div class="plot plot--hours"><svg class="plot__svg" role="img" aria-label="{words(plot.summary)}">'
        f"<defs>{heat_gradient(f'{uid}-heat', top, _TALL)}</defs>{stretched(_TALL, parts)}"
        f"{''.join(texts)}</svg></div>"
    )


def small_curve(points: Sequence[tuple[float, float]], *, end_h: float, top_c: float) -> str:
    """A programme's outline for a list, to the scale of the list; said by the words beside it."""
    line = _path(points, end_h or 1.0, top_c or 1.0, 100.0)
    return (
        '<svg class="smallcurve" viewBox="0 -4 1000 108" preserveAspectRatio="none" aria-hidden="true">'
        f'<path class="smallcurve__foot" d="M0 100H1000"/><path class="smallcurve__line" d="{line}"/></svg>'
    )


def key_sample(kind: str) -> str:
    """A short stretch of a curve's line, for the key."""
    if kind == "was":
        paths = '<path class="plot__case" d="M3 8H39"/><path class="plot__was plot__was--key" d="M3 8H39"/>'
    else:
        paths = f'<path class="plot__{_css(kind)}" d="M1 8H41"/>'
    return f'<svg viewBox="0 0 42 16" aria-hidden="true">{paths}</svg>'


def table_rows(curves: Sequence[HourCurve], *, most: int = 24) -> list[tuple[float, list[float | None]]]:
    """The plot as a table: (hours, °C on each curve or None) at even hours and at the end of the longest."""
    end = max((curve.points[-1][0] for curve in curves if curve.points), default=0.0)
    step = next((step for step in (0.5, 1, 2, 3, 4, 6, 12, 24) if end / step <= most), 48)
    times = [place * step for place in range(int(end / step) + 1)]
    if end - (times[-1] if times else 0) > step / 10:
        times.append(end)
    return [(hours, [celsius_at(curve.points, hours) for curve in curves]) for hours in times]


def celsius_at(points: Sequence[tuple[float, float]], hours: float) -> float | None:
    """The temperature on a curve, between its points; None outside them."""
    for (start, first), (end, second) in pairwise(points):
        if start <= hours <= end:
            return second if end == start else first + (second - first) * (hours - start) / (end - start)
    return None


def _order(curve: HourCurve) -> int:
    return {"was": 2, "plan": 1}.get(curve.kind, 0)


def _css(kind: str) -> str:
    return kind if kind in {"plan", "was"} else say("before plot__{kind}", kind=kind)


def _drawn(curve: HourCurve, end: float, top: float, uid: str) -> list[str]:
    line = _path(curve.points, end, top, _TALL)
    if not line:
        return []
    if curve.kind == "was":
        return [
            f'<path class="plot__case" d="{line}"/>',
            f'<path class="plot__was" stroke="url(#{uid}-heat)" d="{line}"/>',
        ]
    return [f'<path class="plot__{_css(curve.kind)}" d="{line}"/>']


def _path(points: Sequence[tuple[float, float]], end: float, top: float, tall: float) -> str:
    step = 1 + len(points) // _MOST_POINTS
    kept = [*points[::step], *points[-1:]]
    drawn = (f"{num(1000 * hours / end)} {num(_y(celsius, top, tall))}" for hours, celsius in kept)
    return "M" + "L".join(drawn) if points else ""


def _y(celsius: float, top: float, tall: float = _TALL) -> float:
    return tall - tall * min(max(celsius, 0.0) / top, 1.0)


def _hours(end: float) -> list[str]:
    step = next((step for step in (1, 2, 3, 4, 6, 12, 24) if end / step <= 8), 48)
    texts = []
    for index, hours in enumerate(range(0, int(end) + 1, step)):
        css = say("plot__x only-wide-plot") if index % 2 else "plot__x"
        said = f"{hours} h" if hours else "0"
        texts.append(f'<text class="{css}" x="{percent(hours / end)}" y="100%" dy="22">{said}</text>')
    return texts


def _mark(mark: Mark, x: float, y: float) -> str:
    on_left = x > 0.55
    css = say("plot__tag only-wide-plot") if mark.wide_only else "plot__tag"
    dx = "-10" if on_left else "10"
    anchor = ' text-anchor="end"' if on_left else ""
    # Left of the top the line still climbs: there the words stand under it.
    lift = "-0.7em" if y > 0.2 else "3em" if on_left else "0.2em"
    small = ""
    if mark.small:
        small = (
            f'<tspan class="plot__small" x="{percent(x)}" dx="{dx}" dy="1.25em">{words(mark.small)}</tspan>'
        )
    return (
        f'<text class="{css}" x="{percent(x)}" y="{percent(y)}" dx="{dx}" dy="{lift}"{anchor}>'
        f"{words(mark.text)}{small}</text>"
    )
