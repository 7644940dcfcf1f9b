"""A piece's mark drawn as cut into clay with a needle: strokes over one foot line.

The foot line says which way is up; no sign of the alphabet becomes another upside down.
"""

from __future__ import annotations

from functools import cache
from re import findall

from studio.domain.say import say

from .icons import sheet
from .svg_text import words

#: The signs a mark may hold; each has its strokes on the drawing sheet, in a box 60 wide and 100 high.
SIGNS = "ACDEFHJKNPRTWXY2479"
#: From the left edge of one sign to the left edge of the next, and a sign's own width.
STEP, SIGN_WIDTH, SIGN_HEIGHT = 90, 60, 100


@cache
def strokes(sign: str) -> str:
    """The path data of one sign. LookupError for a sign outside the alphabet."""
    if len(sign) != 1 or sign not in SIGNS:
        raise LookupError(f"{sign!r} is not a sign that a mark may hold.")
    return " ".join(findall(r' d="([^"]+)"', sheet()[f"mark-{sign}"][1]))


def mark_width(mark: str) -> int:
    """Width of a drawn mark between its outer strokes, in units where a sign is 100 high."""
    return STEP * len(mark) - (STEP - SIGN_WIDTH)


def mark_paths(mark: str) -> str:
    """The strokes of a mark and its foot line as path elements, 128 units high, from (0, 0)."""
    width = mark_width(mark)
    signs = "".join(
        f'<path d="{strokes(sign)}" transform="translate({index * STEP} 0)"/>'
        for index, sign in enumerate(mark)
    )
    return f'{signs}<path d="M0 128Q{width / 2:g} 136 {width} 128"/>'


def spoken(mark: str) -> str:
    """The mark as a screen reader should say it: 'Mark K 7 H'."""
    return say("Mark ") + " ".join(mark)


def cut_mark(mark: str, *, ink: bool = False, extra_class: str = "") -> str:
    """The mark as an SVG of class ``cut``: lip and cut line in clay, or plain strokes with ``ink``.

    A mark with a sign outside the alphabet (an old or foreign one) is set as text over the same foot line.
    """
    mark = mark.strip().upper()
    names = " ".join(filter(None, ["cut", "cut--ink" if ink else "", extra_class]))
    width = max(mark_width(mark), SIGN_WIDTH)
    head = (
        f'<svg class="{words(names)}" viewBox="-8 -8 {width + 16} 148" role="img" '
        f'aria-label="{words(spoken(mark))}">'
    )
    if not mark or any(sign not in SIGNS for sign in mark):
        return (
            f'{head}<text class="cut__text" x="{width / 2:g}" y="100" font-size="112" text-anchor="middle" '
            f'textLength="{width}" lengthAdjust="spacingAndGlyphs">{words(mark)}</text>'
            f'<g class="cut__line"><path d="M0 128Q{width / 2:g} 136 {width} 128"/></g></svg>'
        )
    paths = mark_paths(mark)
    lip = "" if ink else f'<g class="cut__lip" transform="translate(3 4)">{paths}</g>'
    return f'{head}{lip}<g class="cut__line">{paths}</g></svg>'
