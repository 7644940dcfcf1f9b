"""The kiln's day as one thrown hill, edge to edge, over a ware board with the hours on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from studio.domain.say import say

from .curves import Label, Reading, clipped, heat_gradient, hour_ticks, path_of, stretched
from .svg_text import checked_id, measured_width, percent, words

_TALL = 300.0
#: The hill's top is at this temperature or the highest reading, so that a cool kiln is a low hill.
_USUAL_TOP_C = 1230.0
#: Part of the width that the words on a wide screen begin at, and how high the hill may reach under them.
_WORDS_FROM, _WORDS_ROOM = 0.4, 0.42


@dataclass(frozen=True, slots=True)
class DaySlip:
    """Something in the day's diary that stands on the board: a class, a load."""

    start: datetime
    text: str


@dataclass(frozen=True, slots=True)
class DayCurve:
    """A kiln over a day: what was measured, what is still to come, and what to point at.

    Times are aware and in the studio's zone. ``pins`` are drawn on the hill, their words to the right, or to
    the left with kind 'left' and where they would run off the page.
    """

    start: datetime
    end: datetime
    measured: Sequence[Reading] = ()
    to_come: Sequence[Reading] = ()
    pins: Sequence[Label] = ()
    slips: Sequence[DaySlip] = ()
    summary: str = ""

    @property
    def top_c(self) -> float:
        """The temperature at the top of the drawing."""
        highest = max((r.temperature_c for r in (*self.measured, *self.to_come)), default=0.0)
        return max(highest, _USUAL_TOP_C) * 1.064

    @property
    def beside_words(self) -> bool:
        """Whether the hill leaves room for the heading beside it on a wide screen."""
        span = self.end - self.start
        return all(
            reading.temperature_c / self.top_c <= _WORDS_ROOM
            for reading in clipped((*self.measured, *self.to_come), self.start + span * _WORDS_FROM, self.end)
        )


def day_figure(day: DayCurve, *, uid: str = "day") -> str:
    """The hill, its pins and the board as a <figure> of class ``day__fig``."""
    checked_id(uid)
    series = [*day.measured, *(r for r in day.to_come if not day.measured or r.at > day.measured[-1].at)]
    outline = path_of(series, day.start, day.end, day.top_c, tall=_TALL)
    inner: list[str] = []
    if outline:
        first, last = outline[1:].split("L")[0].split()[0], outline.rsplit("L", 1)[-1].split()[0]
        inner.append(f'<path fill="url(#{uid}-heat)" d="{outline}L{last} 300L{first} 300Z"/>')
        for rill in range(1, 10):
            d = path_of(series, day.start, day.end, day.top_c, tall=_TALL, share=rill / 10)
            inner.append(f'<path class="day__rill" d="{d}"/>')
        was = path_of(day.measured, day.start, day.end, day.top_c, tall=_TALL)
        will = path_of(day.to_come, day.start, day.end, day.top_c, tall=_TALL)
        if was:
            inner.append(f'<path class="day__crest" d="{was}"/>')
        if will:
            inner.append(f'<path class="day__crest day__crest--to-come" d="{will}"/>')
    pins = "".join(_pin(day, pin) for pin in day.pins)
    told = words(day.summary or say("Kiln temperature over the day"))
    marks = f"{_ticks(day)}{_slips(day)}"
    return (
        '<figure class="day__fig"><div class="day__plot">'
        f'<svg class="day__hill" role="img" aria-label="{told}">'
        f"<defs>{heat_gradient(f'{uid}-heat', day.top_c, _TALL)}</defs>{stretched(_TALL, inner)}{pins}</svg>"
        f'</div><div class="day__board"><svg class="day__marks" aria-hidden="true">{marks}</svg></div>'
        "</figure>"
    )


def _place(day: DayCurve, at: datetime) -> float:
    return (at - day.start) / (day.end - day.start)


def _pin(day: DayCurve, pin: Label) -> str:
    x = _place(day, pin.at)
    if not 0 <= x <= 1:
        return ""
    y = 1 - min(max(pin.temperature_c, 0) / day.top_c, 1)
    line = 2.3 if y < 0.25 else 3.5
    on_left = pin.kind == "left" or x > 0.9
    side = 'text-anchor="end" x="-.45em"' if on_left else 'x=".45em"'
    edge = "-.58em" if on_left else ".58em"
    small = ""
    if pin.small:
        # On a phone, 390 px wide, words that would run off the page give way to the bold line alone.
        runs_off = not on_left and x + (measured_width(pin.small, 14) + 12) / 390 > 1
        css = say("pin__small only-wide-plot") if runs_off else "pin__small"
        small = f'<tspan class="{css}" x="{edge}" dy="1.2em">{words(pin.small)}</tspan>'
    css = say("pin only-wide-plot") if pin.wide_only else "pin"
    return (
        f'<svg class="{css}" x="{percent(x)}" y="{percent(y)}" overflow="visible">'
        f'<line class="pin__line" x1="0" x2="0" y1="0" y2="-{line}em"/>'
        f'<text {side} y="-{line - 0.82:.2f}em">{words(pin.text)}{small}</text></svg>'
    )


def _ticks(day: DayCurve) -> str:
    found = []
    for at, _ in hour_ticks(day.start, day.end, 5):
        x = _place(day, at)
        if x > 0.93:
            continue
        found.append(
            f'<svg class="day__tick" x="{percent(x)}" y="66%" overflow="visible">'
            f'<line x1="0" x2="0" y1="-.85em" y2=".1em"/><text x=".4em">{at:%H:%M}</text></svg>'
        )
    return "".join(found)


def _slips(day: DayCurve) -> str:
    """Paper slips on the board, none over another (reckoned at a page 1200 px wide)."""
    found, taken = [], -1.0
    for slip in sorted(day.slips, key=lambda slip: slip.start):
        x = max(_place(day, slip.start), 0.0)
        if x > 1:
            continue
        wide = measured_width(slip.text, 1.0, bold=True) + 1.7
        part = wide * 14 / 1200
        x = max(x, taken + 0.005)
        from_right = x + part > 0.99
        if from_right and taken > 1 - part:
            continue
        offset = -wide if from_right else 0.0
        taken = 1.0 if from_right else x + part
        found.append(
            f'<svg class="day__slip" x="{"100%" if from_right else percent(x)}" y="-6" overflow="visible">'
            f'<rect x="{offset:.2f}em" width="{wide:.2f}em" height="2.4em"/>'
            f'<svg x="{offset + wide - 0.6:.2f}em" width=".6em" height=".6em" viewBox="0 0 8 8">'
            '<path class="day__snip" d="M0 0h8v8Z"/></svg>'
            f'<text x="{offset + 0.7:.2f}em" y="1.55em">{words(slip.text)}</text></svg>'
        )
    return "".join(found)
