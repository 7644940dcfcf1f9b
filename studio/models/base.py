"""What every model shares: unguessable public codes and choices built from the domain's enums."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from enum import StrEnum

#: No vowels and no look-alikes: a code can't spell a word and can be read aloud.
CODE_ALPHABET = "23456789BCDFGHJKLMNPQRSTVWXZ"
PUBLIC_CODE_LENGTH = 8
TAG_CODE_LENGTH = 10


def _code(length: int) -> str:
    # One draw for the whole code: a large firing makes thousands of them.
    drawn, signs = secrets.randbelow(len(CODE_ALPHABET) ** length), []
    for _ in range(length):
        drawn, place = divmod(drawn, len(CODE_ALPHABET))
        signs.append(CODE_ALPHABET[place])
    return "".join(signs)


def public_code() -> str:
    """A code for a page's address: 28^8, about 38 bits. Pages behind it still ask who is asking."""
    return _code(PUBLIC_CODE_LENGTH)


def tag_code() -> str:
    """A code printed in a QR: 28^10, about 48 bits, so that guessing finds nothing."""
    return _code(TAG_CODE_LENGTH)


def choices_from(words: Mapping[StrEnum, str]) -> list[tuple[str, str]]:
    return [(member.value, word) for member, word in words.items()]
