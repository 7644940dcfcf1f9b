"""What firings cost and who bore it, as columns: makers at the foot, the studio's parts on them.

One SVG without a viewBox: places are percentages, so that words keep the size of the page's text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count

from .svg_text import percent, words

#: Where the columns stand in the drawing, in parts of it: room for the scale at the left, labels below.
_LEFT, _TOP, _BOTTOM = 0.15, 0.08, 0.88
#: Of its place a column takes this much.
_WIDE = 0.62
#: And never more than this part of the drawing, where there are few.
_WIDEST = 0.09
#: More labels than this would run into each other: then every second or third one is written.
_MOST_LABELS = 12
#: A scale has about so many steps.
_STEPS = 4

#: (attribute of the column, CSS class), from the foot up.
PARTS = (
    ("makers", "pays__makers"),
    ("own", "pays__own"),
    ("given", "pays__given"),
    ("empty", "pays__empty"),
)


@dataclass(frozen=True, slots=True)
class PayColumn:
    """A firing, a kiln or a month. All in minor units; ``given`` may be negative: then makers paid more."""

    label: str
    cost: int
    makers: int
    own: int
    given: int
    empty: int
    told: str = ""

    @property
    def height(self) -> int:
        return max(self.cost, sum(max(getattr(self, part), 0) for part, _ in PARTS))


def scale_of(columns: Sequence[PayColumn]) -> list[int]:
    """The values of the rules across, from 0 up, in steps of 1, 2 or 5 times a power of ten."""
    highest = max((column.height for column in columns), default=0) or 1
    step = next(
        factor * 10**power
        for power in count()
        for factor in (1, 2, 5)
        if factor * 10**power * _STEPS >= highest
    )
    return list(range(0, highest + step, step))


def pay_columns(columns: Sequence[PayColumn], *, scale: Sequence[tuple[int, str]], summary: str) -> str:
    """The columns as one SVG of class ``pays``. ``scale``: value -> its words, as from `scale_of`."""
    top = max(value for value, _ in scale) or 1
    parts = []
    for value, text in scale:
        y = percent(_y(value, top))
        kind = "pays__axis" if value == 0 else "pays__rule"
        parts.append(f'<line class="{kind}" x1="0" x2="100%" y1="{y}" y2="{y}"/>')
        parts.append(f'<text class="pays__scale" x="0" y="{y}" dy="-.35em">{words(text)}</text>')
    room = (1 - _LEFT) / max(len(columns), 1)
    every = -(-len(columns) // _MOST_LABELS) or 1
    for place, column in enumerate(columns):
        parts.append(_column(column, _LEFT + room * place, room, top, labelled=place % every == 0))
    return f'<svg class="pays" role="img" aria-label="{words(summary)}">{"".join(parts)}</svg>'


def _column(column: PayColumn, left: float, room: float, top: int, *, labelled: bool) -> str:
    wide = min(room * _WIDE, _WIDEST)
    x = left + (room - wide) / 2
    stacked, found = 0, []
    for part, css in PARTS:
        value = max(getattr(column, part), 0)
        if value:
            high = _y(stacked, top) - _y(stacked + value, top)
            found.append(
                f'<rect class="{css}" x="{percent(x)}" y="{percent(_y(stacked + value, top))}" '
                f'width="{percent(wide)}" height="{percent(high)}"/>'
            )
        stacked += value
    cost = percent(_y(column.cost, top))
    over = wide * 0.12
    x1, x2 = percent(x - over), percent(x + wide + over)
    found.append(f'<line class="pays__axis" x1="{x1}" x2="{x2}" y1="{cost}" y2="{cost}"/>')
    if labelled:
        found.append(
            f'<text x="{percent(left + room / 2)}" y="{percent(_BOTTOM)}" dy="1.6em" text-anchor="middle">'
            f"{words(column.label)}</text>"
        )
    return f"<g><title>{words(column.told or column.label)}</title>{''.join(found)}</g>"


def _y(value: int, top: int) -> float:
    return _BOTTOM - (_BOTTOM - _TOP) * value / top
