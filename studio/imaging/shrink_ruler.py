"""A ruler longer by what a clay shrinks: laid on wet clay it reads the fired size. SVG, printed at 100 %."""

from __future__ import annotations

from studio.domain.lengths import MM_PER_INCH, PARTS, Unit, unit_in_force
from studio.domain.problems import DomainError
from studio.domain.say import say

from .grids import Grid
from .sheet_parts import line_at, mm, page, wrapped

_TOP_MM, _LEFT_MM, _LONG_MM = 16.0, 24.0, 255.0
#: By the studio's unit: the line to check the printer with, and its words.
_CHECK_MM = {Unit.CM: 100.0, Unit.INCH: 4 * float(MM_PER_INCH)}


def ruler_page(*, name: str, percent: float) -> str:
    """One A4 page with two rulers to cut out and a line to check the printer with.

    ``percent`` is the shrinkage from wet to fired, % of the wet length: a fired millimetre, or sixteenth of
    an inch, is drawn 1 ÷ (1 − percent ÷ 100) long. Raises `DomainError` outside 0 to 30.
    """
    if not 0 <= percent <= 30:
        raise DomainError(say("A ruler can be drawn for a shrinkage from 0 to 30 %."), code="percent")
    step = 1 / (1 - percent / 100)
    grid = Grid()
    parts = [_ruler(_LEFT_MM, step, name, percent), _ruler(_LEFT_MM + 70, step, name, percent)]
    x, unit = 178.0, unit_in_force()
    check = _CHECK_MM[unit]
    says = say("This line is 4 in.") if unit is Unit.INCH else say("This line is 100 mm.")
    parts.append(
        f'<path d="M{mm(x)} {mm(_TOP_MM)}v{mm(check)}m-4 0h8m-4 {mm(-check)}m-4 0h8" fill="none" '
        'stroke="#000" stroke-width=".3"/>'
    )
    for number, text in enumerate((says, say("If not, print"), say("at 100 %."))):
        parts.append(line_at(text, x - 4, _TOP_MM + check + 7 + number * 4.6, 34, 3.4))
    return page(grid, "".join(parts), say("Shrink ruler for {name}", name=name))


def _ruler(x: float, step: float, name: str, percent: float) -> str:
    wide = 60.0
    inch = unit_in_force() is Unit.INCH
    # Strokes to a number, and those of middling length between.
    whole, half = (PARTS, PARTS // 4) if inch else (10, 5)
    if inch:
        step *= float(MM_PER_INCH) / PARTS
    count = int(_LONG_MM / step)
    strokes, numbers = [], []
    for fired in range(count + 1):
        y = _TOP_MM + fired * step
        length = 12.0 if fired % whole == 0 else 8.0 if fired % half == 0 else 5.0
        strokes.append(f"M{mm(x)} {y:.3f}h{mm(length)}")
        if fired % whole == 0 and fired:
            numbers.append(line_at(str(fired // whole), x + 13, y + 1.6, 10, 4.6, bold=True))
    texts = [(line, 3.8) for line in wrapped(name, wide - 23, 3.8, most=4)]
    texts += [
        (f"{percent:.1f} %", 3.8),
        (say("fired inches,") if inch else say("fired cm,"), 3.2),
        (say("held to wet clay"), 3.2),
    ]
    words = [
        line_at(text, x + 22, _TOP_MM + 8 + number * 5, wide - 23, size)
        for number, (text, size) in enumerate(texts)
    ]
    edge = f'<rect x="{mm(x)}" y="{mm(_TOP_MM - 4)}" width="{mm(wide)}" height="{mm(_LONG_MM + 8)}" '
    edge += 'fill="none" stroke="#555" stroke-width=".3" stroke-dasharray="1.2 1"/>'
    ticks = f'<path class="ruler-ticks" d="{"".join(strokes)}" fill="none" stroke="#000" stroke-width=".25"/>'
    return f"{edge}{ticks}{''.join(numbers)}{''.join(words)}"
