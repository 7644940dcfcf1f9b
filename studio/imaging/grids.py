"""The grid of a printed sheet, in millimetres, as the user sets it."""

from __future__ import annotations

from dataclasses import dataclass

from studio.domain.problems import Problem
from studio.domain.say import figure, say

A4_WIDTH_MM, A4_HEIGHT_MM = 210.0, 297.0
#: Below this a label has no room for a mark that is read at arm's length and a code that scans.
SMALLEST_WIDTH_MM, SMALLEST_HEIGHT_MM = 25.0, 15.0
_MOST_ROWS, _MOST_COLUMNS, _WIDEST_MM = 19, 8, 60.0


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows × columns of equal labels on a page, with margins around and gaps between, all in mm."""

    rows: int = 4
    columns: int = 2
    margin_top_mm: float = 8.0
    margin_bottom_mm: float = 8.0
    margin_left_mm: float = 8.0
    margin_right_mm: float = 8.0
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0
    page_width_mm: float = A4_WIDTH_MM
    page_height_mm: float = A4_HEIGHT_MM

    @property
    def cell_width_mm(self) -> float:
        room = self.page_width_mm - self.margin_left_mm - self.margin_right_mm
        return (room - self.gap_x_mm * (self.columns - 1)) / self.columns

    @property
    def cell_height_mm(self) -> float:
        room = self.page_height_mm - self.margin_top_mm - self.margin_bottom_mm
        return (room - self.gap_y_mm * (self.rows - 1)) / self.rows

    @property
    def per_page(self) -> int:
        return self.rows * self.columns

    def corner(self, index: int) -> tuple[float, float]:
        """Left and top of label ``index`` of a page, counted along the rows, in mm."""
        row, column = divmod(index % self.per_page, self.columns)
        return (
            self.margin_left_mm + column * (self.cell_width_mm + self.gap_x_mm),
            self.margin_top_mm + row * (self.cell_height_mm + self.gap_y_mm),
        )


def grid_problems(grid: Grid) -> list[Problem]:
    """Why nothing can be printed on this grid; empty when it can."""
    found: list[Problem] = []
    if not 1 <= grid.rows <= _MOST_ROWS:
        found.append(
            Problem(
                "rows", say("A sheet has between 1 and {most_rows} rows of labels.", most_rows=_MOST_ROWS)
            )
        )
    if not 1 <= grid.columns <= _MOST_COLUMNS:
        found.append(
            Problem(
                "columns",
                say(
                    "A sheet has between 1 and {most_columns} columns of labels.", most_columns=_MOST_COLUMNS
                ),
            )
        )
    lengths = {
        say("top margin"): grid.margin_top_mm,
        say("bottom margin"): grid.margin_bottom_mm,
        say("left margin"): grid.margin_left_mm,
        say("right margin"): grid.margin_right_mm,
        say("gap across"): grid.gap_x_mm,
        say("gap down"): grid.gap_y_mm,
    }
    for name, length in lengths.items():
        if not 0 <= length <= _WIDEST_MM:
            found.append(
                Problem(
                    "margin",
                    say(
                        "The {name} must be between 0 and {widest_mm} mm.",
                        name=name,
                        widest_mm=figure(_WIDEST_MM, ".0f"),
                    ),
                )
            )
    if found:
        return found
    for what, many, size, least in (
        ("column", grid.columns, grid.cell_width_mm, SMALLEST_WIDTH_MM),
        ("row", grid.rows, grid.cell_height_mm, SMALLEST_HEIGHT_MM),
    ):
        if size < least:
            said = (
                say("{many_} {what}s leave", many_=many, what=what)
                if many > 1
                else say("One {what} leaves", what=what)
            )
            side = say("wide") if what == "column" else say("high")
            left = (
                say("labels {max} mm {side}", max=figure(max(size, 0), ".0f"), side=side)
                if size > 0
                else say("no room for labels")
            )
            fewer = say("fewer {what}s, or ", what=what) if many > 1 else ""
            found.append(
                Problem(
                    "too-small",
                    say(
                        "{said} {left}; the mark and the code need {least} mm. Use {fewer}smaller margins "
                        "and gaps.",
                        said=said,
                        left=left,
                        least=figure(least, ".0f"),
                        fewer=fewer,
                    ),
                )
            )
    return found
