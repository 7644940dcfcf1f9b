"""Lengths as people write and read them: metric, or inches with fractions. Kept in whole millimetres.

1 in = 25.4 mm exactly (the international inch: ISO 80000-3; NIST SP 811, appendix B). A sixteenth of an inch
is 1.5875 mm, so every sixteenth has a whole millimetre of its own and is read back as itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from fractions import Fraction

from .problems import DomainError
from .say import figure, say


class Unit(StrEnum):
    """What a bare number is in, and what pages show."""

    CM = "cm"
    INCH = "in"


MM_PER_INCH = Decimal("25.4")
#: The finest part of an inch that is shown.
PARTS = 16

_MM_IN = {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000), "in": MM_PER_INCH}
_INCH_WORDS = {"in", "ins", "inch", "inches", '"', "″", "”", "''"}
_VULGAR = {
    "½": (1, 2),
    "¼": (1, 4),
    "¾": (3, 4),
    "⅛": (1, 8),
    "⅜": (3, 8),
    "⅝": (5, 8),
    "⅞": (7, 8),
    "⅓": (1, 3),
    "⅔": (2, 3),
}
_TYPED = re.compile(
    r"(?P<minus>[-−])?\s*"
    r"(?:(?P<whole>\d{1,5})(?:\s+|\s*[-–]\s*))?(?P<top>\d{1,2})\s*[/⁄]\s*(?P<bottom>\d{1,2})\s*(?P<unit_a>[^\d\s]*)\Z"
    r"|(?P<minus_b>[-−])?\s*(?P<number>\d{1,5}(?:[.,]\d{0,4})?|[.,]\d{1,4})\s*(?P<unit_b>[^\d\s]*)\Z"
)

_in_force: ContextVar[Unit] = ContextVar("length_unit", default=Unit.CM)


def unit_in_force() -> Unit:
    """The unit of the studio whose page or mail is being made; centimetres unless told otherwise."""
    return _in_force.get()


@contextmanager
def using(unit: str) -> Iterator[None]:
    """Lengths inside are shown and read in this unit; a word that is none means centimetres."""
    token = _in_force.set(Unit(unit) if unit in set(Unit) else Unit.CM)
    try:
        yield
    finally:
        _in_force.reset(token)


def length_words(length_mm: float, *, unit: Unit | None = None) -> str:
    """``194`` as ``19.4 cm`` (whole centimetres without a point), or ``7 5/8 in``."""
    if (unit or unit_in_force()) is Unit.INCH:
        return say("{length} in", length=inches(length_mm))
    whole, rest = divmod(abs(int(length_mm)), 10)
    sign = "−" if length_mm <= -1 else ""
    return f"{sign}{figure(whole + rest / 10, '.1f')} cm" if rest else f"{sign}{whole} cm"


def fine_words(length_mm: float, *, unit: Unit | None = None) -> str:
    """A short or exact length: ``6 mm``, or ``1/4 in``."""
    if (unit or unit_in_force()) is Unit.INCH:
        return say("{length} in", length=inches(length_mm))
    return f"{figure(round(length_mm, 1), 'g') if isinstance(length_mm, float) else length_mm} mm"


def exact_words(length_mm: Decimal | float) -> str:
    """A length measured to a tenth of a millimetre: ``87.5 mm``, or ``3.44 in`` to a hundredth of an inch."""
    if unit_in_force() is Unit.INCH:
        return say("{length} in", length=figure(_rounded(_decimal(length_mm) / MM_PER_INCH, "0.01"), "g"))
    return f"{figure(_rounded(_decimal(length_mm), '0.1'), 'g')} mm"


def nearest_words(length_mm: Decimal | float) -> str:
    """As a ruler is read: ``102 mm`` to the whole millimetre, or ``4 in`` to the nearest sixteenth."""
    if unit_in_force() is Unit.INCH:
        return say("{length} in", length=inches(float(length_mm)))
    return f"{_decimal(length_mm).to_integral_value(ROUND_HALF_UP)} mm"


def _decimal(length_mm: Decimal | float) -> Decimal:
    return length_mm if isinstance(length_mm, Decimal) else Decimal(str(length_mm))


def _rounded(number: Decimal, step: str) -> float:
    return float(number.quantize(Decimal(step), ROUND_HALF_UP))


def inches(length_mm: float) -> str:
    """``88.9`` as ``3 1/2``: to the nearest sixteenth, a half up, in lowest terms. No unit."""
    parts = int((abs(Decimal(str(length_mm))) * PARTS / MM_PER_INCH).to_integral_value(ROUND_HALF_UP))
    whole, rest = divmod(parts, PARTS)
    sign = "−" if length_mm < 0 and parts else ""
    if not rest:
        return f"{sign}{whole}"
    part = Fraction(rest, PARTS)
    words = f"{part.numerator}/{part.denominator}"
    return f"{sign}{whole} {words}" if whole else f"{sign}{words}"


def read_length(text: str, *, bare: str) -> int:
    """What somebody typed, in whole millimetres, a half up.

    ``3 1/2``, ``3½``, ``3-1/2"``, ``3.5``, ``3,5 in``, ``88 mm``, ``8.8 cm``, ``0.5 m``. ``bare`` is the unit
    of a number without one: "mm", "cm", "m" or "in". Raises `DomainError` for anything else.
    """
    return int(_millimetres(text, bare).to_integral_value(ROUND_HALF_UP))


def read_exact(text: str, *, bare: str) -> Decimal:
    """The same to a tenth of a millimetre, a half up."""
    return _millimetres(text, bare).quantize(Decimal("0.1"), ROUND_HALF_UP)


def _millimetres(text: str, bare: str) -> Decimal:
    tidy = text.strip().casefold()
    for sign, (top, bottom) in _VULGAR.items():
        if sign in tidy:
            tidy = tidy.replace(sign, f" {top}/{bottom} ", 1).strip()
    found = _TYPED.match(tidy)
    if found is None:
        raise DomainError(say("That is no length."), code="length")
    unit = found["unit_a"] or found["unit_b"] or bare
    unit = "in" if unit in _INCH_WORDS else unit
    if unit not in _MM_IN:
        raise DomainError(say("That is no length."), code="length")
    if found["number"] is None:
        if not int(found["bottom"]):
            raise DomainError(say("That is no length."), code="length")
        number = int(found["whole"] or 0) + Decimal(int(found["top"])) / Decimal(int(found["bottom"]))
    else:
        number = Decimal(found["number"].replace(",", "."))
    mm = number * _MM_IN[unit]
    return -mm if found["minus"] or found["minus_b"] else mm


def typed(length_mm: int, *, metric: str, unit: Unit | None = None) -> str:
    """What stands in a field for this length, so that reading it back gives the very same millimetres.

    ``metric`` is the unit of the field where the studio is metric: "cm" or "mm". In inches a fraction where
    it is exact enough, else hundredths: 85 mm is 3.35, and not 3 3/8, which would be 86.
    """
    if (unit or unit_in_force()) is not Unit.INCH:
        return f"{length_mm / 10:g}" if metric == "cm" else str(length_mm)
    fraction = inches(length_mm)
    if read_length(fraction, bare="in") == length_mm:
        return fraction
    hundredths = (Decimal(length_mm) / MM_PER_INCH).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return f"{hundredths:f}".rstrip("0").rstrip(".")


def typed_exact(length_mm: Decimal) -> str:
    """What stands in a field for a length to a tenth of a millimetre, so that reading it gives it back."""
    if unit_in_force() is not Unit.INCH:
        return f"{length_mm:f}".rstrip("0").rstrip(".") if "." in f"{length_mm:f}" else f"{length_mm:f}"
    fraction = inches(float(length_mm))
    if read_exact(fraction, bare="in") == length_mm:
        return fraction
    for places in ("0.01", "0.001"):
        number = f"{(length_mm / MM_PER_INCH).quantize(Decimal(places), ROUND_HALF_UP):f}"
        if read_exact(number, bare="in") == length_mm:
            break
    return number
