"""What stands in a cell of a table that people bring: days, times of day, lengths, whole numbers, names."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, time
from decimal import Decimal
from enum import StrEnum

from .lengths import read_length
from .problems import DomainError
from .say import say


class DayOrder(StrEnum):
    """How a table writes days of figures alone."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"


class LengthUnit(StrEnum):
    MM = "mm"
    CM = "cm"
    INCH = "in"


_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?\Z")
_FIGURES = re.compile(r"(\d{1,2})\.? ?[-/.] ?(\d{1,2})\.? ?[-/.] ?(\d{4}|\d{2})\Z")
_WITH_MONTH = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[. -]+([A-Za-z]{3,9})\.?[, -]+(\d{4})\Z")
_MONTH_AHEAD = re.compile(r"([A-Za-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})\Z")
_TIME = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?(?::\d{2})?\s*(?:([AaPp])\.?\s?[Mm]\.?)?\Z")


def day_orders(cells: Iterable[str]) -> set[DayOrder]:
    """The orders in which every day of figures alone can be read. Both: somebody has to say which."""
    orders = set(DayOrder)
    seen = False
    for cell in cells:
        match = _FIGURES.match(cell)
        if match is None:
            continue
        seen = True
        first, second = int(match[1]), int(match[2])
        if first > 12:
            orders.discard(DayOrder.MONTH_FIRST)
        if second > 12:
            orders.discard(DayOrder.DAY_FIRST)
    return orders if seen else {DayOrder.DAY_FIRST}


def day_of(cell: str, *, order: DayOrder, today: date) -> date:
    """The day a cell names. Two figures of a year are the last hundred years up to ten years from today.

    Raises `DomainError` for what is no day.
    """
    text = cell.strip()
    try:
        if match := _YEAR_FIRST.match(text):
            return date(int(match[1]), int(match[2]), int(match[3]))
        if match := _FIGURES.match(text):
            first, second = int(match[1]), int(match[2])
            day, month = (first, second) if order == DayOrder.DAY_FIRST else (second, first)
            return date(_year(match[3], today), month, day)
        if match := _WITH_MONTH.match(text):
            return date(int(match[3]), _month(match[2]), int(match[1]))
        if match := _MONTH_AHEAD.match(text):
            return date(int(match[3]), _month(match[1]), int(match[2]))
    except ValueError:
        pass
    raise DomainError(
        say("“{text}” is no day. Write it like {isoformat}.", text=text[:30], isoformat=today.isoformat()),
        code="no-day",
    )


def time_of(cell: str) -> time:
    """The time of day a cell names: 18:30, 18.30, 6:30 pm. Raises `DomainError` for what is none."""
    text = cell.strip()
    match = _TIME.match(text)
    if match and (match[2] or match[3]):
        hour, minute = int(match[1]), int(match[2] or 0)
        if match[3]:
            hour = hour % 12 + (12 if match[3] in "pP" else 0) if 1 <= hour <= 12 else 99
        if hour < 24 and minute < 60:
            return time(hour, minute)
    raise DomainError(say("“{text}” is no time of day. Write it like 18:30.", text=text[:30]), code="no-time")


def length_mm(cell: str, *, unit: LengthUnit) -> int:
    """A length in whole mm: ``12``, ``12,5``, ``120 mm``, ``4 3/4 in``. ``unit`` where none is written.

    Raises `DomainError` for what is no length.
    """
    try:
        mm = read_length(cell, bare=unit)
    except DomainError:
        mm = -1
    if mm < 0:
        text = cell.strip()[:30]
        raise DomainError(say("“{text}” is no length. Write it like 12 cm.", text=text), code="no-length")
    return mm


def plain(words: str) -> str:
    """By which two cells mean the same name of a class, clay or place: capitals, spaces and hyphens aside."""
    return " ".join(words.casefold().replace("-", " ").split())


def whole_of(cell: str, *, what: str) -> int:
    """A whole number such as ``8`` or ``8.0``. Raises `DomainError` for what is none."""
    text = cell.strip()
    if not re.fullmatch(r"\d{1,6}([.,]0+)?", text):
        raise DomainError(
            say("“{text}” is no {what}. Write a whole number.", text=text[:30], what=what), code="no-number"
        )
    return int(re.split("[.,]", text)[0])


def figure_of(cell: str, *, what: str) -> Decimal:
    """A figure with up to two places: ``12``, ``12.5``, ``12,50``. Raises `DomainError` for what is none."""
    text = cell.strip().replace(",", ".")
    if not re.fullmatch(r"\d{1,6}(\.\d{1,2})?", text):
        raise DomainError(
            say("“{cell}” is no {what}. Write a figure such as 12.5.", cell=cell.strip()[:30], what=what),
            code="no-number",
        )
    return Decimal(text)


def names_of(whole: str) -> tuple[str, str]:
    """First and last name: ``Ines Alder`` and ``Alder, Ines`` alike; the last word is the last name."""
    text = " ".join(whole.split())
    if text.count(",") == 1:
        last, first = (part.strip() for part in text.split(","))
        if first and last:
            return first, last
    first, _, last = text.rpartition(" ")
    return (first, last) if first else (last, "")


def _year(text: str, today: date) -> int:
    if len(text) == 4:
        return int(text)
    year = today.year // 100 * 100 + int(text)
    return year - 100 if year > today.year + 10 else year


def _month(word: str) -> int:
    return _MONTHS.index(word[:3].lower()) + 1
