"""The curve that a firing was asked for: out of the copy of its programme that it keeps."""

from __future__ import annotations

from studio.domain.problems import DomainError
from studio.domain.programme import PlannedCurve, Segment, plan
from studio.models import Firing


def planned_curve_of(firing: Firing) -> PlannedCurve | None:
    """Minutes from the lighting and °C; None without a programme, or where its rates are not known."""
    kept = (firing.programme_as_fired or {}).get("segments") or []
    try:
        return plan(segments=[Segment(rate, target, hold) for rate, target, hold in kept]) if kept else None
    except DomainError:
        return None
