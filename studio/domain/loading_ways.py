"""Ways to fill a kiln, for the tutor to compare: what counts for more in each.

Own defaults, no source. Each way is the same search with other weights; none breaks a rule of loading.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .loading_shapes import Item
from .loading_value import Weights
from .say import later


@dataclass(frozen=True, slots=True)
class Way:
    """``name`` and ``says`` are for people: what it is called and what counts in it."""

    key: str
    name: str
    says: str
    weights: Weights


OLDEST = Way(
    "oldest",
    later("Oldest first"),
    later("What has waited longest goes in before anything else. Due dates count too."),
    Weights(each=1, waited_day=2, due_day=3, course_day=0.5, litre=0.5),
)
FULLEST = Way(
    "fullest",
    later("Fullest"),
    later("As much ware as the kiln takes, however long it has waited."),
    Weights(each=0, waited_day=0, due_day=0, course_day=0, litre=1),
)
COURSE = Way(
    "course",
    later("End of course first"),
    later("Work from classes that end soon goes in first, and what is due."),
    Weights(each=1, waited_day=0.2, due_day=3, course_day=8, litre=0.5),
)
WAYS = {way.key: way for way in (OLDEST, FULLEST, COURSE)}


def ways_for(items: Iterable[Item]) -> list[Way]:
    """The ways that differ for these pieces: the end of a course counts only where one is near."""
    soon = COURSE.weights.soon_days
    near = any(i.course_ends_in_days is not None and i.course_ends_in_days < soon for i in items)
    return [OLDEST, FULLEST, COURSE] if near else [OLDEST, FULLEST]
