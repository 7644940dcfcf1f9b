"""Sheets to print: piece slips and shelf tags as SVG pages in millimetres, one SVG a page.

A page measures itself: printed at 100 % its labels fall on the user's own grid. Each label is cut off at its
own edge, so that nothing runs into the next one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studio.domain.say import later, say

from .grids import Grid
from .marks_drawn import mark_width
from .sheet_parts import broken, code_at, line_at, mark_at, mm, page, refuse, sign_at, wrapped

#: What a slip is ticked through by pencil: sign and word.
TICKS = (
    ("wet", "made"),
    ("leather-hard", "leather"),
    ("bone-dry", later("bone dry")),
    ("bisque", "bisque"),
    ("glazed", "glazed"),
    ("glaze", "fired"),
    ("finishing", "finished"),
    ("ready", "ready"),
)


@dataclass(frozen=True, slots=True)
class Slip:
    """One piece's slip. ``name`` is as it may lie in the open: a first name, with an initial for adults."""

    mark: str
    url: str
    name: str = ""
    form: str = ""
    detail: str = ""


@dataclass(frozen=True, slots=True)
class ShelfTag:
    """One shelf's tag: its name, a line below it, and a sign of what stands there."""

    url: str
    name: str
    line: str = ""
    sign: str = "shelf"


def slip_pages(slips: Sequence[Slip], grid: Grid | None = None, *, skip: int = 0) -> list[str]:
    """Pages of slips. ``skip`` leaves that many labels of the first page free: they have been used already.

    Refused, with a sentence for each reason, for a grid that can't be printed.
    """
    grid = grid or Grid()
    refuse(grid)
    return label_pages([_slip(slip, grid) for slip in slips], grid, skip, say("Piece slips"))


def tag_pages(tags: Sequence[ShelfTag], grid: Grid | None = None, *, skip: int = 0) -> list[str]:
    """Pages of shelf tags; five to a page unless the grid says otherwise. Refused as for slips."""
    grid = grid or Grid(rows=5, columns=1)
    refuse(grid)
    return label_pages([_tag(tag, grid) for tag in tags], grid, skip, say("Shelf tags"))


def label_pages(labels: list[str], grid: Grid, skip: int, title: str) -> list[str]:
    """Pages of labels, each drawn for a cell of the grid, with lines to cut along."""
    skip = min(max(skip, 0), grid.per_page - 1)
    placed: list[list[str]] = []
    for number, label in enumerate(labels, start=skip):
        if number == skip or number % grid.per_page == 0:
            placed.append([])
        x, y = grid.corner(number)
        placed[-1].append(
            f'<svg x="{mm(x)}" y="{mm(y)}" width="{mm(grid.cell_width_mm)}" '
            f'height="{mm(grid.cell_height_mm)}">{label}</svg>'
        )
    lines = _cut_lines(grid)
    count = len(placed)
    return [
        page(
            grid,
            lines + "".join(labels_on_it),
            say("{title}, page {number} of {count}", title=title, number=number, count=count),
        )
        for number, labels_on_it in enumerate(placed, start=1)
    ]


def _cut_lines(grid: Grid) -> str:
    """Dashed lines to cut along, once each, with scissors at the left of every line across."""
    w, h = grid.cell_width_mm, grid.cell_height_mm
    boxes = []
    if grid.gap_x_mm or grid.gap_y_mm:
        for index in range(grid.per_page):
            x, y = grid.corner(index)
            boxes.append(f"M{mm(x)} {mm(y)}h{mm(w)}v{mm(h)}h-{mm(w)}z")
    else:
        left, top = grid.margin_left_mm, grid.margin_top_mm
        right, bottom = left + w * grid.columns, top + h * grid.rows
        boxes += [f"M{mm(left)} {mm(top + h * row)}H{mm(right)}" for row in range(grid.rows + 1)]
        boxes += [f"M{mm(left + w * column)} {mm(top)}V{mm(bottom)}" for column in range(grid.columns + 1)]
    scissors = ""
    if h >= 25:
        for row in range(grid.rows):
            x, y = grid.corner(row * grid.columns)
            scissors += f'<rect x="{mm(x + 6)}" y="{mm(y - 1)}" width="4.5" height="2" fill="#fff"/>'
            scissors += sign_at("scissors", x + 6, y - 2.25, 4.5, 1.25)
    dashes = 'fill="none" stroke="#555" stroke-width=".3" stroke-dasharray="1.2 1"'
    return f'<path d="{"".join(boxes)}" {dashes}/>{scissors}'


