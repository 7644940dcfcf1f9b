"""What a guardian consents to for somebody under 18, kept word for word."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from studio.domain.say import date_words, say
from studio.models import ClassRules, Consent, Course, Person

from .common import clean_text, local_day, moment, must_be_tutor, refuse, refuse_all
from .people import guardian_problems


def words_for(name: str) -> str:
    """What the guardian of this young person consents to: the studio's words, or the usual ones."""
    own = ClassRules.the().consent_words.strip()
    return own or (
        say(
            "As the parent or guardian of {name} I agree that they take part in the classes of "
            "the studio, work with clay, glazes and tools under the tutor’s eye, and are helped "
            "in an emergency as I would have it. The studio may write to me about it.",
            name=name,
        )
    )


def consent_of(person: Person) -> Consent | None:
    """The consent that stands for somebody, the newest."""
    return Consent.objects.filter(person=person, taken_back_at__isnull=True).order_by("-given_at").first()


def give_consent(
    *,
    person: Person,
    given_by: Person,
    course: Course | None,
    consents: bool,
    signed: str,
    now: datetime,
) -> Consent:
    """Keep a guardian's consent; `Refused` without a tick and a name under it."""
    if not consents:
        refuse(
            "consent-missing",
            say("{first_name} is under 18: the guardian’s consent is missing.", first_name=person.first_name),
        )
    return Consent.objects.create(
        person=person,
        given_by=given_by,
        course=course,
        words=words_for(person.first_name),
        signed=clean_text(signed, label=say("guardian’s name under the consent"), longest=121, required=True),
        given_at=now,
    )


def is_wanted(person: Person, now: datetime) -> bool:
    """Whether a guardian has to consent before this person's place can be confirmed."""
    return person.is_young_on(local_day(now)) and consent_of(person) is None


def note_signed_paper(
    *, person: Person, signed_on: date, course: Course | None, by: Person, now: datetime
) -> Consent:
    """Keep that the guardian has signed the studio's words on paper, and who says so.

    The words are kept as they are today. `Refused` for a day that can't be the day of signing.
    """
    refuse_all(guardian_problems(person, now))
    name, today = person.first_name, local_day(now)
    if signed_on > today:
        refuse(
            "signed-ahead",
            say("{name}’s consent can’t have been signed on a day to come. Check the day.", name=name),
        )
    if person.born_on and signed_on < person.born_on:
        refuse(
            "signed-before-birth",
            say(
                "{name} was born on {born_on}: the consent can’t have been signed before. Check the day.",
                name=name,
                born_on=date_words(person.born_on, "j F Y"),
            ),
        )
    return Consent.objects.create(
        person=person,
        given_by=person.guardian,
        course=course,
        words=words_for(name),
        signed=person.guardian.full_name,
        given_at=now,
        signed_on=signed_on,
        noted_by=by,
    )


def must_be_on_file(
    *, person: Person, signed_on: date | None, course: Course, by: Person | None, now: datetime
) -> None:
    """A place of somebody under 18 is confirmed only with the guardian's consent on file.

    ``signed_on`` is the day on a paper that the tutor has in hand; with it the consent is noted. Somebody who
    is grown up, or whose consent is on file, needs none.
    """
    if not is_wanted(person, now):
        return
    if signed_on is None or by is None:
        refuse(
            "consent-missing",
            say(
                "{name} is under 18, and no consent is on file. Have {guardian} sign on paper, then say so "
                "here with the day of signing.",
                name=person.first_name,
                guardian=person.guardian.full_name,
            ),
        )
    note_signed_paper(person=person, signed_on=signed_on, course=course, by=by, now=now)


@transaction.atomic
def agree(
    *, person: Person, by: Person, consents: bool, signed: str, now: datetime | None = None
) -> Consent | None:
    """The guardian consents on a page of their own; twice is once. None where it needs no consent."""
    now = moment(now)
    row = _held(person)
    if row.guardian_id != by.pk or by.is_young_on(local_day(now)):
        refuse("not-guardian", say("Only the guardian can consent."))
    if not is_wanted(row, now):
        return consent_of(row)
    return give_consent(person=row, given_by=by, course=None, consents=consents, signed=signed, now=now)


@transaction.atomic
def note_paper(*, person: Person, signed_on: date, by: Person, now: datetime | None = None) -> Consent | None:
    """The tutor notes a paper for somebody who is in a class already; twice is once."""
    must_be_tutor(by)
    now = moment(now)
    row = _held(person)
    if not is_wanted(row, now):
        return consent_of(row)
    return note_signed_paper(person=row, signed_on=signed_on, course=None, by=by, now=now)


@transaction.atomic
def take_back(*, person: Person, by: Person, now: datetime | None = None) -> int:
    """The guardian takes their consent back, or the tutor notes that they have; returns how many ended.

    What was consented to stays on file with the day it ended. No new place is confirmed from then on; places
    that were given stay until the tutor has spoken with the guardian: today's list says so.
    """
    now = moment(now)
    row = _held(person)
    if not by.is_tutor and row.guardian_id != by.pk:
        refuse("not-guardian", say("Only the guardian can take the consent back."))
    return Consent.objects.filter(person=row, taken_back_at__isnull=True).update(taken_back_at=now)


def _held(person: Person) -> Person:
    """The row, held so that two presses are one after the other."""
    return (
        Person.objects.select_for_update(no_key=True, of=("self",))
        .select_related("guardian")
        .get(pk=person.pk)
    )
