"""How long firings took against the count of firings since the elements were changed: dots and their trend.

Like the firing plot it has no viewBox: labels keep the size of the page's text, and the words beside it and a
table say the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

from studio.domain.say import say

from .svg_text import percent, words


@dataclass(frozen=True, slots=True)
class Burn:
    """One firing: its count since the change (1 is the first), its hours, and its name."""

    count: int
    hours: float
    name: str


@dataclass(frozen=True, slots=True)
class Trend:
    """A straight line between two firings, and the hours at which elements count as worn."""

    from_count: int
    from_hours: float
    to_count: int
    to_hours: float
    worn_hours: float


def hours_words(hours: float) -> str:
    """``9.55`` as ``9 h 33 min``."""
    minutes = round(hours * 60)
    whole, rest = divmod(minutes, 60)
    return say("{whole} h {rest} min", whole=whole, rest=rest) if rest else f"{whole} h"


def wear_plot(*, burns: Sequence[Burn], trend: Trend | None = None, summary: str = "") -> str:
    """Dots of all firings, the trend through them and the mark of worn elements. ``burns`` is not empty."""
    lows = [burn.hours for burn in burns]
    if trend:
        lows += [trend.from_hours, trend.to_hours, trend.worn_hours]
    low, high = _span(min(lows), max(lows))
    last = max(max(burn.count for burn in burns), 5)

    def at_x(count: float) -> str:
        return percent(count / last)

    def at_y(hours: float) -> str:
        return percent(1 - (hours - low) / (high - low))

    step = _step(high - low)
    parts = []
    level = ceil(low / step) * step
    while level <= high + 1e-9:
        y = at_y(level)
        parts.append(f'<line class="wear__grid" x1="0" x2="100%" y1="{y}" y2="{y}"/>')
        unit = " h" if level + step > high + 1e-9 else ""
        parts.append(f'<text class="plot__y" x="0" dx="-8" dy="5" y="{y}">{level:g}{unit}</text>')
        level += step
    for count in _counts(last):
        parts.append(f'<text class="plot__x" x="{at_x(count)}" y="100%" dy="22">{count}</text>')
    if trend:
        y = at_y(trend.worn_hours)
        parts.append(f'<line class="wear__worn" x1="0" x2="100%" y1="{y}" y2="{y}"/>')
        parts.append(
            f'<text class="wear__word" x="0" dx="6" y="{y}" dy="-6">{words(say("worn: 10 % longer"))}</text>'
        )
        parts.append(
            f'<line class="wear__trend" x1="{at_x(trend.from_count)}" y1="{at_y(trend.from_hours)}" '
            f'x2="{at_x(trend.to_count)}" y2="{at_y(trend.to_hours)}"/>'
        )
    for burn in burns:
        told = f"{burn.name}: {hours_words(burn.hours)}"
        parts.append(
            f'<circle class="wear__dot" cx="{at_x(burn.count)}" cy="{at_y(burn.hours)}" r="6">'
            f"<title>{words(told)}</title></circle>"
        )
    said = words(summary or say("Hours of each firing since the elements were changed"))
    return (
        f'<div class="plot wear"><svg class="plot__svg" role="img" aria-label="{said}">{"".join(parts)}'
        "</svg></div>"
    )


def _span(low: float, high: float) -> tuple[float, float]:
    """Whole half hours with some air round the dots."""
    air = max((high - low) * 0.15, 0.25)
    return max(0, floor((low - air) * 2) / 2), ceil((high + air) * 2) / 2


def _step(span: float) -> float:
    return next((step for step in (0.5, 1, 2, 4, 8, 16, 24, 48) if span / step <= 5), 96)


def _counts(last: int) -> list[int]:
    step = next((step for step in (1, 2, 5, 10, 20, 50, 100, 200) if last / step <= 5), 500)
    return list(range(step, last + 1, step))
