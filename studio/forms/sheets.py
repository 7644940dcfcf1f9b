"""The grid of a printed sheet as the user sets it, and how a browser remembers it."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.say import later
from studio.imaging.grids import Grid, grid_problems

#: Names of the grid's numbers in the order in which the cookie holds them.
NUMBERS = (
    *("rows", "columns", "margin_top_mm", "margin_bottom_mm", "margin_left_mm", "margin_right_mm"),
    *("gap_x_mm", "gap_y_mm"),
)
_LABELS = {
    "rows": later("Rows"),
    "columns": later("Columns"),
    "margin_top_mm": later("Top, mm"),
    "margin_bottom_mm": later("Bottom, mm"),
    "margin_left_mm": later("Left, mm"),
    "margin_right_mm": later("Right, mm"),
    "gap_x_mm": later("Gap across, mm"),
    "gap_y_mm": later("Gap down, mm"),
}
_WHOLE = {"rows", "columns"}


def grid_from_cookie(text: str, usual: Grid) -> Grid:
    """The remembered grid; the usual one for anything that is no grid which can be printed."""
    parts = text.split("_")
    if len(parts) != len(NUMBERS):
        return usual
    try:
        numbers = {
            name: int(part) if name in _WHOLE else round(float(part), 1)
            for name, part in zip(NUMBERS, parts, strict=True)
        }
        grid = Grid(**numbers)
        return usual if grid_problems(grid) else grid
    except (ValueError, OverflowError, ZeroDivisionError):
        return usual


def grid_for_cookie(grid: Grid) -> str:
    return "_".join(f"{getattr(grid, name):g}" for name in NUMBERS)


class GridForm(forms.Form):
    """``grid()`` is the grid asked for; a number left out keeps what was remembered."""

    skip = forms.IntegerField(
        label=later("Labels used already"),
        help_text=later("On the first sheet, to begin after them."),
        required=False,
        min_value=0,
        max_value=151,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    def __init__(self, *args: Any, remembered: Grid, **named: Any) -> None:
        super().__init__(*args, **named)
        self.remembered = remembered
        for name in NUMBERS:
            value = getattr(remembered, name)
            if name in _WHOLE:
                field: forms.Field = forms.IntegerField(
                    widget=forms.NumberInput(attrs={"inputmode": "numeric"})
                )
            else:
                widget = forms.NumberInput(attrs={"inputmode": "decimal", "step": "0.1"})
                field = forms.FloatField(widget=widget)
            field.label, field.required, field.initial = _LABELS[name], False, f"{value:g}"
            self.fields[name] = field

    @property
    def shape(self) -> list[forms.BoundField]:
        return [self["rows"], self["columns"], self["skip"]]

    @property
    def edges(self) -> list[forms.BoundField]:
        return [self[name] for name in NUMBERS[2:]]

    def grid(self) -> Grid:
        data = self.cleaned_data
        return Grid(
            **{
                name: getattr(self.remembered, name) if data.get(name) is None else data[name]
                for name in NUMBERS
            }
        )

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors:
            for problem in grid_problems(self.grid()):
                self.add_error(None, problem.message)
        return data
