"""Temperatures as files write them: decimal point or comma, thousands, a unit behind them, °C or °F."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from enum import StrEnum

from .readings import COLDEST_C, HOTTEST_C
from .say import say

_TENTH = Decimal("0.1")
NUMBER = re.compile(
    r"([-+]?(?:\d{1,14}|\d{1,3}(?:[ ,.’']\d{3})+)(?:[.,]\d{1,9})?)\s*(°?\s*[cCfF]|deg\.?\s*[cCfF])?\Z"
)
_THOUSANDS = re.compile(r"[-+]?[12][.,’' ]\d{3}(?:[.,]\d+)?\Z")


class Unit(StrEnum):
    CELSIUS = "c"
    FAHRENHEIT = "f"


class NotANumberError(Exception):
    """Why a cell is no temperature."""


def is_number(cell: str) -> bool:
    return bool(NUMBER.match(cell.replace("−", "-")))


def unit_of(cell: str) -> Unit | None:
    """The unit written behind a number, if any."""
    match = NUMBER.match(cell)
    if not match or not match[2]:
        return None
    return Unit(match[2][-1].lower())


class Numbers:
    """Reads a column's cells as °C to a tenth, all of them alike.

    ``decimal_comma`` and ``thousands`` (the sign between them, or empty) are found from the whole column:
    ``1,222`` is twelve hundred where other cells go up to 999 without a comma.
    """

    def __init__(self, cells: Iterable[str], unit: Unit) -> None:
        self.unit = unit
        self.decimal_comma, self.thousands = _habits(cells)
        self._known: dict[str, Decimal] = {}

    def celsius(self, cell: str) -> Decimal:
        """Raises `NotANumberError` with the reason, for what is no number or no temperature of a kiln."""
        known = self._known.get(cell)
        if known is None:
            known = self._known[cell] = self._read(cell)
        return known

    def _read(self, cell: str) -> Decimal:
        match = NUMBER.match(cell.replace("−", "-"))
        if not match:
            said = say("“{cell}” is", cell=cell[:20]) if cell else say("there is")
            raise NotANumberError(say("{said} no temperature.", said=said))
        plain = match[1]
        if self.thousands:
            plain = plain.replace(self.thousands, "")
        plain = plain.replace(",", ".")
        if plain.count(".") > 1 or " " in plain or "’" in plain or "'" in plain:
            raise NotANumberError(say("“{cell}” is no temperature.", cell=cell[:20]))
        value = Decimal(plain)
        own = Unit(match[2][-1].lower()) if match[2] else self.unit
        celsius = (value - 32) * 5 / 9 if own == Unit.FAHRENHEIT else value
        celsius = celsius.quantize(_TENTH)
        if not COLDEST_C <= celsius <= HOTTEST_C:
            said = f"{value.quantize(_TENTH)} °F" if own == Unit.FAHRENHEIT else f"{celsius} °C"
            raise NotANumberError(say("{said} is no temperature of a kiln.", said=said))
        return celsius + 0  # no minus before nought


def plain_values(cells: Iterable[str]) -> list[Decimal]:
    """The numbers among these cells, as they are written, without looking at units."""
    cells = [cell for cell in cells if is_number(cell)]
    _, thousands = _habits(cells)
    found = []
    for cell in cells:
        plain = NUMBER.match(cell.replace("−", "-"))[1]
        plain = (plain.replace(thousands, "") if thousands else plain).replace(",", ".")
        if plain.count(".") <= 1 and not set(plain) & set(" ’'"):
            found.append(Decimal(plain))
    return found


def _habits(cells: Iterable[str]) -> tuple[bool, str]:
    """Whether a comma is the decimal sign, and what parts the thousands."""
    numbers = [match[1] for cell in set(cells) if (match := NUMBER.match(cell.replace("−", "-")))]
    for sign in (" ", "’", "'"):
        if any(sign in number for number in numbers):
            return any("," in number for number in numbers), sign
    both = [number for number in numbers if "," in number and "." in number]
    if both:
        comma_last = all(number.rindex(",") > number.rindex(".") for number in both)
        return comma_last, "." if comma_last else ","
    for sign, other in ((",", "."), (".", ",")):
        signed = [number for number in numbers if sign in number]
        if not signed or any(other in number for number in numbers):
            continue
        whole = [int(number) for number in numbers if number.lstrip("+-").isdigit()]
        # Numbers up to 999 have no sign in them and larger ones all do: it parts the thousands.
        if all(_THOUSANDS.match(number) for number in signed) and whole and 500 <= max(whole) < 1000:
            return False, sign
    return any("," in number for number in numbers), ""
