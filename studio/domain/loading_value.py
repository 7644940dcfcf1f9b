"""What a place in the next load is worth to a piece: its wait, its due date, the end of its course, its
size."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .loading_shapes import Item
from .problems import DomainError
from .say import say


@dataclass(frozen=True)
class Weights:
    """Points for a piece. Own defaults, no source; the tutor can change them.

    A point for each day waited (up to ``most_days``); for a due date and for the end of a course as many days
    as it is nearer than ``soon_days``, or past, times the weight; a point for each litre of its box or
    cylinder; and ``each`` for any piece, so that none is worth nothing.
    """

    each: float = 1
    waited_day: float = 1
    due_day: float = 3
    course_day: float = 2
    litre: float = 1
    soon_days: float = 14
    most_days: float = 60

    def __post_init__(self) -> None:
        values = (
            self.each,
            self.waited_day,
            self.due_day,
            self.course_day,
            self.litre,
            self.soon_days,
            self.most_days,
        )
        if not all(math.isfinite(v) and v >= 0 for v in values):
            raise DomainError(say("A weight must be 0 or more."))

    def of(self, item: Item) -> float:
        """Points of a piece, at least ``each``."""
        return (
            self.each
            + self.waited_day * min(max(item.waited_days, 0.0), self.most_days)
            + self.due_day * self._nearness(item.due_in_days)
            + self.course_day * self._nearness(item.course_ends_in_days)
            + self.litre * item.volume_mm3 / 1e6
        )

    def _nearness(self, days: float | None) -> float:
        if days is None:
            return 0.0
        return min(max(self.soon_days - days, 0.0), self.most_days)
