"""Quiet hours and closed days: own rule, no source; the dates are those of the calendar."""

from __future__ import annotations

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from studio.domain.quiet import LONGEST, is_quiet, may_go_from

LONDON = ZoneInfo("Europe/London")


def goes(at: datetime, *, closed: object = (), hours: tuple[int, int] | None = (21, 8)) -> datetime:
    quiet_from, quiet_until = (time(hours[0]), time(hours[1])) if hours else (None, None)
    return may_go_from(
        at,
        quiet_from=quiet_from,
        quiet_until=quiet_until,
        is_closed=closed if callable(closed) else lambda day: day in closed,
    )


@pytest.mark.parametrize(
    ("at", "quiet"),
    [("20:59", False), ("21:00", True), ("23:59", True), ("00:00", True), ("07:59", True), ("08:00", False)],
)
def test_quiet_hours_may_go_past_midnight_and_their_end_is_not_quiet(at: str, quiet: bool) -> None:
    assert is_quiet(time.fromisoformat(at), time(21), time(8)) is quiet


def test_quiet_hours_within_a_day_and_none_at_all() -> None:
    assert is_quiet(time(13), time(12), time(14))
    assert not is_quiet(time(14), time(12), time(14))
    assert not is_quiet(time(3), None, None)
    assert not is_quiet(time(3), time(3), time(3))


def test_in_the_day_it_goes_at_once() -> None:
    at = datetime(2025, 11, 18, 11, 20, tzinfo=LONDON)
    assert goes(at) == at
    assert goes(datetime(2025, 11, 18, 3, tzinfo=LONDON), hours=None) == datetime(
        2025, 11, 18, 3, tzinfo=LONDON
    )


def test_at_night_it_goes_in_the_morning() -> None:
    for at in (datetime(2025, 11, 18, 22, tzinfo=LONDON), datetime(2025, 11, 19, 5, tzinfo=LONDON)):
        assert goes(at) == datetime(2025, 11, 19, 8, tzinfo=LONDON)


def test_on_closed_days_it_goes_when_they_and_the_night_after_are_over() -> None:
    closed = {date(2025, 12, 24), date(2025, 12, 25), date(2025, 12, 26)}
    assert goes(datetime(2025, 12, 23, 21, 30, tzinfo=LONDON), closed=closed) == datetime(
        2025, 12, 27, 8, tzinfo=LONDON
    )


def test_the_night_the_clock_goes_back_ends_by_the_clock() -> None:
    """25 to 26 October 2025: British clocks go back an hour at 2 in the morning (EU and UK rule)."""
    found = goes(datetime(2025, 10, 25, 22, tzinfo=LONDON))
    assert found == datetime(2025, 10, 26, 8, tzinfo=LONDON)
    assert found.utcoffset().total_seconds() == 0


def test_a_studio_that_is_always_closed_keeps_no_mail_for_ever() -> None:
    found = goes(datetime(2025, 1, 1, 12, tzinfo=LONDON), closed=lambda day: True)
    assert (found.date() - date(2025, 1, 1)).days == LONGEST
