"""What a guardian consents to for somebody under 18, kept word for word."""

from __future__ import annotations

from datetime import datetime

from studio.domain.say import say
from studio.models import ClassRules, Consent, Course, Person

from .common import clean_text, refuse


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
