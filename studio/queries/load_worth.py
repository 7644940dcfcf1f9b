"""What a load is worth by who has waited longest, what is due and which course ends, against a bound."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import reduce

from studio.domain.loading import Item, Weights
from studio.domain.loading_layers import Furnisher
from studio.domain.loading_plan import value_bound
from studio.models import Piece, Studio

from .loads import Plan
from .loads_waiting import Waiting, items_for_planning
from .notices import studio_day


@dataclass(frozen=True, slots=True)
class Worth:
    """Points of a load, and points that no load of the pieces in it and of those that wait could pass."""

    points: int
    bound: int
    pieces: int
    could: int

    @property
    def share(self) -> float:
        """How much of the bound is reached, 0 to 1."""
        return min(1.0, self.points / self.bound) if self.bound else 0.0


def worth_of(plan: Plan, waiting: Iterable[Waiting], *, now: datetime, studio: Studio) -> Worth:
    """One query, however much is in it; ``waiting`` are the rows of `waiting_for_firing`."""
    weights = Weights()
    inside = _items_inside(plan, now, studio_day(now, studio))
    outside = items_for_planning(waiting, firing=plan.firing, now=now, studio=studio)
    load = plan.load
    bound = value_bound(
        items=[*inside, *outside],
        furnisher=Furnisher(load.chamber, load.stock, load.clearances),
        weights=weights,
        stacked=False,
    )
    points = reduce(lambda total, item: total + weights.of(item), inside, 0.0)
    return Worth(round(points), round(max(bound, points)), len(inside), len(inside) + len(outside))


def _items_inside(plan: Plan, now: datetime, day: date) -> list[Item]:
    """The placed pieces with what makes them worth their place."""
    rows = Piece.objects.filter(pk__in=[place.piece_id for place in plan.placements])
    ends = dict(rows.values_list("pk", "session__course__ends_on"))
    return [
        replace(
            plan.items[place.piece.mark],
            waited_days=max(0, (now - place.piece.stage_since).days),
            due_in_days=(place.piece.due_on - day).days if place.piece.due_on else None,
            course_ends_in_days=(ends[place.piece_id] - day).days if ends[place.piece_id] else None,
        )
        for place in plan.placements
    ]
