"""Bank accounts and the code for a euro transfer that a phone can read off a statement.

IBAN: ISO 13616, check digits by ISO 7064 MOD 97-10. BIC: ISO 9362. The code: European Payments Council,
EPC069-12, "Quick Response Code: guidelines to enable data capture for the initiation of a SEPA credit
transfer", version 002.
"""

from __future__ import annotations

import re

from .problems import DomainError
from .say import say

_IBAN = re.compile(r"[A-Z]{2}[0-9]{2}[A-Z0-9]{11,30}")
_BIC = re.compile(r"[A-Z]{4}[A-Z]{2}[A-Z0-9]{2}([A-Z0-9]{3})?")
NAME_LONGEST, REFERENCE_LONGEST, BYTES_MOST = 70, 140, 331
#: 999999999.99 euro.
_MOST_MINOR = 99_999_999_999


def clean_iban(typed: str) -> str:
    """An IBAN in its electronic form, without spaces. DomainError when it can't be right."""
    iban = re.sub(r"\s", "", typed).upper()
    if not _IBAN.fullmatch(iban):
        raise DomainError(say("That is no IBAN. It begins with two letters and two digits, like DE89 3704 …"))
    if remainder(iban[4:] + iban[:4]) != 1:
        raise DomainError(say("The check digits of that IBAN are wrong. Compare it with the bank's paper."))
    return iban


def remainder(characters: str) -> int:
    """Modulo 97 with letters as 10 to 35."""
    return int("".join(str(int(character, 36)) for character in characters)) % 97


def clean_bic(typed: str) -> str:
    """A BIC of 8 or 11 characters, or nothing."""
    bic = re.sub(r"\s", "", typed).upper()
    if bic and not _BIC.fullmatch(bic):
        raise DomainError(say("A BIC has 8 or 11 letters and digits. Leave it empty if you don't know it."))
    return bic


def grouped(iban: str) -> str:
    """In fours, as it is printed."""
    return " ".join(iban[start : start + 4] for start in range(0, len(iban), 4))


def transfer_code(*, name: str, iban: str, bic: str = "", amount_minor: int, reference: str = "") -> str:
    """The text of the code: one element a line, none after the last that says something.

    ``amount_minor`` is euro cents, from 1. DomainError for anything a bank's app would not take.
    """
    name, reference = " ".join(name.split()), " ".join(reference.split())
    if not name or len(name) > NAME_LONGEST:
        raise DomainError(
            say("The payee's name must have 1 to {name_longest} characters.", name_longest=NAME_LONGEST)
        )
    if len(reference) > REFERENCE_LONGEST:
        raise DomainError(
            say(
                "The reference must not be longer than {reference_longest} characters.",
                reference_longest=REFERENCE_LONGEST,
            )
        )
    if type(amount_minor) is not int or not 1 <= amount_minor <= _MOST_MINOR:
        raise DomainError(say("The amount of a transfer is from 0.01 to 999,999,999.99 euro."))
    euros, cents = divmod(amount_minor, 100)
    lines = [
        "BCD",  # service tag
        "002",  # version: the BIC may be left out
        "1",  # characters in UTF-8
        "SCT",  # a SEPA credit transfer
        clean_bic(bic),
        name,
        clean_iban(iban),
        f"EUR{euros}.{cents:02d}",
        "",  # purpose
        "",  # structured reference: instead of words, never beside them
        reference,
    ]
    text = "\n".join(lines).rstrip("\n")
    if len(text.encode()) > BYTES_MOST:
        raise DomainError(
            say("The code would hold more than {bytes_most} bytes. Shorten the name.", bytes_most=BYTES_MOST)
        )
    return text
