"""A page to check a printer with before labels are spent: rulers, the user's grid and a code to scan."""

from __future__ import annotations

from studio.domain.say import figure, say

from .grids import Grid
from .sheet_parts import code_at, mm, page, refuse
from .svg_text import words


def printer_test_page(grid: Grid | None = None, *, url: str = "") -> str:
    """A page to check a printer with: two rulers of 100 mm, the grid with its sizes, and a code to scan."""
    grid = grid or Grid()
    refuse(grid)
    cells = []
    for index in range(grid.per_page):
        x, y = grid.corner(index)
        w, h = grid.cell_width_mm, grid.cell_height_mm
        size = min(3.2, h * 0.2, w * 0.09)
        label = say("{index}: {w} × {h} mm", index=index + 1, w=figure(w, ".1f"), h=figure(h, ".1f"))
        cells.append(
            f'<rect x="{mm(x)}" y="{mm(y)}" width="{mm(w)}" height="{mm(h)}" fill="none" stroke="#777" '
            'stroke-width=".2" stroke-dasharray="1 1"/>'
            f'<text x="{mm(x + 1.5)}" y="{mm(y + h - 1.5)}" font-size="{mm(size)}" fill="#555">{label}</text>'
        )
    middle_x, middle_y = grid.page_width_mm / 2, grid.page_height_mm / 2
    lines = (
        say("Print this page at 100 %, “actual size”, on the paper you will use."),
        say("Measure both rulers: each must be 100 mm long. If one is shorter, the printer makes the page"),
        say("smaller to fit: choose “actual size” in its settings and print again."),
        say(
            "Then hold the page over a sheet of labels against the light: the dashed boxes must lie on them."
        ),
    )
    text = "".join(
        f'<text x="{mm(middle_x - 62)}" y="{mm(middle_y - 42 + 5 * row)}" font-size="3.3" fill="#000">'
        f"{words(line)}</text>"
        for row, line in enumerate(lines)
    )
    ground = (
        f'<rect x="{mm(middle_x - 66)}" y="{mm(middle_y - 50)}" width="132" height="134" fill="#fff" '
        'fill-opacity=".9"/>'
    )
    code = code_at(url, middle_x - 12, middle_y + 10, 40) if url else ""
    rulers = _ruler(middle_x - 50, middle_y - 18, across=True) + _ruler(
        middle_x - 50, middle_y - 18, across=False
    )
    return page(grid, "".join(cells) + ground + text + rulers + code, say("Test page for the printer"))


def _ruler(x: float, y: float, *, across: bool) -> str:
    """100 mm with a line for each: long at tens, labelled; longer at fives."""
    marks = []
    labels = []
    for step in range(101):
        long = 5 if step % 10 == 0 else 3.5 if step % 5 == 0 else 2
        at = x + step if across else y + step
        marks.append(f"M{mm(at)} {mm(y)}v-{long}" if across else f"M{mm(x)} {mm(at)}h-{long}")
        if step % 10 == 0:
            place = (
                f'x="{mm(at)}" y="{mm(y - 6)}" text-anchor="middle"'
                if across
                else f'x="{mm(x - 6)}" y="{mm(at + 1)}" text-anchor="end"'
            )
            labels.append(f'<text {place} font-size="2.8" fill="#000">{step}</text>')
    base = f"M{mm(x)} {mm(y)}h100" if across else f"M{mm(x)} {mm(y)}v100"
    return f'<path d="{base}{"".join(marks)}" fill="none" stroke="#000" stroke-width=".2"/>{"".join(labels)}'
