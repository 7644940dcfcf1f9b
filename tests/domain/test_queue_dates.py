"""When the queue's firings may be lit. The checks are arithmetic on invented records; no outside source."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from studio.domain.problems import DomainError
from studio.domain.queue_dates import SHORTEST_H, gaps_h, next_firings

NOW = datetime(2025, 11, 18, 11, 20, tzinfo=UTC)  # a Tuesday


def every(days: int, count: int = 10, last_days_ago: float = 0) -> list[datetime]:
    return [NOW - timedelta(days=last_days_ago + days * number) for number in range(count)]


def test_a_kiln_lit_each_tuesday_is_lit_next_tuesday_and_the_one_after() -> None:
    first, second = next_firings(lit=every(7), count=2, now=NOW, random=Random(1))
    assert first.earliest == first.likely == first.latest == NOW + timedelta(days=7)
    assert second.likely == NOW + timedelta(days=14)


def test_the_time_that_has_gone_by_counts() -> None:
    (found,) = next_firings(lit=every(7, last_days_ago=5), count=1, now=NOW, random=Random(1))
    assert found.likely == NOW + timedelta(days=2)


def test_what_stands_on_the_calendar_comes_first() -> None:
    planned = NOW + timedelta(days=3)
    (found,) = next_firings(lit=every(7), count=1, now=NOW, not_before=planned, random=Random(1))
    # Ten days on is a Friday, and it is always lit on a Tuesday.
    assert found.likely == NOW + timedelta(days=14)
    assert found.likely.weekday() == 1


def test_an_uneven_record_gives_a_range_that_widens() -> None:
    gaps = [3, 4, 10, 5, 3, 12, 4, 7]
    lit = [NOW]
    for gap in gaps:
        lit.append(lit[-1] - timedelta(days=gap))
    first, *_, fourth = next_firings(lit=lit, count=4, now=NOW, random=Random(1))
    assert timedelta(days=3) <= first.earliest - NOW <= first.likely - NOW <= first.latest - NOW
    assert first.latest - NOW <= timedelta(days=13)
    assert fourth.latest - fourth.earliest > first.latest - first.earliest
    assert fourth.earliest > first.earliest


def test_at_least_eight_in_ten_ranges_hold_on_a_simulated_studio() -> None:
    """A kiln lit after 2 to 9 days, evenly: each range is made from the days before and held to the next."""
    chance, held, tried = Random(5), 0, 0
    lit = [NOW - timedelta(days=900)]
    while lit[-1] < NOW:
        lit.append(lit[-1] + timedelta(days=chance.randint(2, 9)))
    for number in range(30, len(lit) - 1):
        now = lit[number] + timedelta(hours=1)
        (found,) = next_firings(lit=lit[: number + 1], count=1, now=now, random=Random(number))
        tried += 1
        held += found.earliest - timedelta(hours=2) <= lit[number + 1] <= found.latest + timedelta(hours=2)
    assert tried > 100
    assert held / tried >= 0.8


@pytest.mark.parametrize("lit", [[], [NOW - timedelta(days=1)], every(5, 3)])
def test_without_a_record_the_range_is_wide_and_ahead(lit) -> None:
    (found,) = next_firings(lit=lit, count=1, now=NOW, random=Random(1))
    assert NOW <= found.earliest <= found.likely <= found.latest <= NOW + timedelta(days=11)


def test_a_kiln_out_of_use_for_long_is_not_due_in_the_past() -> None:
    (found,) = next_firings(lit=every(7, last_days_ago=200), count=1, now=NOW, random=Random(1))
    assert found.earliest >= NOW


def test_days_are_those_of_the_studio() -> None:
    zone = ZoneInfo("Pacific/Auckland")
    here = NOW.astimezone(zone)  # already Wednesday there
    (found,) = next_firings(lit=[d.astimezone(zone) for d in every(7)], count=1, now=here, random=Random(1))
    assert found.likely.weekday() == here.weekday() == 2


def test_nonsense_is_refused() -> None:
    with pytest.raises(DomainError):
        next_firings(lit=[NOW + timedelta(days=1)], count=1, now=NOW, random=Random(1))
    with pytest.raises(DomainError):
        next_firings(lit=[], count=1, now=datetime(2025, 1, 1), random=Random(1))  # noqa: DTZ001
    assert gaps_h([NOW, NOW + timedelta(hours=1)]) == [SHORTEST_H]
    assert gaps_h([]) == []
