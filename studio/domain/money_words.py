"""How a sum of money is written: the sign, the digits, and what stands between them. Integers alone."""

from __future__ import annotations

from .problems import DomainError
from .say import say

#: Style -> (between thousands, before the smaller coins). The spaces do not break a line.
STYLES: dict[str, tuple[str, str]] = {
    "point": (",", "."),
    "comma": (".", ","),
    "space": ("\u00a0", ","),
    "swiss": ("’", "."),
}
MINUS = "−"


def plain(amount_minor: int, *, digits: int) -> str:
    """``-1234`` as ``-12.34``: for programs, with a point and without a sign of the currency."""
    _whole(amount_minor)
    whole, rest = divmod(abs(amount_minor), 10**digits)
    words = f"{whole}.{rest:0{digits}d}" if digits else f"{whole}"
    return f"-{words}" if amount_minor < 0 else words


def money_words(
    amount_minor: int, *, sign: str, digits: int, style: str = "point", sign_after: bool = False
) -> str:
    """``333`` as ``£3.33``, ``3,33 €`` or ``¥333``; a negative amount with a minus before all of it.

    ``digits`` is how many the currency has after the point (ISO 4217: 0 for the yen, 3 for dinars).
    """
    _whole(amount_minor)
    between, point = STYLES[style]
    whole, rest = divmod(abs(amount_minor), 10**digits)
    words = f"{whole:,}".replace(",", between)
    if digits:
        words += f"{point}{rest:0{digits}d}"
    if sign:
        # Letters want a space: KD 3.250, not KD3.250.
        space = "\u00a0" if sign_after or sign[-1].isalpha() else ""
        words = f"{words}{space}{sign}" if sign_after else f"{sign}{space}{words}"
    return f"{MINUS}{words}" if amount_minor < 0 else words


def _whole(amount_minor: int) -> None:
    if type(amount_minor) is not int:
        raise DomainError(say("A sum of money is a whole number of the smallest coin."), code="float")
