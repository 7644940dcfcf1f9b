"""A fire while it burns: what its readings say now, beside its plan and earlier firings of its kind."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise

from django.db.models import Q

from studio.domain import heatwork
from studio.domain.alarms import Watched
from studio.domain.fire_rates import TimeLeft, behind_plan, rate_of_last_hour, rate_of_last_hundred, time_left
from studio.domain.heatwork import ConeReached
from studio.domain.problems import DomainError
from studio.domain.programme import PlannedCurve
from studio.domain.stages import FiringKind, Route
from studio.models import Firing, FiringAlarm

from .programmes import curve_of as planned_curve_of
from .readings import curve_of

#: A burning kiln not heard from for so long is said to be so.
STALE_AFTER = timedelta(minutes=10)
#: Charts end at this rate: the warmest that a cone's temperature is taken to be.
_FAST_C_PER_H = 150
#: How many earlier firings the time left is judged by.
_EARLIER = 3
_CONE_FROM_C = 500


@dataclass(frozen=True, slots=True)
class Live:
    """A fire at ``now``. None where something can't be told yet. ``readings`` are (time, °C), thinned."""

    firing: Firing
    now: datetime
    readings: list[tuple[datetime, float]]
    plan: PlannedCurve | None
    rate_hour: float | None
    rate_hundred: float | None
    cone: ConeReached | None
    left: TimeLeft | None
    behind: timedelta | None
    alarms: list[FiringAlarm] = field(default_factory=list)

    @property
    def last(self) -> tuple[datetime, float] | None:
        return self.readings[-1] if self.readings else None

    @property
    def top(self) -> tuple[datetime, float] | None:
        return max(self.readings, key=lambda reading: reading[1], default=None)

    @property
    def heard_ago(self) -> timedelta | None:
        return self.now - self.readings[-1][0] if self.readings else None

    @property
    def is_stale(self) -> bool:
        """It burns, and the last reading is old."""
        ago = self.heard_ago
        return self.firing.state == Firing.State.FIRING and (ago is None or ago > STALE_AFTER)


def live(firing: Firing, now: datetime) -> Live:
    """What the page of a fire says while it burns or cools. A fixed few queries."""
    readings = curve_of(firing)
    plan = planned_curve_of(firing)
    burns = firing.state == Firing.State.FIRING
    left = behind = None
    if burns and readings:
        earlier = [] if plan else earlier_curves(firing)
        left = time_left(
            readings=readings, lit_at=firing.lit_at, plan=plan, earlier=earlier, top_c=_cone_c(firing, 60)
        )
        behind = behind_plan(readings, plan, firing.lit_at) if plan else None
    return Live(
        firing=firing,
        now=now,
        readings=readings,
        plan=plan,
        rate_hour=rate_of_last_hour(readings),
        rate_hundred=rate_of_last_hundred(readings),
        cone=cone_so_far(readings),
        left=left,
        behind=behind,
        alarms=list(firing.alarms.filter(cleared_at__isnull=True).order_by("began_at", "id")),
    )


def cone_so_far(readings: list[tuple[datetime, float]]) -> ConeReached | None:
    """The cone that the readings so far have brought down; None while it is too cool for any."""
    if len(readings) < 3 or max(celsius for _, celsius in readings) < _CONE_FROM_C:
        return None
    try:
        return heatwork.cone_reached(readings=readings)
    except DomainError:
        return None


def watched(firing: Firing) -> Watched:
    """What is looked at for alarms."""
    plan = planned_curve_of(firing)
    return Watched(
        lit_at=firing.lit_at,
        readings=curve_of(firing),
        top_c=top_of(firing, plan),
        greenware=has_greenware(firing),
        plan=plan,
    )


def top_of(firing: Firing, plan: PlannedCurve | None) -> float:
    """The hottest this fire should get, °C: its programme's top, else its cone's at a fast rate; and never
    more than the kiln is made for."""
    most = heatwork.temperature_for(cone=firing.kiln.highest_cone, rate_c_per_h=_FAST_C_PER_H)
    return min(plan.top_c if plan else _cone_c(firing, _FAST_C_PER_H), most)


def has_greenware(firing: Firing) -> bool:
    """Whether anything raw is in it: a bisque load, or single-fired ware."""
    if firing.kind == FiringKind.BISQUE:
        return True
    raw = Q(piece__route=Route.SINGLE_FIRED) & ~Q(piece__events__firing__kind=FiringKind.BISQUE)
    return firing.placements.filter(raw, taken_out_at__isnull=True).exists()


def earlier_curves(firing: Firing) -> list[list[tuple[float, float]]]:
    """The last few firings of this kind and cone in this kiln: (hours from the lighting, °C) to the end."""
    same = Firing.objects.filter(
        kiln=firing.kiln_id, kind=firing.kind, cone=firing.cone, lit_at__isnull=False, ended_at__isnull=False
    )
    found = []
    for earlier in same.exclude(pk=firing.pk).order_by("-lit_at")[:_EARLIER]:
        hours = [
            ((at - earlier.lit_at) / timedelta(hours=1), celsius)
            for at, celsius in curve_of(earlier, all_up_to=400, stretches=100)
            if at <= earlier.ended_at
        ]
        if len(hours) < 3 or max(after - before for (before, _), (after, _) in pairwise(hours)) > 4:
            continue
        end = (earlier.ended_at - earlier.lit_at) / timedelta(hours=1)
        found.append([*hours, (end, hours[-1][1])])
    return found


def _cone_c(firing: Firing, rate_c_per_h: float) -> float:
    return heatwork.temperature_for(cone=firing.cone, rate_c_per_h=rate_c_per_h)
