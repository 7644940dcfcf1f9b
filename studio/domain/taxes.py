"""Tax within a price, and what is sold by weight. Whole minor units; fractions are exact inside.

Prices are written as people pay them, tax included: the tax is taken out of the sum, never put on top of it.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from .problems import DomainError
from .say import say
from .sharing import round_half_up

GRAMS_IN_KG = 1000


def tax_within(amount_minor: int, percent: Decimal) -> int:
    """The tax in a sum that includes it: sum × rate ÷ (100 + rate), to the nearest unit, a half up.

    Of a negative sum the same, turned round, so that what is taken back takes back its tax exactly.
    """
    if type(amount_minor) is not int or not isinstance(percent, Decimal):
        raise DomainError(
            say("A sum is whole units and a rate is a decimal; floats lose pennies."), code="float"
        )
    if not 0 <= percent <= 100:
        raise DomainError(say("A tax rate is from 0 to 100 %."))
    rate = Fraction(percent)
    # a × n/d ÷ (100 + n/d), with the fractions cleared
    tax = round_half_up(Fraction(abs(amount_minor) * rate.numerator, 100 * rate.denominator + rate.numerator))
    return -tax if amount_minor < 0 else tax


def by_weight(grams: int, price_minor_per_kg: int) -> int:
    """Grams × price of a kilogram, exactly, then to the nearest unit, a half up."""
    if type(grams) is not int or type(price_minor_per_kg) is not int or grams < 0 or price_minor_per_kg < 0:
        raise DomainError(say("Weights are whole grams and prices whole units of money."), code="float")
    return round_half_up(Fraction(grams * price_minor_per_kg, GRAMS_IN_KG))


def kilograms(grams: int) -> str:
    """``12500`` as ``12.5``."""
    whole, rest = divmod(grams, GRAMS_IN_KG)
    return f"{whole}.{rest:03d}".rstrip("0").rstrip(".")
