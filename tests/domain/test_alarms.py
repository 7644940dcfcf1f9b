"""What is amiss with a fire. The rates and spans are common practice, no source; that water boils at 100 °C
is physics, and what a straight line rises in an hour is arithmetic."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from studio.domain.alarms import AlarmCause, Watched, alarms, steepest
from studio.domain.programme import Segment, plan

LIT = datetime(2025, 11, 17, 9, 0, tzinfo=UTC)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


def ramp(
    *legs: tuple[float, float], start: float = 20.0, step: timedelta = MINUTE
) -> list[tuple[datetime, float]]:
    """Legs of (°C an hour, hours), a reading a minute."""
    rows, at, celsius = [(LIT, start)], LIT, start
    for rate, hours in legs:
        for _ in range(round(hours * HOUR / step)):
            at, celsius = at + step, celsius + rate * (step / HOUR)
            rows.append((at, celsius))
    return rows


def causes(rows: list[tuple[datetime, float]], *, later: timedelta = MINUTE, **values: object) -> set[str]:
    values = {"lit_at": LIT, "top_c": 1060.0, "greenware": True, **values}
    now = (rows[-1][0] if rows else LIT) + later
    return {alarm.cause.value for alarm in alarms(Watched(readings=rows, **values), now=now)}


@pytest.mark.parametrize(
    ("rate", "amiss"), [(60, False), (100, False), (115, False), (125, True), (400, True)]
)
def test_raw_ware_goes_slowly_through_steam(rate: float, amiss: bool) -> None:
    """80 to 120 °C at 100 °C an hour at most, with a fifth to spare for scatter."""
    rows = ramp((rate, 130 / rate))
    assert ("steam" in causes(rows)) == amiss


def test_steam_matters_to_raw_ware_alone_and_is_old_news_after_an_hour() -> None:
    rows = ramp((300, 0.5))
    assert causes(rows) == {"steam"}
    assert causes(rows, greenware=False) == set()
    assert "steam" in causes([*rows, *[(rows[-1][0] + 30 * MINUTE, 220.0)]])
    assert "steam" not in causes([*rows, (rows[-1][0] + 59 * MINUTE, 260.0)], later=20 * MINUTE)


def test_steam_is_seen_between_two_readings_by_hand() -> None:
    assert causes([(LIT, 60.0), (LIT + 30 * MINUTE, 180.0)]) == {"steam"}
    assert causes([(LIT, 60.0), (LIT + 90 * MINUTE, 180.0)]) == set()


def test_a_thermocouples_scatter_is_no_rush_through_steam() -> None:
    rows = [
        (at, celsius + (1.5 if place % 2 else -1.5)) for place, (at, celsius) in enumerate(ramp((80, 1.5)))
    ]
    assert "steam" not in causes(rows)


def test_the_steepest_stretch_is_found() -> None:
    rows = ramp((60, 1), (240, 0.25), (60, 1))
    rate, ended = steepest(rows, 70, 160)
    assert rate == pytest.approx(240)
    assert ended <= LIT + HOUR + 16 * MINUTE
    assert steepest(rows, 300, 400) is None


def test_a_climb_that_stands_still_is_stalled() -> None:
    rows = ramp((100, 6), (0, 1))
    assert causes(rows, greenware=False) == {"stalled"}
    assert causes(ramp((100, 6), (10, 1)), greenware=False) == set()
    assert causes(ramp((100, 6), (0, 0.5)), greenware=False) == set()


def test_falling_before_the_top_is_said_to_be_falling() -> None:
    found = alarms(
        Watched(lit_at=LIT, readings=ramp((100, 6), (-60, 1)), top_c=1060), now=LIT + 7 * HOUR + MINUTE
    )
    assert [alarm.cause for alarm in found] == [AlarmCause.STALLED]
    assert "fell from 620 to 560 °C" in found[0].sentence


def test_holding_ware_until_it_is_dry_is_no_stall() -> None:
    assert causes(ramp((70, 1), (0, 3))) == set()


def test_the_top_and_the_way_down_from_it_are_no_stall() -> None:
    assert causes(ramp((200, 5.2), (0, 1)), greenware=False, top_c=1060.0) == set()
    assert causes(ramp((200, 5.2), (-100, 1)), greenware=False, top_c=1060.0) == set()


def test_a_hold_that_the_programme_asks_for_is_no_stall() -> None:
    asked = plan(segments=[Segment(100, 620, 120), Segment(100, 1060)])
    rows = ramp((100, 6), (0, 1))
    assert causes(rows, greenware=False, plan=asked, top_c=asked.top_c) == set()
    straight = plan(segments=[Segment(100, 1060)])
    assert causes(rows, greenware=False, plan=straight, top_c=straight.top_c) == {"stalled"}


@pytest.mark.parametrize(("last", "amiss"), [(1060.0, False), (1069.0, False), (1071.0, True)])
def test_past_the_top_by_more_than_ten_degrees(last: float, amiss: bool) -> None:
    rows = [(LIT, 1000.0), (LIT + HOUR, last)]
    assert ("past-top" in causes(rows, greenware=False)) == amiss


def test_an_hour_without_a_reading_is_silence() -> None:
    rows = ramp((60, 1))
    assert causes(rows, later=59 * MINUTE) == set()
    assert causes(rows, later=60 * MINUTE) == {"silent"}
    assert causes([], later=59 * MINUTE) == set()
    assert causes([], later=61 * MINUTE) == {"silent"}


def test_a_silent_kiln_is_not_said_to_stall() -> None:
    assert causes(ramp((100, 6), (0, 1)), greenware=False, later=2 * HOUR) == {"silent"}
