"""A programme's estimate as a picture, and what the page says with it."""

from __future__ import annotations

from dataclasses import dataclass

from studio.domain.programme import QUARTZ_BAND_C, STEAM_C
from studio.domain.say import figure, later, say
from studio.imaging import hour_curves
from studio.queries.programme_estimates import Estimate
from studio.templatetags.studio_format import hours_minutes

#: Where care is needed on the way.
CARE = (
    hour_curves.Band(*STEAM_C, later("steam")),
    hour_curves.Band(*QUARTZ_BAND_C, later("quartz, 573 °C")),
)


@dataclass(frozen=True, slots=True)
class Picture:
    """A plot and the rows that say the same: (hours, [°C]) at even hours."""

    plot: hour_curves.HourPlot
    rows: list[tuple[float, list[float | None]]]


def hours_of(points: tuple[tuple[float, float], ...]) -> list[tuple[float, float]]:
    """(minutes, °C) as (hours, °C)."""
    return [(minutes / 60, celsius) for minutes, celsius in points]


def picture_of(estimate: Estimate) -> Picture | None:
    """The planned curve with its top named; None without a curve."""
    curve = estimate.curve
    if curve is None:
        return None
    points = hours_of(curve.points)
    top_h, top_c = max(points, key=lambda point: point[1])
    drawn = hour_curves.HourCurve(points, "plan")
    plot = hour_curves.HourPlot(
        curves=[drawn],
        summary=words_of(estimate),
        bands=CARE,
        marks=[
            hour_curves.Mark(
                top_h,
                top_c,
                f"{top_c:.0f} °C",
                say("after {hours_minutes}", hours_minutes=hours_minutes(top_h * 60)),
            )
        ],
    )
    return Picture(plot, hour_curves.table_rows([drawn]))


def words_of(estimate: Estimate) -> str:
    """``12 h 40 min, 1222 °C at the top, reaching cone 6.``"""
    curve = estimate.curve
    if curve is None:
        return estimate.trouble
    return say(
        "{hours_minutes}, {top_c} °C at the top, reaching {cone_words}.",
        hours_minutes=hours_minutes(curve.duration_min),
        top_c=figure(curve.top_c, ".0f"),
        cone_words=estimate.cone_words,
    )
