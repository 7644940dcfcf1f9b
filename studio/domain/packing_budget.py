"""How much a search may do: a count of steps from a number of seconds, with a stopwatch behind it.

Counting steps makes a search give the same answer for the same seed on a fast and on a slow machine. The
stopwatch cuts in only where a machine is much slower than the one the steps were measured on.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from .problems import DomainError
from .say import say

#: One step is about a microsecond of plain Python on a small computer; a search plans for this share of its
#: time.
STEPS_PER_SECOND = 800_000


class Budget:
    """Steps left to a search. ``cut_short`` says whether the stopwatch ended it before its steps were used
    up."""

    def __init__(self, seconds: float, clock: Callable[[], float] | None = None) -> None:
        if not (math.isfinite(seconds) and 0 <= seconds <= 3600):
            raise DomainError(say("The time to search must be from 0 to 3600 seconds."))
        self.left = int(seconds * STEPS_PER_SECOND)
        self.total = self.left
        self.cut_short = False
        self._clock = clock
        self._until = clock() + seconds if clock else 0.0

    def spend(self, steps: int) -> bool:
        """Use up steps; True while any are left."""
        self.left -= steps
        if self.left > 0 and self._clock and self._clock() >= self._until:
            self.left = 0
            self.cut_short = True
        return self.left > 0

    def share(self, part: float) -> Budget:
        """A budget with a part of what is left; settle it with :meth:`settle`."""
        other = Budget.__new__(Budget)
        other.left = other.total = int(self.left * part)
        other.cut_short, other._clock, other._until = False, self._clock, self._until
        return other

    def settle(self, other: Budget) -> None:
        """Take off what a share has used."""
        self.left -= other.total - max(other.left, 0)
        self.cut_short = self.cut_short or other.cut_short
