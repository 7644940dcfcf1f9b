"""What printed sheets are made of: a page, codes, marks, signs and lines of text that keep to their room.

All lengths are millimetres. Every word is measured, made smaller or shortened; widths are reckoned for the
widest face that may stand in for the one asked for.
"""

from __future__ import annotations

from studio.domain.problems import Refused

from .grids import Grid, grid_problems
from .icons import sheet as drawing_sheet
from .icons import symbol_name
from .marks_drawn import SIGNS, mark_paths, mark_width
from .qr import QUIET, qr_path
from .svg_text import fitted, measured_width, words

PLATE = "'Liberation Sans Narrow', 'Arial Narrow', Arial, Helvetica, sans-serif"
VOICE = "'Palatino Linotype', Palatino, P052, 'Noto Serif', serif"


def mm(value: float) -> str:
    """A length in mm to a hundredth."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def refuse(grid: Grid) -> None:
    problems = grid_problems(grid)
    if problems:
        raise Refused(problems)


def page(grid: Grid, inner: str, label: str) -> str:
    w, h = mm(grid.page_width_mm), mm(grid.page_height_mm)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="sheet-svg" width="{w}mm" height="{h}mm" '
        f'viewBox="0 0 {w} {h}" role="img" aria-label="{words(label)}" font-family="{PLATE}">'
        f'<rect width="{w}" height="{h}" fill="#fff"/>{inner}</svg>'
    )


def sign_at(name: str, x: float, y: float, side: float, stroke: float = 1.5) -> str:
    box, inner = drawing_sheet()[symbol_name(name)]
    inner = inner.replace('class="i-on"', 'stroke="#fff"')
    return (
        f'<svg x="{mm(x)}" y="{mm(y)}" width="{mm(side)}" height="{mm(side)}" viewBox="{box}" color="#000" '
        f'fill="none" stroke="#000" stroke-width="{stroke}" stroke-linecap="round" stroke-linejoin="round">'
        f"{inner}</svg>"
    )


def code_at(url: str, x: float, y: float, side: float) -> str:
    """A code with its quiet zone in a square of ``side`` mm."""
    path, count = qr_path(url)
    whole = count + 2 * QUIET
    return (
        f'<svg x="{mm(x)}" y="{mm(y)}" width="{mm(side)}" height="{mm(side)}" '
        f'viewBox="-{QUIET} -{QUIET} {whole} {whole}" shape-rendering="crispEdges">'
        f'<path fill="#000" d="{path}"/></svg>'
    )


def mark_at(mark: str, x: float, y: float, width: float, height: float) -> str:
    """A mark as large as the box allows, at its left, in the middle of its height."""
    mark = mark.strip().upper()
    units = max(mark_width(mark), 60) + 14
    scale = min(width / units, height / 148)
    top = y + (height - 148 * scale) / 2
    head = f'<svg x="{mm(x)}" y="{mm(top)}" width="{mm(units * scale)}" height="{mm(148 * scale)}" '
    head += f'viewBox="-7 -8 {units} 148">'
    if not mark or any(sign not in SIGNS for sign in mark):
        # A mark of another studio, or one made before this alphabet: set in type over the same foot line.
        wide = units - 14
        return (
            f'{head}<text x="0" y="100" font-size="112" font-weight="700" textLength="{wide}" '
            f'lengthAdjust="spacingAndGlyphs">{words(mark)}</text>'
            f'<path d="M0 128Q{wide / 2:g} 136 {wide} 128" fill="none" stroke="#000" stroke-width="11" '
            'stroke-linecap="round"/></svg>'
        )
    return (
        f'{head}<g fill="none" stroke="#000" stroke-width="11" stroke-linecap="round" '
        f'stroke-linejoin="round">{mark_paths(mark)}</g></svg>'
    )


def line_at(
    text: str, x: float, y: float, room: float, size: float, *, bold: bool = False, voice: bool = False
) -> str:
    """A line of text that fits its room: a little smaller first, then shortened."""
    if not text.strip():
        return ""
    kind = "serif" if voice else "sans"
    wide = measured_width(text, size, bold=bold, face=kind)
    if wide > room:
        size = max(size * room / wide, size * 0.75)
    shown = fitted(text, room, size, bold=bold, face=kind)
    face = f' font-family="{VOICE}"' if voice else ""
    weight = ' font-weight="700"' if bold else ""
    at = f'x="{mm(x)}" y="{mm(y)}" font-size="{mm(size)}"'
    return f'<text {at}{face}{weight} fill="#000">{words(shown)}</text>'


def broken(text: str, room: float, size: float) -> tuple[list[str], float]:
    """A name in one line, or in two where that lets its letters be larger; and the size of the letters."""
    one = min(size, room / max(measured_width(text, 1, face="serif"), 0.1))
    parts = text.split()
    best, best_size = [text], one
    for cut in range(1, len(parts)):
        pair = [" ".join(parts[:cut]), " ".join(parts[cut:])]
        wide = max(measured_width(line, 1, face="serif") for line in pair)
        fit = min(size * 0.75, room / wide)
        if fit > best_size * 1.15:
            best, best_size = pair, fit
    return best, max(best_size, 3.0)


def wrapped(text: str, room: float, size: float, *, most: int) -> list[str]:
    """Text in at most ``most`` lines; what is left over is cut off with … by the line that draws it."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and (measured_width(longer, size, face="sans") <= room or len(lines) == most):
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
