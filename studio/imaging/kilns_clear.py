"""The thermocouple of a kiln and the space kept clear of it, as the drawings of the kiln show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .svg_text import num


@dataclass(frozen=True, slots=True)
class DrawnClear:
    """One upright round space kept clear, mm from the middle of the chamber and over its floor; ``to_mm``
    None reaches to the lid. The first of several is at the thermocouple's end, the last at the wall."""

    x_mm: float
    y_mm: float
    radius_mm: float
    from_mm: float = 0.0
    to_mm: float | None = None


def clear_from_above(spaces: Sequence[DrawnClear], unit: float) -> str:
    """Dotted rings round the thermocouple, and the thermocouple itself as a rod from the wall."""
    if not spaces:
        return ""
    rings = "".join(
        f'<circle class="l-clear" cx="{num(one.x_mm * unit)}" cy="{num(-one.y_mm * unit)}" '
        f'r="{num(one.radius_mm * unit)}"/>'
        for one in spaces
    )
    tip, wall = spaces[0], spaces[-1]
    return (
        f'<g class="l-probe">{rings}<path class="l-rod" d="M{num(wall.x_mm * unit)} {num(-wall.y_mm * unit)}'
        f'L{num(tip.x_mm * unit)} {num(-tip.y_mm * unit)}"/></g>'
    )


def clear_from_the_side(
    spaces: Sequence[DrawnClear], *, middle: float, floor: float, half: float, tall: float, unit: float
) -> str:
    """The band of height kept clear and the rod in it. ``half`` and ``tall`` are half the chamber's width and
    its height in drawing units; the band ends at its walls."""
    if not spaces:
        return ""
    tip, wall = spaces[0], spaces[-1]
    left = max(middle + min(one.x_mm - one.radius_mm for one in spaces) * unit, middle - half)
    right = min(middle + max(one.x_mm + one.radius_mm for one in spaces) * unit, middle + half)
    top = floor - min(tip.to_mm * unit if tip.to_mm is not None else tall, tall)
    bottom = floor - tip.from_mm * unit
    level = num((top + bottom) / 2)
    return (
        f'<g class="l-probe"><rect class="l-clear" x="{num(left)}" y="{num(top)}" '
        f'width="{num(right - left)}" height="{num(bottom - top)}" rx="6"/>'
        f'<path class="l-rod" d="M{num(middle + wall.x_mm * unit)} {level}'
        f'L{num(middle + tip.x_mm * unit)} {level}"/></g>'
    )
