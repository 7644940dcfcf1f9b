"""One height of a kiln from above with what stood there: rings sound, triangles flawed, crosses lost.

Positions are millimetres from the middle of the chamber: x to the right, y to the back, as the kiln is drawn
elsewhere. Sides that stand out are shaded; all else is said in words beside the drawing.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import cos, radians, sin

from .svg_text import num, words

#: Half the drawing, and the chamber's half in it.
_HALF, _REACH = 110.0, 104.0
#: The middle is what lies nearer to the centre than to the wall.
_MIDDLE = 0.5
#: Where each outer side lies: degrees anticlockwise from the right, as in mathematics.
_ARCS = {"right": (-45, 45), "back": (45, 135), "left": (135, 225), "front": (225, 315)}
_CORNERS = {
    "front": ((-1, -1), (1, -1)),
    "back": ((1, 1), (-1, 1)),
    "left": ((-1, 1), (-1, -1)),
    "right": ((1, -1), (1, 1)),
}


def where_map(
    *,
    rectangle: bool,
    width_mm: float,
    depth_mm: float,
    dots: Iterable[tuple[float, float, str]],
    marked: Iterable[tuple[str, str]] = (),
    label: str,
) -> str:
    """``dots``: x, y and sound, flawed or lost. ``marked``: sides (middle, front, back, left, right) that are
    ``more`` or ``fewer``. The wider of width and depth fills the drawing."""
    widest = max(width_mm, depth_mm)
    across, along = _REACH * width_mm / widest, _REACH * depth_mm / widest
    parts = [
        f'<path class="where__{words(kind)}" d="{_side(side, across, along, rectangle)}"/>'
        for side, kind in marked
    ]
    parts.append(_outline("where__wall", across, along, rectangle))
    parts.append(_outline("where__line", across * _MIDDLE, along * _MIDDLE, rectangle))
    for x, y in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
        (x1, y1), (x2, y2) = (_corner(x, y, part, across, along, rectangle) for part in (_MIDDLE, 1))
        parts.append(
            f'<line class="where__line" x1="{num(x1)}" y1="{num(y1)}" x2="{num(x2)}" y2="{num(y2)}"/>'
        )
    for x_mm, y_mm, outcome in dots:
        parts.append(_dot(x_mm * 2 / width_mm * across, -y_mm * 2 / depth_mm * along, outcome))
    box = f"{num(-_HALF)} {num(-_HALF)} {num(2 * _HALF)} {num(2 * _HALF)}"
    return f'<svg class="where" viewBox="{box}" role="img" aria-label="{words(label)}">{"".join(parts)}</svg>'


def _outline(css: str, across: float, along: float, rectangle: bool) -> str:
    if rectangle:
        return (
            f'<rect class="{css}" x="{num(-across)}" y="{num(-along)}" '
            f'width="{num(2 * across)}" height="{num(2 * along)}"/>'
        )
    return f'<ellipse class="{css}" cx="0" cy="0" rx="{num(across)}" ry="{num(along)}"/>'


def _corner(
    x: float, y: float, part: float, across: float, along: float, rectangle: bool
) -> tuple[float, float]:
    """Between two outer sides, at this part of the way out; y counts up here and down in the drawing."""
    far = part if rectangle else part * cos(radians(45))
    return x * across * far, -y * along * far


def _side(side: str, across: float, along: float, rectangle: bool) -> str:
    if side == "middle":
        x, y = across * _MIDDLE, along * _MIDDLE
        if rectangle:
            return f"M{num(-x)} {num(-y)}H{num(x)}V{num(y)}H{num(-x)}Z"
        radii = f"{num(x)} {num(y)}"
        return f"M{num(-x)} 0A{radii} 0 0 1 {num(x)} 0A{radii} 0 0 1 {num(-x)} 0Z"
    if rectangle:
        (ax, ay), (bx, by) = _CORNERS[side]
        points = [(ax, ay, 1.0), (bx, by, 1.0), (bx, by, _MIDDLE), (ax, ay, _MIDDLE)]
        return (
            "M"
            + "L".join(f"{num(x * across * part)} {num(-y * along * part)}" for x, y, part in points)
            + "Z"
        )
    first, last = _ARCS[side]
    ends = [
        (cos(radians(angle)) * across * part, -sin(radians(angle)) * along * part)
        for angle, part in ((first, 1.0), (last, 1.0), (last, _MIDDLE), (first, _MIDDLE))
    ]
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = ends
    inner = f"{num(across * _MIDDLE)} {num(along * _MIDDLE)}"
    return (
        f"M{num(ax)} {num(ay)}A{num(across)} {num(along)} 0 0 0 {num(bx)} {num(by)}"
        f"L{num(cx)} {num(cy)}A{inner} 0 0 1 {num(dx)} {num(dy)}Z"
    )


def _dot(x: float, y: float, outcome: str) -> str:
    if outcome == "sound":
        return f'<circle class="where__sound" cx="{num(x)}" cy="{num(y)}" r="2.6"/>'
    if outcome == "lost":
        path = f"M{num(x - 4)} {num(y - 4)}l8 8m0-8l-8 8"
        return f'<path class="where__case" d="{path}"/><path class="where__lost" d="{path}"/>'
    return f'<path class="where__flawed" d="M{num(x)} {num(y - 5)}l5 8.6h-10Z"/>'


def columns(values: Iterable[int], *, most: int, label: str) -> str:
    """Small columns side by side on a scale from 0 to ``most``; a line stands where nothing does."""
    values = list(values)
    room = 100 / max(len(values), 1)
    parts = []
    for place, value in enumerate(values):
        high = 100 * min(value, most) / max(most, 1)
        parts.append(
            f'<rect class="cols__bar" x="{num(room * place + room * 0.15)}%" y="{num(100 - high)}%" '
            f'width="{num(room * 0.7)}%" height="{num(high)}%"/>'
        )
    return (
        f'<svg class="colsplot" role="img" aria-label="{words(label)}">{"".join(parts)}'
        '<line class="cols__axis" x1="0" x2="100%" y1="100%" y2="100%"/></svg>'
    )
