"""Whether a kiln may be opened, and when: only a reading says yes, the estimate says when to look."""

from __future__ import annotations

from datetime import timedelta
from math import exp, log

import pytest

from studio.models import Firing, Reading
from studio.queries import firings as queries
from studio.queries.firings import Opening, safe_to_open
from tests import factories as make

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


#: A kiln that cools by Newton's law with a time constant of 6 h reaches 50 °C after 6 h × ln(1204 ÷ 32).
HOURS_TO_50 = 6 * log(1204 / 32)


def cooling(*, until_c: float = 139.0, limit_c: int = 50) -> Firing:
    """A kiln that cools by that law from 1222 °C to a room of 18 °C, with a reading every half hour."""
    make.studio(opening_limit_c=limit_c, time_zone="Europe/London")
    firing = make.firing(Firing.State.COOLING, lit_at=make.NOW - 30 * HOUR, pieces=1)
    hours, celsius = 0.0, 1222.0
    while celsius > until_c:
        Reading.objects.create(
            firing=firing,
            at=firing.ended_at + hours * HOUR,
            temperature_c=f"{celsius:.1f}",
            source="imported",
        )
        hours += 0.5
        celsius = 18 + 1204 * exp(-hours / 6)
    return firing


def test_before_and_during_the_fire_it_says_why_not() -> None:
    planned, burning = make.firing(), make.firing(Firing.State.FIRING)
    assert safe_to_open(planned, make.NOW).state == Opening.NOT_LIT
    answer = safe_to_open(burning, make.NOW)
    assert (answer.state, answer.may_open) == (Opening.STILL_ON, False)
    assert "off at the wall" in answer.why


def test_without_a_reading_since_the_end_it_asks_for_one() -> None:
    firing = make.firing(Firing.State.COOLING)
    Reading.objects.create(firing=firing, at=firing.lit_at, temperature_c=20)
    answer = safe_to_open(firing, make.NOW)
    assert (answer.state, answer.may_open) == (Opening.NO_READING, False)
    assert "50 °C" in answer.why


def test_while_hot_it_gives_a_range_in_studio_time() -> None:
    firing = cooling()
    last = firing.readings.latest("at")
    answer = safe_to_open(firing, last.at + timedelta(minutes=5))
    assert (answer.state, answer.may_open) == (Opening.TOO_HOT, False)
    truly = firing.ended_at + HOURS_TO_50 * HOUR
    assert answer.earliest <= truly <= answer.latest
    assert answer.latest - answer.earliest < 12 * HOUR
    assert answer.heading.startswith("Safe to open about ")
    assert answer.earliest.minute % 10 == answer.latest.minute % 10 == 0
    assert f"{last.temperature_c:.0f} °C" in answer.why


def test_an_estimate_that_has_passed_is_no_leave_to_open() -> None:
    firing = cooling()
    answer = safe_to_open(firing, firing.ended_at + 100 * HOUR)
    assert (answer.state, answer.may_open) == (Opening.TOO_HOT, False)
    assert "again" in answer.heading


def test_a_reading_at_the_limit_is_leave_to_open() -> None:
    firing = cooling()
    Reading.objects.create(firing=firing, at=firing.ended_at + 24 * HOUR, temperature_c="50.0")
    answer = safe_to_open(firing, firing.ended_at + 24 * HOUR)
    assert (answer.state, answer.may_open) == (Opening.OPEN, True)
    Reading.objects.create(firing=firing, at=firing.ended_at + 25 * HOUR, temperature_c="50.1")
    assert not safe_to_open(firing, firing.ended_at + 25 * HOUR).may_open


def test_few_readings_are_said_to_be_few() -> None:
    firing = make.firing(Firing.State.COOLING)
    Reading.objects.create(firing=firing, at=firing.ended_at + HOUR, temperature_c=900)
    answer = safe_to_open(firing, firing.ended_at + 2 * HOUR)
    assert (answer.state, answer.heading) == (Opening.TOO_HOT, "Not yet")
    assert "Too few readings" in answer.why


@pytest.mark.parametrize("count", [1, 30])
def test_the_list_of_firings_costs_one_query(count: int, django_assert_num_queries: object) -> None:
    for _ in range(count):
        firing = make.firing(Firing.State.UNLOADING, pieces=2)
        Reading.objects.create(firing=firing, at=firing.lit_at, temperature_c=20)
        Reading.objects.create(firing=firing, at=firing.ended_at, temperature_c=1222)
    with django_assert_num_queries(1):
        rows = list(queries.open_firings())
        assert [(row.placed, row.answered, row.peak_c, bool(row.kiln.name)) for row in rows] == [
            (2, 0, 1222, True)
        ] * count
