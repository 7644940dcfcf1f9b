"""Counting classes: plain arithmetic, worked by hand on a calendar of Tuesdays."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from studio.domain.class_deadlines import ClassDeadline, attended_since

TUESDAYS = [datetime(2025, 11, day, 18, 30, tzinfo=UTC) for day in (4, 11, 18, 25)]


@pytest.mark.parametrize(
    ("since", "expected"),
    [
        (datetime(2025, 11, 1, tzinfo=UTC), 4),
        (datetime(2025, 11, 11, 18, 30, tzinfo=UTC), 3),
        (datetime(2025, 11, 11, 18, 31, tzinfo=UTC), 2),
        (datetime(2025, 12, 1, tzinfo=UTC), 0),
    ],
)
def test_classes_that_began_at_or_after_a_moment(since, expected):
    assert attended_since(TUESDAYS, since) == expected


def test_the_last_class_in_time_and_those_after_it():
    told = [(each.left, each.is_last, each.passed) for each in (ClassDeadline(n, 3) for n in (0, 2, 3, 5))]
    assert told == [(3, False, False), (1, True, False), (0, False, True), (0, False, True)]
