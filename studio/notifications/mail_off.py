"""Stopping a kind of mail: the signed address that stands in its head (RFC 2369, RFC 8058) and its foot.

The address says whose mail and which kind, signed for this purpose alone; it needs no sign-in, as the mail
reader itself presses it. Money, safety, sign-in and what became of a piece are in no such list.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.core import signing
from django.urls import reverse

from studio.models import Person

_PURPOSE = "studio.mail-off"


@dataclass(frozen=True, slots=True)
class Stopped:
    """Whose mail of which kind an address stops."""

    person_code: str
    list: str


def off_token(person: Person, which: str) -> str:
    return signing.dumps([person.code, which], salt=_PURPOSE)


def off_link(person: Person, which: str) -> str:
    return settings.SITE_URL + reverse("mail-off", args=[off_token(person, which)])


def read_token(token: str) -> Stopped | None:
    """What the address stands for; None for one that was changed, or was made for something else."""
    try:
        code, which = signing.loads(token, salt=_PURPOSE)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    return Stopped(code, which)