def _slip(slip: Slip, grid: Grid) -> str:
    w, h = grid.cell_width_mm, grid.cell_height_mm
    pad = min(5.0, w * 0.055, h * 0.09)
    inner = w - 2 * pad
    ticks = 12.5 if h >= 54 and inner >= 72 else 9.0 if h >= 46 and inner >= 56 else 0.0
    name_size = min(4.4, max(h * 0.085, 2.4))
    detail_size = min(3.2, h * 0.06) if h >= 30 else 0.0
    words_high = name_size * 1.25 + (detail_size * 1.45 if detail_size else 0)
    room_high = h - 2 * pad - words_high - (ticks + 1.5 if ticks else 0)
    units = max(mark_width(slip.mark.strip()), 60) + 14
    beside = min(room_high, inner * 0.4, 34.0)
    below = min(inner, room_high * 0.55, 45.0)
    gap = min(3.0, w * 0.02)
    scale_beside = min((inner - beside - gap) / units, room_high / 148)
    scale_below = min(inner / units, (room_high - below - gap) / 148)
    parts = []
    if scale_below > scale_beside and below >= beside * 0.8:
        mark_high = room_high - below - gap
        parts.append(mark_at(slip.mark, pad, pad, inner, mark_high))
        parts.append(code_at(slip.url, pad + (inner - below) / 2, pad + mark_high + gap, below))
    else:
        parts.append(mark_at(slip.mark, pad, pad, inner - beside - gap, room_high))
        parts.append(code_at(slip.url, w - pad - beside, pad + (room_high - beside) / 2, beside))
    y = pad + room_high + name_size
    head = ", ".join(filter(None, [slip.form, slip.name])) if detail_size else slip.name or slip.form
    parts.append(line_at(head, pad, y, inner, name_size, voice=True))
    if detail_size:
        parts.append(line_at(slip.detail, pad, y + detail_size * 1.4, inner, detail_size))
    if ticks:
        parts.append(_tick_row(pad, h - pad - ticks, inner, ticks))
    return "".join(parts)


def _tick_row(x: float, y: float, width: float, height: float) -> str:
    step = width / len(TICKS)
    size = min(2.3, step * 0.22, height * 0.19)
    side = min(6.0, step * 0.75, height - size - 2)
    parts = [
        f'<rect x="{mm(x)}" y="{mm(y)}" width="{mm(width)}" height="{mm(height)}" fill="none" stroke="#000" '
        'stroke-width=".25"/>'
    ]
    for index, (sign, word) in enumerate(TICKS):
        middle = x + step * (index + 0.5)
        if index:
            edge = x + step * index
            parts.append(f'<path d="M{mm(edge)} {mm(y)}v{mm(height)}" stroke="#999" stroke-width=".25"/>')
        parts.append(sign_at(sign, middle - side / 2, y + 0.8, side))
        parts.append(
            f'<text x="{mm(middle)}" y="{mm(y + height - 1)}" font-size="{mm(size)}" text-anchor="middle" '
            f'fill="#000">{word}</text>'
        )
    return "".join(parts)


def _tag(tag: ShelfTag, grid: Grid) -> str:
    w, h = grid.cell_width_mm, grid.cell_height_mm
    pad = min(5.0, w * 0.04, h * 0.08)
    stacked = h > w * 1.1
    if stacked:
        side = min(w - 2 * pad, (h - 2 * pad) * 0.62)
        x, y, room, high = pad, pad + side, w - 2 * pad, h - 2 * pad - side
        code = code_at(tag.url, (w - side) / 2, pad, side)
        sign = ""
    else:
        side = min(h - 2 * pad, (w - 2 * pad) * 0.42)
        code = code_at(tag.url, pad, (h - side) / 2, side)
        x, y, high = pad + side + pad, pad, h - 2 * pad
        sign_side = min(24.0, h * 0.5) if w >= 120 else 0.0
        room = w - x - pad - (sign_side + pad if sign_side else 0)
        sign = (
            sign_at(tag.sign, w - pad - sign_side, (h - sign_side) / 2, sign_side, 1.25) if sign_side else ""
        )
    biggest = min(13.4, high * 0.3)
    lines, size = broken(tag.name, room, biggest)
    line_size = min(4.2, max(high * 0.09, 2.2))
    more = wrapped(tag.line, room, line_size, most=3 if high > 30 else 1) if tag.line and high >= 16 else []
    tall = len(lines) * size * 1.1 + len(more) * line_size * 1.3
    at = y + max((high - tall) / 2, 0)
    parts = [code, sign]
    for text in lines:
        at += size * 1.1
        parts.append(line_at(text, x, at - size * 0.2, room, size, voice=True))
    for text in more:
        at += line_size * 1.3
        parts.append(line_at(text, x, at, room, line_size))
    return "".join(parts)
