"""Series of test tiles: an addition to a base in steps, or a line blend from one glaze to another.

Percentages of an addition are over and above the base, as potters write recipes: 4 % in 200 g of dry base is
8 g on top. In a blend the two parts together are the whole. Common practice, no source; the sums are plain.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from .problems import DomainError
from .say import say

MOST_STEPS = 12
MOST_TILES = 48
#: Scales of a studio show tenths of a gram.
TENTH = Decimal("0.1")
_HUNDREDTH = Decimal("0.01")
_COLOUR = re.compile("#[0-9a-fA-F]{6}")


def steps(*, first: Decimal, last: Decimal, count: int) -> list[Decimal]:
    """``count`` percentages from ``first`` to ``last``, equally far apart, to a hundredth.

    Raises `DomainError` for less than two steps, for none that differ, and outside 0 to 100.
    """
    if not 2 <= count <= MOST_STEPS:
        raise DomainError(
            say("A series has between 2 and {most_steps} steps.", most_steps=MOST_STEPS), code="steps"
        )
    if not all(value.is_finite() and 0 <= value <= 100 for value in (first, last)):
        raise DomainError(say("Steps run between 0 and 100 %."), code="percent")
    if first >= last:
        raise DomainError(say("The last step must be more than the first one."), code="percent")
    found = [
        (first + (last - first) * number / (count - 1)).quantize(_HUNDREDTH, ROUND_HALF_UP)
        for number in range(count)
    ]
    if len(set(found)) < count:
        raise DomainError(
            say("The steps are so near each other that some are alike. Use fewer of them."), code="steps"
        )
    return found


@dataclass(frozen=True, slots=True)
class Weighed:
    """What to weigh for one tile, in g of dry material to a tenth: of the base, and of what goes into it."""

    base_g: Decimal
    other_g: Decimal


def weigh_addition(*, dry_g: Decimal, per_cent: Decimal) -> Weighed:
    """All of the base, and the addition over and above it."""
    return Weighed(_tenth(dry_g), _tenth(dry_g * per_cent / 100))


def weigh_blend(*, dry_g: Decimal, per_cent: Decimal) -> Weighed:
    """Two parts that sum to ``dry_g`` exactly; ``per_cent`` is the second one's."""
    whole = _tenth(dry_g)
    other = _tenth(whole * per_cent / 100)
    return Weighed(whole - other, other)


def blend_colour(first: str, second: str, per_cent: Decimal) -> str:
    """The colour to draw a mix of two glazes in, ``per_cent`` of it the second one; ``#rrggbb`` all of them.

    Channel by channel along a straight line: a drawing until the tile is fired, not a forecast. Where one of
    the colours is not known, the other's stands; ``""`` where neither is.
    """
    if not (_COLOUR.fullmatch(first) and _COLOUR.fullmatch(second)):
        return next((one for one in (first, second) if _COLOUR.fullmatch(one)), "")
    mixed = (
        (int(first[at : at + 2], 16) * (100 - per_cent) + int(second[at : at + 2], 16) * per_cent) / 100
        for at in (1, 3, 5)
    )
    return "#" + "".join(f"{int(channel.to_integral_value(ROUND_HALF_UP)):02x}" for channel in mixed)


def _tenth(value: Decimal) -> Decimal:
    return value.quantize(TENTH, ROUND_HALF_UP)


def plain(value: Decimal) -> str:
    """A figure without idle zeros: 4, 2.5, 12.75."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
