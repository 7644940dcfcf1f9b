"""People: who they are, who answers for the young ones, and their coming and going."""

from __future__ import annotations

from datetime import date, datetime

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q

from studio.domain.languages import LANGUAGES
from studio.domain.problems import Problem
from studio.domain.say import later, listed, say
from studio.domain.stages import ENDED
from studio.models import Person, Piece, Role, Showing

from . import devices
from .common import (
    clean_choice,
    clean_email,
    clean_text,
    local_day,
    moment,
    must_be_tutor,
    refuse,
    refuse_all,
    save_checked,
)

OLDEST_YEARS = 120


@transaction.atomic
def save_person(
    *,
    by: Person | None,
    first_name: str,
    last_name: str = "",
    email: str | None = "",
    phone: str = "",
    role: str = Role.MEMBER,
    born_on: date | None = None,
    guardian: Person | None = None,
    gallery_consent: bool = False,
    notes: str = "",
    person: Person | None = None,
    now: datetime | None = None,
) -> Person:
    """Add a person, or change one.

    Under 18 there must be a guardian who is grown up, still with the studio and has an email address. Staff
    and guardians of young people must keep an address, and the studio its last tutor. ``by`` may be None
    only while the studio has no tutor at all: that is how the first one comes in.
    """
    now = moment(now)
    if by is not None or Person.objects.filter(role=Role.TUTOR, left_at__isnull=True).exists():
        if by is None:
            refuse("tutor-only", say("Only the tutor can do this."))
        must_be_tutor(by)
    if person is None:
        row = Person(joined_at=now)
        row.set_unusable_password()
    else:
        row = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    _refuse_erased(row)
    row.first_name = clean_text(first_name, label=say("first name"), longest=60, required=True)
    row.last_name = clean_text(last_name, label=say("last name"), longest=60)
    row.email = clean_email(email)
    row.phone = clean_text(phone, label=say("phone number"), longest=40)
    row.role = clean_choice(role, Role.values, label=later("role"))
    row.born_on = born_on
    row.guardian = guardian
    agreed, row.gallery_consent = row.gallery_consent, bool(gallery_consent)
    if row.gallery_consent != agreed:
        row.gallery_consent_by = by if row.gallery_consent else None
    row.notes = clean_text(notes, label=later("notes"), longest=2000, lines=True)
    refuse_all(_birth_problems(row, now))
    refuse_all([*guardian_problems(row, now), *_role_problems(row, now)])
    if row.pk and not row.gallery_consent:
        Showing.objects.filter(maker=row, ended_at__isnull=True).update(ended_at=now)
    save_checked(
        row,
        words={
            "email": say(
                "Somebody else has this email address. Each person needs one of their own; under-18s "
                "need none, as their mail goes to the guardian."
            )
        },
    )
    return row


@transaction.atomic
def person_leaves(*, person: Person, by: Person, now: datetime | None = None) -> Person:
    """Note that somebody has left: they can't sign in any more, what they made and owe stays."""
    must_be_tutor(by)
    now = moment(now)
    row = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    if row.left_at is not None:
        return row
    if _is_last_tutor(row):
        refuse("last-tutor", say("The studio needs a tutor. Make somebody else tutor first."))
    if young := _young_people_of(row, now):
        refuse(
            "is-guardian",
            say(
                "{full_name} answers for {names}. Name another guardian first.",
                full_name=row.full_name,
                names=_names(young),
            ),
        )
    waiting = Piece.objects.filter(maker=row).exclude(stage__in=ENDED).count()
    if waiting:
        pieces = later("piece") if waiting == 1 else later("pieces")
        refuse(
            "has-pieces",
            say(
                "{full_name} still has {waiting} {pieces} here. Hand over or close what is left first.",
                full_name=row.full_name,
                waiting=waiting,
                pieces=pieces,
            ),
        )
    row.left_at = now
    row.save(update_fields=["left_at"])
    devices.end_devices(person=row, by=None, now=now)
    return row


@transaction.atomic
def person_returns(*, person: Person, by: Person, now: datetime | None = None) -> Person:
    """Note that somebody who had left is back."""
    must_be_tutor(by)
    now = moment(now)
    row = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    _refuse_erased(row)
    row.left_at = None
    refuse_all(guardian_problems(row, now))
    row.save(update_fields=["left_at"])
    return row


