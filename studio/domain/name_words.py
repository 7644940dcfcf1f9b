"""Finding a person's name, address and number in words that somebody wrote, and taking them out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

#: A number or name shorter than this may be anything.
LEAST = 2
LEAST_PHONE = 6


@dataclass(frozen=True, slots=True)
class Names:
    """What a person is known by. ``sure`` names nobody else: full name, address, number. ``close`` are the
    parts of the name, which mean this person only in rows that are about them."""

    sure: tuple[str, ...]
    close: tuple[str, ...]

    @property
    def all(self) -> tuple[str, ...]:
        return (*self.sure, *self.close)


def names_of(*, first_name: str, last_name: str, email: str, phone: str) -> Names:
    full = f"{first_name} {last_name}".strip() if last_name else ""
    turned = f"{last_name}, {first_name}" if last_name else ""
    sure = [full, turned, email, phone if sum(sign.isdigit() for sign in phone) >= LEAST_PHONE else ""]
    close = [word for word in (first_name, last_name) if len(word) >= LEAST]
    return Names(tuple(word for word in sure if word), tuple(close))


def without(text: str, words: Iterable[str], instead: str) -> str:
    """The text with ``instead`` where one of these words stood, whole and in whatever capitals.

    An address inside a longer one, or a name inside a longer word, is somebody else's and stays.
    """
    for word in sorted(filter(None, words), key=len, reverse=True):
        text = re.sub(
            rf"(?<![\w.+-]){re.escape(word)}(?!\w|[.-]\w)", lambda _: instead, text, flags=re.IGNORECASE
        )
    return text
