"""Signing in: by a code from a mail, by the link in it, or, for tutor and helpers, by a password.

Nothing here tells whether an address is known: the same rows are written and the same work is done, and the
refusals are the same sentences. Counted tries stay counted when a try is refused, so these are not single
transactions; each step is one statement that changes only what it expects. How codes are made: see
``notifications/codes``.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.contrib.auth import authenticate
from django.db.models import F
from django.utils import timezone

from studio.domain.problems import Problem, Refused
from studio.domain.say import later
from studio.models import Attempt, Person, SignInCode
from studio.notifications import codes
from studio.queries import notices as queries

from . import limits
from .common import clean_email

#: How long rows about codes and tries are kept.
KEPT = timedelta(days=1)

_DOES_NOT_FIT = Problem(
    "code-does-not-fit",
    later("That code does not fit, or its time is over. Look at the newest mail, or ask for another code."),
)
_LINK_OVER = Problem(
    "link-over", later("This link has been used, or its ten minutes are over. Ask for another code below.")
)
_WRONG_PASSWORD = Problem("wrong-password", later("That address and password do not go together. Try again."))


def ask_code(*, email: str, requester_key: str, now: datetime | None = None) -> str:
    """Ask for a code for this address; returns the token that the asking browser keeps.

    The mail worker makes and mails the code. Young people, people who have left and strangers get none; the
    answer is the same. Refused after twenty askings an hour for one address or from one requester.
    """
    now = now or timezone.now()
    address = clean_email(email, required=True) or ""
    limits.spend(kind="code-asked-from", key=requester_key, now=now)
    limits.spend(kind="code-asked-for", key=address, now=now)
    # Whatever is found, the same questions are put to the database.
    day = queries.today(now)
    person = Person.objects.filter(email=address).first()
    asked = SignInCode.objects.create(
        person=person if person is not None and queries.address_of(person, day) else None,
        token=codes.new_token(),
        asked_at=now,
        expires_at=now + codes.LASTS,
    )
    return asked.token


def use_code(*, token: str, typed: str, requester_key: str, now: datetime | None = None) -> Person:
    """The person a typed code lets in, in the browser that holds the token it was asked with.

    Refused when it does not fit, is older than ten minutes, has been used, or was tried five times.
    """
    now = now or timezone.now()
    tries = [
        limits.spend(kind="code-tried-from", key=requester_key, now=now),
        limits.spend(kind="code-tried-for", key=_whom(token), now=now),
    ]
    asked = SignInCode.objects.filter(token=token).select_related("person").first()
    fits = code_fits(asked, token=token, typed=typed)
    usable = SignInCode.objects.filter(
        token=token, used_at__isnull=True, expires_at__gt=now, tries__lt=codes.MOST_TRIES
    )
    counted = usable.update(tries=F("tries") + 1)
    if asked is None or not fits or not counted:
        raise Refused(_DOES_NOT_FIT)
    return _let_in(asked, otherwise=_DOES_NOT_FIT, tries=tries, now=now)


def code_fits(asked: SignInCode | None, *, token: str, typed: str) -> bool:
    """Whether the typed text is this row's code, in constant time. Says nothing of age, use or tries."""
    return codes.matches(asked.code_hash if asked else "", codes.hash_of_code(token, typed))


def use_link(*, secret: str, requester_key: str, now: datetime | None = None) -> Person:
    """The person the link of a mail lets in, once. It may be opened on another device than the one that
    asked.
    """
    now = now or timezone.now()
    tries = [limits.spend(kind="link-tried-from", key=requester_key, now=now)]
    hashed = codes.hash_of_link(secret)
    asked = SignInCode.objects.filter(link_hash=hashed).select_related("person").first()
    if asked is None or not codes.matches(asked.link_hash, hashed) or asked.expires_at <= now:
        raise Refused(_LINK_OVER)
    return _let_in(asked, otherwise=_LINK_OVER, tries=tries, now=now)


def use_password(*, email: str, password: str, requester_key: str, now: datetime | None = None) -> Person:
    """The tutor or helper with this address and password. Others have none, and the answer is the same."""
    now = now or timezone.now()
    address = email.strip().lower()
    tries = [
        limits.spend(kind="password-tried-from", key=requester_key, now=now),
        limits.spend(kind="password-tried-for", key=address, now=now),
    ]
    person = None if "\0" in address + password else authenticate(username=address, password=password)
    if person is None or not person.is_staff_member or not may_sign_in(person, now):
        raise Refused(_WRONG_PASSWORD)
    _forgive(tries)
    return person


def may_sign_in(person: Person, now: datetime) -> bool:
    """Whoever has not left and can be written to; for a young person the guardian signs in."""
    return bool(queries.address_of(person, queries.today(now)))


def tidy(*, now: datetime | None = None) -> int:
    """Delete codes and counted tries older than a day; returns how many rows went."""
    now = now or timezone.now()
    went = SignInCode.objects.filter(expires_at__lt=now - KEPT).delete()[0]
    return went + Attempt.objects.filter(at__lt=now - KEPT).delete()[0]


def _whom(token: str) -> str:
    """What tries are counted under: the person a code is for, or the token where it is nobody's."""
    row = SignInCode.objects.filter(token=token).values_list("person_id", flat=True).first()
    return f"person:{row}" if row else f"token:{token}"


def _let_in(asked: SignInCode, *, otherwise: Problem, tries: list[Attempt], now: datetime) -> Person:
    used = SignInCode.objects.filter(pk=asked.pk, used_at__isnull=True, expires_at__gt=now)
    if not used.update(used_at=now):
        raise Refused(otherwise)
    if asked.person is None or not may_sign_in(asked.person, now):
        raise Refused(otherwise)
    _forgive(tries)
    return asked.person


def _forgive(tries: list[Attempt]) -> None:
    Attempt.objects.filter(pk__in=[attempt.pk for attempt in tries]).delete()
