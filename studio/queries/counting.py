"""Numbers of things as people say them."""

from __future__ import annotations

from studio.domain.say import later

_NAMES = (
    *(later("no"), later("one"), later("two"), later("three"), later("four"), later("five")),
    *(later("six"), later("seven"), later("eight"), later("nine"), later("ten")),
)


def counted(number: int, one: str, many: str) -> str:
    """``3 pieces``; small numbers in words, as one would write them."""
    what = one if number == 1 else many
    return f"{_NAMES[number]} {what}" if number < len(_NAMES) else f"{number} {what}"


def capital(words: str) -> str:
    return words[:1].upper() + words[1:]
