"""Passkeys (W3C Web Authentication, level 3): made, used, taken away. The library checks the signatures."""

from __future__ import annotations

import base64
import binascii
import json
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.crypto import salted_hmac
from webauthn import (
    base64url_to_bytes,
    generate_authentication_options,
    generate_registration_options,
    options_to_json,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import bytes_to_base64url
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from studio.domain.problems import Problem, Refused
from studio.domain.say import later, say
from studio.models import Passkey, Person, Studio

from . import limits
from .common import clean_text, moment, refuse
from .second_steps import new_recovery_codes, tidy_recovery_codes

MOST = 10
#: What a browser sends is a few kilobytes.
LONGEST_ANSWER = 20_000

NOT_TAKEN = Problem(
    "passkey-not-taken", later("That passkey was not taken. Try again, or sign in in another way.")
)


@dataclass(frozen=True, slots=True)
class Site:
    """Where the studio is: passkeys work there and nowhere else."""

    host: str
    origin: str


@dataclass(frozen=True, slots=True)
class Question:
    """What the browser is asked, as JSON, and the challenge to hold its answer against."""

    options: str
    challenge: str


def question_for_new(*, by: Person, site: Site) -> Question:
    """Ask a device of one's own for a new passkey."""
    _may_have_one(by)
    options = generate_registration_options(
        rp_id=site.host,
        rp_name=Studio.the().name,
        user_id=_handle(by),
        user_name=by.email or by.full_name,
        user_display_name=by.full_name,
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.PREFERRED,
            user_verification=UserVerificationRequirement.REQUIRED,
        ),
        exclude_credentials=_descriptors(by),
    )
    return Question(options_to_json(options), bytes_to_base64url(options.challenge))


def question_for_old(*, person: Person | None, site: Site) -> Question:
    """Ask for a passkey of this person's; for None, for any the device has for this place."""
    options = generate_authentication_options(
        rp_id=site.host,
        allow_credentials=_descriptors(person) if person else None,
        user_verification=UserVerificationRequirement.REQUIRED,
    )
    return Question(options_to_json(options), bytes_to_base64url(options.challenge))


def add_passkey(
    *, by: Person, answer: str, challenge: str, name: str, site: Site, now: datetime | None = None
) -> tuple[Passkey, list[str]]:
    """Keep a new passkey; with the first second step of all come recovery codes, else an empty list."""
    _may_have_one(by)
    now = moment(now)
    name = clean_text(name, label=say("name of the passkey"), longest=60, required=True)
    try:
        made = verify_registration_response(
            credential=_read(answer),
            expected_challenge=base64url_to_bytes(challenge),
            expected_rp_id=site.host,
            expected_origin=site.origin,
            require_user_verification=True,
        )
    except (WebAuthnException, ValueError, TypeError, KeyError, binascii.Error):
        raise Refused(NOT_TAKEN) from None
    key = bytes_to_base64url(made.credential_id)
    with transaction.atomic():
        Person.objects.select_for_update(no_key=True).get(pk=by.pk)
        if Passkey.objects.filter(credential_id=key).exists():
            refuse("passkey-known", say("This passkey is set up already."))
        row = Passkey.objects.create(
            person=by,
            name=name,
            credential_id=key,
            public_key=made.credential_public_key,
            sign_count=made.sign_count,
            made_at=now,
        )
        codes = (
            []
            if by.recovery_codes.filter(used_at__isnull=True).exists()
            else new_recovery_codes(by=by, now=now)
        )
    return row, codes


def use_passkey(
    *,
    person: Person | None,
    answer: str,
    challenge: str,
    site: Site,
    requester_key: str,
    now: datetime | None = None,
) -> Person:
    """Whose passkey answered the challenge: of this person's, or, for None, of any of the staff's."""
    now = moment(now)
    attempt = limits.spend(kind="passkey-tried-from", key=requester_key, now=now)
    credential = _read(answer)
    row = Passkey.objects.filter(credential_id=credential.get("id", "")).select_related("person").first()
    if row is None or (person is not None and row.person_id != person.pk):
        raise Refused(NOT_TAKEN)
    try:
        used = verify_authentication_response(
            credential=credential,
            expected_challenge=base64url_to_bytes(challenge),
            expected_rp_id=site.host,
            expected_origin=site.origin,
            credential_public_key=bytes(row.public_key),
            credential_current_sign_count=row.sign_count,
            require_user_verification=True,
        )
    except (WebAuthnException, ValueError, TypeError, KeyError, binascii.Error):
        raise Refused(NOT_TAKEN) from None
    Passkey.objects.filter(pk=row.pk).update(sign_count=used.new_sign_count, used_at=now)
    attempt.delete()
    return row.person


@transaction.atomic
def drop_passkey(*, code: str, by: Person) -> str:
    """Take away one of one's own; returns what it was called."""
    row = Passkey.objects.filter(code=code, person=by).first()
    if row is None:
        refuse("no-passkey", say("That passkey is gone already. Nothing needs to be done."))
    row.delete()
    tidy_recovery_codes(by)
    return row.name


def _may_have_one(by: Person) -> None:
    if not by.is_staff_member or not by.is_active:
        refuse("staff-only", say("Students and guardians sign in by an emailed code and need no passkey."))
    if by.passkeys.count() >= MOST:
        refuse("too-many-passkeys", say("{most} passkeys are enough. Take one away first.", most=MOST))


def _descriptors(person: Person) -> list[PublicKeyCredentialDescriptor]:
    keys = person.passkeys.values_list("credential_id", flat=True)
    return [PublicKeyCredentialDescriptor(id=base64url_to_bytes(key)) for key in keys]


def _handle(person: Person) -> bytes:
    """What the device keeps to tell people apart: the same for ever, and says nothing of them."""
    return base64.urlsafe_b64encode(
        salted_hmac("wareboard.passkey", str(person.pk), algorithm="sha256").digest()
    )


def _read(answer: str) -> dict:
    try:
        read = json.loads(answer[:LONGEST_ANSWER])
    except ValueError:
        raise Refused(NOT_TAKEN) from None
    if not isinstance(read, dict) or not isinstance(read.get("id"), str) or "\0" in read["id"]:
        raise Refused(NOT_TAKEN)
    return read
