"""Cones and cooling: against numerical quadrature by scipy and against exact solutions."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import exp, log

from scipy import integrate

from studio.domain import cooling, heatwork

from .row import Row, in_words, seconds

LIT = datetime(2025, 5, 1, 8, 0, tzinfo=UTC)


def _ramp(rate: float, top: float, every_min: float = 5.0) -> list[tuple[datetime, float]]:
    hours = (top - 20) / rate
    points = [
        (i * every_min / 60, 20 + rate * i * every_min / 60) for i in range(int(hours * 60 / every_min) + 1)
    ]
    return [(LIT + timedelta(hours=h), c) for h, c in [*points, (hours, top)]]


def _worst_cell() -> float:
    return max(
        abs(reached.above_c or 0.0) if reached.likely == cone else 99.0
        for cone, row in heatwork.TABLE.items()
        for rate, celsius in zip(heatwork.COLUMNS_C_PER_H, row, strict=True)
        if celsius is not None
        for reached in [heatwork.cone_reached(readings=_ramp(rate, celsius))]
    )


def _worst_pair() -> float:
    """Furthest that one Arrhenius pair lies from a cell, °C, by scipy's quadrature."""
    worst = 0.0
    for cone, row in heatwork.TABLE.items():
        q, log_w = heatwork.arrhenius_pair(cone)
        for rate, celsius in zip(heatwork.COLUMNS_C_PER_H, row, strict=True):
            if celsius is not None:
                top = celsius + 273.15
                work, _ = integrate.quad(lambda t, q=q, top=top: exp(q / top - q / t), top - 400, top)
                worst = max(worst, abs((log(work / rate) - q / top - log_w) * top**2 / q))
    return worst


def rows() -> list[Row]:
    cell, pair = _worst_cell(), _worst_pair()
    many = _ramp(60, 1222, every_min=0.06)
    cone = seconds(lambda: heatwork.cone_reached(readings=many), runs=3)
    curve = [(LIT + timedelta(minutes=5 * i), 20 + 1180 * exp(-0.12 * i / 12)) for i in range(250)]
    exact = log(1180 / 30) / 0.12
    estimate = cooling.reached_at(readings=curve, target_c=50)
    off = abs((estimate.likely - LIT).total_seconds() / 3600 - exact)
    asked = seconds(lambda: cooling.reached_at(readings=curve, target_c=50))
    return [
        Row(
            "heatwork",
            "furthest from a cell, logged ramps",
            f"{cell:.2f} °C",
            "chart",
            goal="4 °C",
            met=cell <= 4,
        ),
        Row(
            "heatwork",
            "furthest from a cell, one pair",
            f"{pair:.2f} °C",
            "scipy",
            goal="4 °C",
            met=pair <= 4,
        ),
        Row("heatwork", f"cone of {len(many):,} readings", in_words(cone), goal="under 1 s", met=cone < 1),
        Row(
            "cooling",
            "Newton's law, off the exact time",
            f"{off * 60:.2f} min",
            f"{exact:.2f} h",
            goal="1 min",
            met=off < 1 / 60,
        ),
        Row("cooling", "an estimate from 250 readings", in_words(asked), goal="under 0.2 s", met=asked < 0.2),
    ]
