"""Codes from an authenticator app, and recovery codes: set up, checked once each, taken away.

A code is RFC 6238's: SHA-1, six digits, half a minute, as the apps have it. One half minute before and after
is allowed for a clock that is off. A code that was taken, or an older one, is never taken again. Six digits
are 20 bits, so tries are counted: twenty an hour for a person and for a requester (see `limits`).
"""

from __future__ import annotations

import base64
import secrets
from datetime import datetime

import pyotp
from cryptography.fernet import Fernet, InvalidToken
from django.conf import settings
from django.db import transaction
from django.utils.crypto import salted_hmac

from studio.domain.problems import Problem, Refused
from studio.domain.say import later, say
from studio.models import Authenticator, Passkey, Person, RecoveryCode, Studio
from studio.models.base import CODE_ALPHABET
from studio.queries import second_steps as queries

from . import devices, limits
from .common import moment, must_be_tutor, refuse

STEP_SECONDS = 30
RECOVERY_CODES = 10
#: 28^10, about 48 bits: not to be guessed, in two groups of five.
RECOVERY_LENGTH = 10

_DOES_NOT_FIT = Problem(
    "code-does-not-fit",
    later("That code does not fit. Wait for the app’s next one and type that; each works once."),
)


@transaction.atomic
def begin_authenticator(*, by: Person, now: datetime | None = None) -> str:
    """A new secret for one's own app, of no use before `confirm_authenticator`; returns it in base32.

    Asked again before then, the same secret: a reloaded page shows what the app has read.
    """
    _staff(by)
    row = Authenticator.objects.select_for_update().filter(person=by).first()
    if row is not None and row.confirmed_at is not None:
        refuse("has-authenticator", say("An app is set up already. Take that one away first."))
    if row is None:
        row = Authenticator.objects.create(
            person=by, sealed_secret=seal(pyotp.random_base32()), made_at=moment(now)
        )
    return unseal(row.sealed_secret)


def app_address(person: Person, secret: str) -> str:
    """The ``otpauth`` address that an app reads from a square code."""
    return pyotp.TOTP(secret).provisioning_uri(
        name=person.email or person.full_name, issuer_name=Studio.the().name.replace(":", " ")
    )


def confirm_authenticator(*, by: Person, typed: str, now: datetime | None = None) -> list[str]:
    """The first code from the app; from here on one is asked for. Returns the recovery codes, shown once."""
    _staff(by)
    now = moment(now)
    limits.spend(kind="second-tried-for", key=str(by.pk), now=now)
    with transaction.atomic():
        row = Authenticator.objects.select_for_update().filter(person=by, confirmed_at__isnull=True).first()
        if row is None:
            refuse("no-authenticator", say("There is no app to set up. Begin again."))
        step = _step_of(unseal(row.sealed_secret), typed, now)
        if step is None:
            raise Refused(_DOES_NOT_FIT)
        row.confirmed_at, row.last_step = now, step
        row.save(update_fields=["confirmed_at", "last_step"])
        return new_recovery_codes(by=by, now=now)


@transaction.atomic
def new_recovery_codes(*, by: Person, now: datetime | None = None) -> list[str]:
    """Ten new codes; the old ones work no more. They are shown once and kept as hashes."""
    _staff(by)
    now = moment(now)
    RecoveryCode.objects.filter(person=by).delete()
    codes = [
        "".join(secrets.choice(CODE_ALPHABET) for _ in range(RECOVERY_LENGTH)) for _ in range(RECOVERY_CODES)
    ]
    RecoveryCode.objects.bulk_create(
        RecoveryCode(person=by, code_hash=hash_of(by, code), made_at=now) for code in codes
    )
    half = RECOVERY_LENGTH // 2
    return [f"{code[:half]}-{code[half:]}" for code in codes]


