"""Pyrometric cones by number: which is hotter, and whether a cone lies within a glaze's range."""

from __future__ import annotations

from .problems import DomainError
from .say import say

#: Cones from coldest to hottest, as printed on the makers' charts.
CONES: tuple[str, ...] = (
    *(f"0{number}" for number in range(22, 9, -1)),
    *("09", "08", "07", "06", "05.5", "05", "04", "03", "02", "01"),
    *("1", "2", "3", "4", "5", "5.5", "6", "7", "8", "9", "10", "11", "12", "13", "14"),
)
_ORDER = {cone: place for place, cone in enumerate(CONES)}


def heat_order(cone: str) -> int:
    """A number that is larger for a hotter cone. Raises `DomainError` for a cone that is on no chart."""
    try:
        return _ORDER[cone]
    except KeyError:
        raise DomainError(
            say("There is no cone {cone}. Cones run from 022, the coolest, over 01 and 1 to 14.", cone=cone),
            code="no-such-cone",
        ) from None


def hotter(one: str, other: str) -> bool:
    """Whether the first cone asks for more heat than the second."""
    return heat_order(one) > heat_order(other)


def within(cone: str, *, coldest: str, hottest: str) -> bool:
    """Whether a cone lies in a range, both ends included; a range typed the wrong way round is turned."""
    ends = sorted((heat_order(coldest), heat_order(hottest)))
    return ends[0] <= heat_order(cone) <= ends[1]
