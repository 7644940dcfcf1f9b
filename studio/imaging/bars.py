"""Bars that show a part of a whole, as SVG whose width is an attribute.

They stretch to the place they stand in; height, colour and shape come from the stylesheet.
"""

from __future__ import annotations

from .svg_text import percent, words


def part_bar(part: float, *, kind: str = "meter__bar", label: str = "") -> str:
    """One bar filled from the left. ``part`` is 0 to 1; more than 1 is drawn full.

    ``kind`` is the class: ``meter__bar`` (beside a figure), ``stackbar__bar`` (a layer's progress) or
    ``share`` (a thin bar below a name). With no label it is hidden from screen readers.
    """
    told = f'role="img" aria-label="{words(label)}"' if label else 'aria-hidden="true"'
    ground = "" if kind == "share" else '<rect class="bar__ground" width="100%" height="100%"/>'
    return (
        f'<svg class="bar {words(kind)}" {told}>{ground}'
        f'<rect class="bar__part" width="{percent(part)}" height="100%"/></svg>'
    )


def interval_bar(low: float, value: float, high: float, *, label: str = "") -> str:
    """An interval on a scale of 0 to 1 with the value in it: a band, a line through it and a ring."""
    told = f'role="img" aria-label="{words(label)}"' if label else 'aria-hidden="true"'
    scale = "".join(
        f'<line class="ci__rule" x1="{step}%" x2="{step}%" y1="0" y2="100%"/>'
        for step in (0, 25, 50, 75, 100)
    )
    width = max(min(high, 1.0) - max(low, 0.0), 0.0)
    return (
        f'<svg class="ci__bar" {told}>{scale}'
        '<line class="ci__axis" x1="0" x2="100%" y1="50%" y2="50%"/>'
        f'<rect class="ci__band" x="{percent(low)}" y="20%" width="{percent(width)}" height="60%"/>'
        f'<circle class="ci__value" cx="{percent(value)}" cy="50%" r="7"/></svg>'
    )
