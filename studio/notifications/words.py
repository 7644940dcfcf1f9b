"""Small words of mails: clean lines, counts, lists, dates."""

from __future__ import annotations

import unicodedata
from datetime import date

from studio.domain.say import date_words, later

_NUMBERS = (
    *(
        later("No"),
        later("One"),
        later("Two"),
        later("Three"),
        later("Four"),
        later("Five"),
        later("Six"),
        later("Seven"),
        later("Eight"),
        later("Nine"),
        later("Ten"),
    ),
    *(later("Eleven"), later("Twelve")),
)

#: Control characters, line and paragraph separators, lone halves of surrogate pairs: none may reach a header.
_UNSEEN = frozenset({"Cc", "Zl", "Zp", "Cs"})


def one_line(text: str) -> str:
    """The text on one line, fit for a mail header: what can't be seen becomes a space, runs of spaces one."""
    seen = "".join(" " if unicodedata.category(sign) in _UNSEEN else sign for sign in text)
    return " ".join(seen.split())


def lines(text: str) -> list[str]:
    """The lines of a longer text, each clean, without empty ones at either end."""
    cleaned = [one_line(line) for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")]
    while cleaned and not cleaned[-1]:
        cleaned.pop()
    while cleaned and not cleaned[0]:
        cleaned.pop(0)
    return cleaned


def count_words(count: int) -> str:
    """``Three``; from thirteen on in figures."""
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def whose(first_name: str) -> str:
    """``Sam's``, ``Ines's``."""
    return f"{first_name}'s"


def long_day(day: date) -> str:
    """``Friday 19 December``."""
    return date_words(day, "l j F")
