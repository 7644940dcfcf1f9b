"""Deadlines counted in classes attended: a week away from the studio does not count against anybody."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class ClassDeadline:
    """``attended`` classes since the piece came to be ready, or could be glazed, of the ``within`` it has."""

    attended: int
    within: int

    @property
    def left(self) -> int:
        """Classes left, 0 once the last one has begun."""
        return max(0, self.within - self.attended)

    @property
    def passed(self) -> bool:
        return self.attended >= self.within

    @property
    def is_last(self) -> bool:
        """The next class is the last one in time."""
        return self.left == 1


def attended_since(starts: Sequence[datetime], moment: datetime) -> int:
    """How many of these meetings began at or after a moment. ``starts`` are in order, the earliest first."""
    return len(starts) - bisect_left(starts, moment)
