"""When care of a kiln is due. Intervals are common practice, no source; the counting is arithmetic."""

from __future__ import annotations

from datetime import date

import pytest

from studio.domain.kiln_care import (
    CARE_ASKS,
    CARE_WORDS,
    REMINDED,
    USUAL_INTERVALS,
    CareKind,
    Interval,
    Need,
    reminder,
)
from studio.domain.problems import DomainError

TODAY = date(2025, 11, 18)


def test_every_kind_has_its_words_and_all_but_other_an_interval() -> None:
    assert set(CARE_WORDS) == set(CARE_ASKS) == set(CareKind)
    assert set(USUAL_INTERVALS) == set(REMINDED) == set(CareKind) - {CareKind.OTHER}
    assert USUAL_INTERVALS[CareKind.ELECTRICAL_CHECK] == Interval(months=12)


@pytest.mark.parametrize(
    ("interval", "since", "firings", "need", "says"),
    [
        (Interval(), date(2020, 1, 1), 900, Need.OFF, "No reminder is set."),
        (Interval(months=12), date(2024, 11, 18), 0, Need.DUE, "Due today."),
        (Interval(months=12), date(2024, 11, 1), 0, Need.DUE, "Due since 1 November 2025."),
        (Interval(months=12), date(2024, 12, 1), 0, Need.SOON, "Due on 1 December 2025."),
        (Interval(months=12), date(2025, 6, 1), 0, Need.LATER, "Due on 1 June 2026."),
        (Interval(months=12), None, 0, Need.LATER, "Counted from its first firing here."),
        (Interval(firings=20), date(2025, 6, 1), 20, Need.DUE, "20 firings since."),
        (Interval(firings=20), date(2025, 6, 1), 18, Need.SOON, "Due in 2 firings."),
        (Interval(firings=20), date(2025, 6, 1), 17, Need.LATER, "Due in 3 firings."),
        (Interval(12, 20), date(2025, 6, 1), 3, Need.LATER, "Due on 1 June 2026 or in 17 firings."),
        (Interval(12, 20), date(2025, 6, 1), 21, Need.DUE, "21 firings since."),
        (Interval(12, 200), date(2024, 6, 1), 21, Need.DUE, "Due since 1 June 2025."),
        (Interval(firings=1), date(2025, 6, 1), 1, Need.DUE, "1 firing since."),
    ],
)
def test_due_by_whichever_comes_first(
    interval: Interval, since: date | None, firings: int, need: Need, says: str
) -> None:
    found = reminder(interval=interval, since=since, firings_since=firings, today=TODAY)
    assert (found.need, found.sentence) == (need, says)


def test_a_count_below_nothing_is_a_mistake() -> None:
    with pytest.raises(DomainError):
        reminder(interval=Interval(firings=3), since=None, firings_since=-1, today=TODAY)
