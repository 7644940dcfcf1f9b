"""When the next firings of a kiln may be lit, from the days on which it was lit before: ranges, no promises.

The time from one lighting to the next is drawn many times from the kiln's own record; the n-th firing from
now comes after n such times. The range runs from the tenth to the ninetieth of a hundred draws (the plain
bootstrap: Efron and Tibshirani, "An Introduction to the Bootstrap", 1993, from memory). Days of the week on
which the kiln has never been lit are passed over.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import exp, log
from random import Random

from .problems import DomainError
from .say import say

DRAWS = 400
#: With fewer times between firings on record a usual one is taken, and that is said.
FEW_GAPS = 3
#: With fewer lightings on record nothing is said about the days of the week.
FEW_LIGHTINGS = 6
#: Older ones say little about how the studio works now.
_LATEST = 30
#: A kiln is not fired, cooled and loaded again in less (common practice, no source).
SHORTEST_H = 36.0
#: Where the record says nothing: a firing every three days to every ten days (common practice, no source).
USUAL_H = (72.0, 240.0)


@dataclass(frozen=True, slots=True)
class DateRange:
    """The n-th firing from now: eight in ten such ranges are meant to hold it."""

    earliest: datetime
    likely: datetime
    latest: datetime


def next_firings(
    *,
    lit: Sequence[datetime],
    count: int,
    now: datetime,
    random: Random,
    not_before: datetime | None = None,
) -> list[DateRange]:
    """Ranges for the next ``count`` firings of a kiln that was ``lit`` at these times (aware, any order).

    ``not_before``: firings on the calendar come first; the next is counted from the last of them. The same
    state of ``random`` gives the same ranges. Raises DomainError for times without a zone or from the future.
    """
    if now.tzinfo is None or any(moment.tzinfo is None for moment in lit):
        raise DomainError(say("The times need their time zone."), code="naive-time")
    if any(moment > now for moment in lit):
        raise DomainError(say("A firing can't have been lit in the future."), code="future")
    past = sorted(lit)[-_LATEST - 1 :]
    gaps = gaps_h(past)
    days = {moment.astimezone(now.tzinfo).weekday() for moment in past}
    open_days = days if len(past) >= FEW_LIGHTINGS else set(range(7))
    since_h = (now - past[-1]).total_seconds() / 3600 if past else None
    ahead_h = max(0.0, (not_before - now).total_seconds() / 3600) if not_before else None
    ways: list[list[float]] = []
    for _ in range(DRAWS):
        if ahead_h is not None:
            at = ahead_h + _gap(gaps, random)
        elif since_h is not None:
            at = _remaining(gaps, since_h, random)
        else:
            # Nothing says when the last one was: somewhere within a gap.
            at = random.random() * _gap(gaps, random)
        way = [at]
        for _ in range(count - 1):
            at += _gap(gaps, random)
            way.append(at)
        ways.append(way)

    def when(hours: float) -> datetime:
        return _on_open_day(now + timedelta(hours=hours), open_days)

    found = []
    for number in range(count):
        drawn = sorted(way[number] for way in ways)
        found.append(DateRange(*(when(drawn[int(share * (DRAWS - 1))]) for share in (0.1, 0.5, 0.9))))
    return found


def gaps_h(lit: Sequence[datetime]) -> list[float]:
    """Hours from one lighting to the next."""
    past = sorted(lit)
    return [max(SHORTEST_H, (later - earlier).total_seconds() / 3600) for earlier, later in pairwise(past)]


def _gap(gaps: Sequence[float], random: Random) -> float:
    if len(gaps) >= FEW_GAPS:
        return random.choice(gaps)
    low, high = (log(hours) for hours in USUAL_H)
    return exp(random.uniform(low, high))


def _remaining(gaps: Sequence[float], since_h: float, random: Random) -> float:
    """What is left of the gap that has lasted for so long already."""
    for _ in range(30):
        gap = _gap(gaps, random)
        if gap > since_h:
            return gap - since_h
    # It has been out of use for longer than ever: it begins again whenever it does.
    return random.random() * _gap(gaps, random)


def _on_open_day(at: datetime, days: Collection[int]) -> datetime:
    for _ in range(7):
        if at.weekday() in days:
            return at
        at += timedelta(days=1)
    return at
