"""Cards that go home with a pot: what may be said about food, why, and who decides. SVG in millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studio.domain.problems import Problem, Refused
from studio.domain.say import later, say

from .grids import Grid
from .sheet_parts import line_at, mark_at, refuse, sign_at, wrapped
from .sheets import label_pages
from .svg_text import measured_width

#: Below this the caution is not read any more.
LEAST_WIDTH_MM, LEAST_HEIGHT_MM = 62.0, 45.0
USUAL = Grid(rows=4, columns=2)
_LARGEST_MM, _SMALLEST_MM = 3.8, 2.1
_LEADING = 1.28
_SIGNS = {"decorative-only": "no-food", "not-known": "help", "tested": "check"}
_HEADS = {
    "decorative-only": later("Decorative only"),
    "not-known": later("Food use: not known"),
    "tested": later("Food use: tested"),
}


@dataclass(frozen=True, slots=True)
class FoodCard:
    """``use`` as `domain.advice.FoodUse` spells it; ``reasons`` sentences, those that decided first.

    A card lies beside the pot in the open, so it has no name of a person.
    """

    mark: str
    what: str
    use: str
    reasons: tuple[str, ...]
    caution: str
    signed: str = ""


def card_pages(cards: Sequence[FoodCard], grid: Grid | None = None, *, skip: int = 0) -> list[str]:
    """Pages of cards. ``skip`` as for slips. Refused for grids that can't be printed or cards too small."""
    grid = grid or USUAL
    refuse(grid)
    if grid.cell_width_mm < LEAST_WIDTH_MM or grid.cell_height_mm < LEAST_HEIGHT_MM:
        least = f"{LEAST_WIDTH_MM:.0f} × {LEAST_HEIGHT_MM:.0f}"
        sentence = say("A card that can be read needs {least} mm. Use fewer rows or columns.", least=least)
        raise Refused([Problem("card-too-small", sentence)])
    return label_pages([_card(card, grid) for card in cards], grid, skip, say("Cards about food"))


def _card(card: FoodCard, grid: Grid) -> str:
    w, h = grid.cell_width_mm, grid.cell_height_mm
    pad = min(5.0, w * 0.055, h * 0.08)
    room = w - 2 * pad
    head = min(15.0, h * 0.22)
    mark_wide = min(34.0, room * 0.34)
    beside = pad + mark_wide + 3
    sign_side = head * 0.48
    beside_sign = room - mark_wide - 4.5 - sign_side
    big = min(6.0, head * 0.42, beside_sign / measured_width(_HEADS[card.use], 1, bold=True, face="sans"))
    parts = [
        mark_at(card.mark, pad, pad, mark_wide, head),
        sign_at(_SIGNS[card.use], beside, pad, sign_side),
        line_at(
            _HEADS[card.use],
            beside + sign_side + 1.5,
            pad + big,
            beside_sign,
            big,
            bold=True,
        ),
        line_at(card.what, beside, pad + head - 1.2, room - mark_wide - 3, min(3.4, head * 0.24), voice=True),
    ]
    lines, size = _text(card, room, h - 2 * pad - head - 2)
    y = pad + head + 2
    for text in lines:
        y += size * _LEADING
        parts.append(line_at(text, pad, y - size * 0.28, room, size))
    return "".join(parts)


def _text(card: FoodCard, room: float, height: float) -> tuple[list[str], float]:
    """The lines under the head and the size of their letters.

    The caution is never left out; reasons are, from the last one, where not even small letters hold them.
    """
    reasons = list(card.reasons)
    while True:
        size = _LARGEST_MM
        while size >= _SMALLEST_MM:
            lines = _lines(card, reasons, room, size)
            if len(lines) * size * _LEADING <= height:
                return lines, size
            size -= 0.1
        if len(reasons) <= 1:
            return _lines(card, reasons, room, _SMALLEST_MM), _SMALLEST_MM
        reasons.pop()


def _lines(card: FoodCard, reasons: list[str], room: float, size: float) -> list[str]:
    left_out = len(card.reasons) - len(reasons)
    more = [say("And {left_out} more: ask the studio.", left_out=left_out)] if left_out else []
    texts = [*reasons, *more, "", card.caution, card.signed]
    return [line for text in texts for line in (wrapped(text, room, size, most=12) or [""])]
