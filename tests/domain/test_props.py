"""Which props make a layer's height, and which cone is hotter."""

from __future__ import annotations

from itertools import pairwise

import pytest

from studio.domain.cones import CONES, heat_order, hotter, within
from studio.domain.problems import DomainError
from studio.domain.props import heights_possible, stacks_for


@pytest.mark.parametrize(
    ("heights", "stock", "expected"),
    [
        ([150, 0], {150: 3}, [(150,), ()]),
        ([150, 0], {150: 2}, None),  # three to a layer: common practice
        ([150, 0], {100: 3, 50: 3}, [(100, 50), ()]),
        ([150, 0], {75: 6}, [(75, 75), ()]),
        ([150, 0], {75: 5}, None),
        ([150, 0], {50: 9}, None),  # two stacked at most: common practice
        ([100, 100, 0], {100: 3, 50: 6}, [(100,), (50, 50), ()]),
        ([0], {}, [()]),
        # The first layer gives its single props up to the second, which has no other way.
        ([100, 150, 0], {100: 3, 50: 6, 25: 0}, None),
        ([100, 150, 0], {100: 3, 50: 9}, [(50, 50), (100, 50), ()]),
    ],
)
def test_props_for_layers(heights: list[int], stock: dict[int, int], expected: object) -> None:
    assert stacks_for(heights_mm=heights, stock=stock) == expected


def test_heights_on_offer_are_those_that_can_be_made() -> None:
    assert heights_possible({50: 6, 100: 3, 150: 2}) == [50, 100, 150]
    for height in heights_possible({13: 3, 25: 6, 38: 3, 102: 3}):
        assert stacks_for(heights_mm=[height, 0], stock={13: 3, 25: 6, 38: 3, 102: 3})


def test_cones_run_from_022_over_01_and_1_to_14() -> None:
    """The order of the cones as on the makers' charts."""
    assert CONES[0] == "022"
    assert CONES[-1] == "14"
    assert all(hotter(after, before) for before, after in pairwise(CONES))
    assert hotter("1", "01")
    assert hotter("04", "06")
    assert not hotter("6", "6")
    assert heat_order("01") + 1 == heat_order("1")


def test_a_range_of_cones_holds_its_ends_and_may_be_turned() -> None:
    assert within("6", coldest="5", hottest="7")
    assert within("5", coldest="5", hottest="7")
    assert within("6", coldest="7", hottest="5")
    assert not within("8", coldest="5", hottest="7")
    assert within("01", coldest="04", hottest="1")
    with pytest.raises(DomainError, match="There is no cone 61"):
        within("61", coldest="5", hottest="7")
