"""What of the young people needs doing: consents that are missing."""

from __future__ import annotations

from datetime import datetime

from django.urls import reverse

from studio.domain.say import later, say
from studio.models import Studio

from .people import in_class_without_consent
from .today_job import Job


def consent_jobs(studio: Studio, now: datetime) -> list[Job]:
    """A line for each of the under-18s who is in a class while no guardian's consent is on file."""
    day = now.astimezone(studio.zone).date()
    return [
        Job(
            later("Today"),
            say("Ask for the consent for {name}", name=person.first_name),
            say(
                "{guardian} has not signed, or has taken it back, and there is a class to come.",
                guardian=person.guardian.full_name if person.guardian else say("The guardian"),
            ),
            reverse("person-consent", args=[person.code]),
        )
        for person in in_class_without_consent(now, day)
    ]