def use_code(*, person: Person, typed: str, requester_key: str, now: datetime | None = None) -> None:
    """Take a code of the app or a recovery code, once. Refused when it does not fit or was used.

    Tries that were refused stay counted, so this is no single transaction; what takes the code is one
    statement that changes only a row that has not taken it.
    """
    now = moment(now)
    tries = [
        limits.spend(kind="second-tried-from", key=requester_key, now=now),
        limits.spend(kind="second-tried-for", key=str(person.pk), now=now),
    ]
    if not (_take_app_code(person, typed, now) or _take_recovery_code(person, typed, now)):
        raise Refused(_DOES_NOT_FIT)
    for attempt in tries:
        attempt.delete()


@transaction.atomic
def drop_authenticator(*, by: Person) -> None:
    """Take one's own app away. Without any passkey left, the recovery codes go too."""
    Authenticator.objects.filter(person=by).delete()
    tidy_recovery_codes(by)


@transaction.atomic
def forget_all(*, person: Person, by: Person | None) -> None:
    """Take away every second step of a helper who has lost the phone, and sign them out everywhere.

    ``by`` None is the command line on the studio's computer, which does it for a tutor.
    """
    if by is not None:
        must_be_tutor(by)
        if person.is_tutor:
            refuse(
                "tutors-own",
                say("A tutor’s own is taken away on their own page, or on the studio’s computer."),
            )
    for model in (Authenticator, Passkey, RecoveryCode):
        model.objects.filter(person=person).delete()
    devices.end_devices(person=person, by=None)


def tidy_recovery_codes(person: Person) -> None:
    if not queries.has_second_step(person):
        RecoveryCode.objects.filter(person=person).delete()


def hash_of(person: Person, code: str) -> str:
    return salted_hmac("wareboard.recovery", f"{person.pk}:{_plain(code)}", algorithm="sha256").hexdigest()


def seal(secret: str) -> str:
    return _box().encrypt(secret.encode()).decode()


def unseal(sealed: str) -> str:
    """Refused when the studio's secret key is not the one it was sealed with."""
    try:
        return _box().decrypt(sealed.encode()).decode()
    except InvalidToken:
        refuse("sealed", say("The studio’s secret key has changed, so the app’s codes can’t be checked."))


def _box() -> Fernet:
    key = salted_hmac("wareboard.authenticator", "", secret=settings.SECRET_KEY, algorithm="sha256").digest()
    return Fernet(base64.urlsafe_b64encode(key))


def _staff(by: Person) -> None:
    if not by.is_staff_member or not by.is_active:
        refuse(
            "staff-only", say("Students and guardians sign in by an emailed code and need no second step.")
        )


def _step_of(secret: str, typed: str, now: datetime) -> int | None:
    """The half minute whose code this is: this one, the one before or after; None where it is none."""
    digits = "".join(typed.split())
    if len(digits) > 6 or not (digits.isascii() and digits.isdigit()):
        return None
    this = int(now.timestamp()) // STEP_SECONDS
    app = pyotp.TOTP(secret)
    fits = [step for step in (this - 1, this, this + 1) if app.verify(digits, for_time=step * STEP_SECONDS)]
    return max(fits, default=None)


def _take_app_code(person: Person, typed: str, now: datetime) -> bool:
    row = Authenticator.objects.filter(person=person, confirmed_at__isnull=False).first()
    step = row and _step_of(unseal(row.sealed_secret), typed, now)
    if not step:
        return False
    return bool(Authenticator.objects.filter(pk=row.pk, last_step__lt=step).update(last_step=step))


def _take_recovery_code(person: Person, typed: str, now: datetime) -> bool:
    if len(_plain(typed)) != RECOVERY_LENGTH:
        return False
    rows = RecoveryCode.objects.filter(person=person, code_hash=hash_of(person, typed), used_at__isnull=True)
    return bool(rows.update(used_at=now))


def _plain(code: str) -> str:
    return "".join(sign for sign in code[:40].upper() if sign.isalnum())
