"""Days by the calendar. Every expected day is the calendar's own: lengths of months, leap years."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain.calendar_days import age_on, months_after, years_after


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2025, 1, 31), 1, date(2025, 2, 28)),
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2025, 12, 5), 1, date(2026, 1, 5)),
        (date(2025, 3, 31), 18, date(2026, 9, 30)),
    ],
)
def test_months_are_counted_by_the_calendar(day: date, months: int, expected: date) -> None:
    assert months_after(day, months) == expected


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        # The calendar itself: the last of a shorter month, a leap year, the turn of a year.
        (date(2025, 3, 31), 1, date(2025, 2, 28)),
        (date(2024, 3, 31), 1, date(2024, 2, 29)),
        (date(2025, 1, 15), 1, date(2024, 12, 15)),
        (date(2025, 11, 18), 36, date(2022, 11, 18)),
        (date(2024, 2, 29), 12, date(2023, 2, 28)),
        (date(2025, 11, 18), 0, date(2025, 11, 18)),
    ],
)
def test_so_many_months_before(day: date, months: int, expected: date) -> None:
    assert months_after(day, -months) == expected


@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(0, 240))
def test_more_months_are_never_later(day: date, months: int) -> None:
    assert months_after(day, -months - 1) < months_after(day, -months) <= day


@pytest.mark.parametrize(
    ("born_on", "day", "expected"),
    [
        (date(2008, 5, 4), date(2026, 5, 3), 17),
        (date(2008, 5, 4), date(2026, 5, 4), 18),
        (date(2008, 2, 29), date(2026, 2, 28), 17),
        (date(2008, 2, 29), date(2026, 3, 1), 18),
        (date(2026, 3, 1), date(2026, 3, 1), 0),
    ],
)
def test_years_of_age_are_full_on_the_birthday(born_on: date, day: date, expected: int) -> None:
    assert age_on(born_on, day) == expected


@given(st.dates(date(1930, 1, 1), date(2030, 1, 1)), st.integers(0, 60))
def test_years_on_somebody_born_that_day_is_so_old(day: date, years: int) -> None:
    assert age_on(day, years_after(day, years)) == years


def test_a_year_after_29_february_is_1_march() -> None:
    assert years_after(date(2024, 2, 29), 1) == date(2025, 3, 1)
    assert years_after(date(2024, 2, 29), 4) == date(2028, 2, 29)
