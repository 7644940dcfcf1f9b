"""Sign-in codes and links: how they are made, and what of them is kept.

The code is eight characters of sixteen, 32 bits, shown as two groups of four. Six digits would be quicker
to type, but they are 20 bits: whoever may ask for a code of somebody else's address twenty times an hour
and try each five times would need luck of one in ten thousand an hour, and a year has many hours. With 32
bits the same patience is one in five thousand a *year*, and the link in the same mail still lets in
somebody whose typed tries a stranger has spent. (OWASP ASVS 5.0, 6.5 and 6.6: at least 20 bits, limited
tries, ten minutes, used once, bound to the request it was made for.) The alphabet is that of the marks
without its vowels, so that no code spells a word. Capitals, spaces and hyphens do not matter.

The link carries 256 bits of its own. Only keyed hashes are kept, each under its own purpose: a stored hash
is of no use to anybody without the studio's secret key, and one kind never passes for another.
"""

from __future__ import annotations

import secrets
from datetime import timedelta

from django.utils.crypto import constant_time_compare, salted_hmac

from studio.domain import marks

ALPHABET = "".join(sign for sign in marks.ALPHABET if sign not in "AEY")
LENGTH = 8
LASTS = timedelta(minutes=10)
MOST_TRIES = 5

_CODE_PURPOSE = "wareboard.sign-in.code"
_LINK_PURPOSE = "wareboard.sign-in.link"


def new_token() -> str:
    """What the asking browser keeps: 256 bits."""
    return secrets.token_urlsafe(32)


def new_code() -> str:
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


def new_link_secret() -> str:
    return secrets.token_urlsafe(32)


def shown(code: str) -> str:
    """``K7HT 94WX``."""
    return f"{code[: LENGTH // 2]} {code[LENGTH // 2 :]}"


def hash_of_code(token: str, code: str) -> str:
    """The keyed hash of a code, tied to the browser that asked: 64 hexadecimal digits."""
    return salted_hmac(_CODE_PURPOSE, f"{token}:{marks.normalise(code[:64])}", algorithm="sha256").hexdigest()


def hash_of_link(secret: str) -> str:
    return salted_hmac(_LINK_PURPOSE, secret, algorithm="sha256").hexdigest()


def matches(stored_hash: str, candidate_hash: str) -> bool:
    """Compare in constant time; an empty stored hash (no mail made yet, nobody's address) never matches."""
    return constant_time_compare(stored_hash or "-" * 64, candidate_hash) and bool(stored_hash)