def choose_language(*, person: Person, language: str, by: Person) -> Person:
    """The language of this person's pages and mails; empty is the studio's. Each chooses their own."""
    if by.pk != person.pk:
        refuse("own-language", say("Each chooses their own language."))
    chosen = clean_choice(language, ["", *LANGUAGES], label=later("language"))
    Person.objects.filter(pk=person.pk).update(language=chosen)
    person.language = chosen
    return person


@transaction.atomic
def set_password(*, person: Person, password: str, by: Person | None, but_session: str = "") -> Person:
    """Give a tutor or helper a password, as another way to sign in than the emailed code.

    Each sets their own; the tutor may set a helper's. ``by`` None is the command line on the studio's
    computer. Whoever was signed in with the old one is signed out, but in the session ``but_session``.
    """
    row = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    if by is not None and by.pk != row.pk:
        must_be_tutor(by)
    if not row.is_staff_member:
        refuse("no-password", say("Students and guardians sign in by an emailed code and need no password."))
    try:
        validate_password(password, row)
    except ValidationError as error:
        refuse_all(Problem("weak-password", message) for message in error.messages)
    row.set_password(password)
    row.save(update_fields=["password"])
    devices.end_devices(person=row, by=None, but_session=but_session)
    return row


def _refuse_erased(row: Person) -> None:
    if row.erased_at is not None:
        refuse("erased", say("This person has been erased. Enter them anew if they are back."))


def guardian_problems(person: Person, now: datetime) -> list[Problem]:
    """Why this person may not be kept or enrolled as they stand: young, and nobody fit answers for them."""
    day = local_day(now)
    guardian = person.guardian
    if guardian is None:
        if person.is_young_on(day):
            return [
                Problem(
                    "guardian-missing",
                    say(
                        "{first_name} is under 18. Name a guardian with an email address first.",
                        first_name=person.first_name,
                    ),
                )
            ]
        return []
    if person.pk and guardian.pk == person.pk:
        return [Problem("own-guardian", say("Nobody can be their own guardian. Choose an adult."))]
    if guardian.is_young_on(day):
        return [
            Problem(
                "guardian-young",
                say("{full_name} is under 18. Choose an adult.", full_name=guardian.full_name),
            )
        ]
    if not guardian.is_active:
        return [
            Problem(
                "guardian-left",
                say(
                    "{full_name} has left the studio. Choose another guardian.", full_name=guardian.full_name
                ),
            )
        ]
    if not guardian.email:
        return [
            Problem(
                "guardian-no-email",
                say(
                    "{full_name} has no email address. Add one to {first_name} first.",
                    full_name=guardian.full_name,
                    first_name=guardian.first_name,
                ),
            )
        ]
    return []


def _birth_problems(person: Person, now: datetime) -> list[Problem]:
    if person.born_on is None:
        return []
    today = local_day(now)
    if person.born_on > today:
        return [Problem("born-ahead", say("The date of birth is in the future. Check the year."))]
    if person.age_on(today) > OLDEST_YEARS:
        return [
            Problem("born-long-ago", say("The date of birth is more than 120 years ago. Check the year."))
        ]
    return []


def _role_problems(person: Person, now: datetime) -> list[Problem]:
    problems = []
    name = person.first_name
    if person.role != Role.MEMBER and not person.email:
        problems.append(Problem("email-missing", say("{name} signs in by email. Add an address.", name=name)))
    if person.role != Role.MEMBER and person.is_young_on(local_day(now)):
        problems.append(
            Problem("staff-young", say("{name} is under 18 and can't be tutor or helper.", name=name))
        )
    if person.pk:
        if person.role != Role.TUTOR and _is_last_tutor(person):
            problems.append(
                Problem("last-tutor", say("The studio needs a tutor. Make somebody else tutor first."))
            )
        young = _young_people_of(person, now)
        if young and (not person.email or person.is_young_on(local_day(now))):
            problems.append(
                Problem(
                    "is-guardian",
                    say(
                        "{name} answers for {names} and so must be grown up and have an email address.",
                        name=name,
                        names=_names(young),
                    ),
                )
            )
    return problems


def _is_last_tutor(person: Person) -> bool:
    tutors = Person.objects.filter(role=Role.TUTOR, left_at__isnull=True)
    return tutors.filter(pk=person.pk).exists() and not tutors.filter(~Q(pk=person.pk)).exists()


def _young_people_of(person: Person, now: datetime) -> list[Person]:
    day = local_day(now)
    return [young for young in person.young_people.current() if young.is_young_on(day)]


def _names(people: list[Person]) -> str:
    return listed([person.first_name for person in people])
