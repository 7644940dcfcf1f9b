"""Witness cones as they stood: each bent as far as it was, side by side on a plaque."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin

from studio.domain.say import say

from .svg_text import num, words

_STEP, _LONG, _FOOT, _BASE_Y = 84, 86.0, 15.0, 100.0
#: A cone stands a little askew from the start, as it is made to (common practice).
_LEAN_DEGREES = 8.0
_JOINTS = 20


@dataclass(frozen=True, slots=True)
class BentCone:
    """A cone and by how many degrees its tip has gone over: 0 upright, 90 with the tip at the shelf."""

    cone: str
    bend_degrees: float
    wanted: bool = False


def cones_drawn(cones: Sequence[BentCone], *, summary: str) -> str:
    """The cones of one place, coolest first; where the wanted one should have come to is dotted."""
    wide = _STEP * len(cones) + 38
    parts = []
    for index, cone in enumerate(cones):
        foot = 34 + _STEP * index
        parts.append(f'<path class="c-body" d="{_body(foot, cone.bend_degrees)}"/>')
        parts.append(f'<path class="c-side" d="{_body(foot, cone.bend_degrees, inner=True)}"/>')
        if cone.wanted:
            parts.append(f'<path class="c-target" d="{_body(foot, 90)}"/>')
    parts.append(f'<path class="c-base" d="M8 100H{wide - 8}l4 15q1 4-4 4H8q-5 0-4-4Z"/>')
    parts += [
        f'<text class="c-no" x="{34 + _STEP * index}" y="137">'
        f"{words(say('cone {cone}', cone=cone.cone))}</text>"
        for index, cone in enumerate(cones)
    ]
    return f'<svg viewBox="0 0 {wide} 142" role="img" aria-label="{words(summary)}">{"".join(parts)}</svg>'


def _body(foot: float, bend: float, *, inner: bool = False) -> str:
    """A tapered body whose middle line is an arc: straight at first, its tip going over and down."""
    # The line from foot to tip leans by half of what the tip has turned: at the shelf it has turned by 180.
    turn = 2 * min(max(bend, 0.0), 100.0)
    x, y, left, right = foot, _BASE_Y, [], []
    for joint in range(_JOINTS + 1):
        share = joint / _JOINTS
        angle = radians(_LEAN_DEGREES + turn * share**1.15)
        across = (_FOOT * (1 - share) ** 0.8 + 1.2) * (0.72 if inner else 1.0)
        middle_x, middle_y = x, y
        left.append(
            (middle_x - cos(angle) * across * (0.1 if inner else 1.0), middle_y - sin(angle) * across)
        )
        right.append((middle_x + cos(angle) * across, middle_y + sin(angle) * across))
        x += sin(angle) * _LONG / _JOINTS
        y -= cos(angle) * _LONG / _JOINTS
    left[0], right[0] = (left[0][0], _BASE_Y), (right[0][0], _BASE_Y)
    outline = [*left, *reversed(right)]
    return "M" + "L".join(f"{num(px)} {num(min(py, _BASE_Y))}" for px, py in outline) + "Z"
