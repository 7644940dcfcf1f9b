"""What is given back of a fee, and the rule in words. The steps: common practice, no source."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

import pytest

from studio.domain.problems import DomainError
from studio.domain.refunds import RefundRule

USUAL = RefundRule(full_days=14, part_days=7, part_percent=50)


@pytest.mark.parametrize(
    ("days", "percent"), [(40, 100), (14, 100), (13, 50), (7, 50), (6, 0), (0, 0), (-1, 0), (-30, 0)]
)
def test_the_steps(days: int, percent: int) -> None:
    assert USUAL.percent(days) == percent


def test_nothing_is_given_back_once_it_has_begun_even_by_the_kindest_rule() -> None:
    kind = RefundRule(full_days=0, part_days=0, part_percent=100)
    assert kind.percent(0) == 100
    assert kind.percent(-1) == 0


@pytest.mark.parametrize("percent", [0, 1, 33, 50, 99, 100])
def test_parts_are_whole_units_with_a_half_up_as_decimal_has_it(percent: int) -> None:
    rule = RefundRule(full_days=14, part_days=0, part_percent=percent)
    for fee in (0, 1, 3, 9999, 12_345, 10**9 + 1):
        exact = Decimal(fee) * percent / 100
        assert rule.amount(fee, 3) == int(exact.quantize(Decimal(1), ROUND_HALF_UP))


def test_the_rule_in_words() -> None:
    assert USUAL.sentences() == [
        "Until 14 days before the first meeting you get all of the fee back.",
        "Until 7 days before it you get 50 % of it back.",
        "After that nothing is given back.",
    ]
    assert (
        RefundRule(1, 0, 0).sentences()[0]
        == "Until 1 day before the first meeting you get all of the fee back."
    )
    assert len(RefundRule(0, 0, 50).sentences()) == 1
    assert "Until the day itself you get 25 %" in RefundRule(3, 0, 25).sentences()[1]


def test_nonsense_is_refused() -> None:
    for values in ((7, 14, 50), (14, -1, 50), (14, 7, 101), (14, 7, -1)):
        with pytest.raises(DomainError):
            RefundRule(*values)
    with pytest.raises(DomainError):
        USUAL.amount(-1, 3)
    with pytest.raises(DomainError):
        USUAL.amount(10.5, 3)  # type: ignore[arg-type]
