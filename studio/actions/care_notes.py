"""Whom to call in an emergency and what staff should know, as the tutor, the person or the guardian says."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import later, say
from studio.models import Person

from .common import clean_text, local_day, moment, refuse

NAME_LONGEST, PHONE_LONGEST, HEALTH_LONGEST = 80, 40, 600


@transaction.atomic
def save_care_note(
    *,
    person: Person,
    by: Person,
    emergency_name: str = "",
    emergency_phone: str = "",
    health_note: str = "",
    now: datetime | None = None,
) -> Person:
    """All three may be empty. A helper reads them at class and does not change them; of somebody under 18 the
    guardian writes them.
    """
    now = moment(now)
    row = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    if not may_write_note(by, row, now):
        refuse("not-yours", say("You can write this for yourself and the young people you answer for."))
    row.emergency_name = clean_text(emergency_name, label=later("name"), longest=NAME_LONGEST)
    row.emergency_phone = clean_text(emergency_phone, label=say("phone number"), longest=PHONE_LONGEST)
    row.health_note = clean_text(health_note, label=later("note"), longest=HEALTH_LONGEST, lines=True)
    row.save(update_fields=["emergency_name", "emergency_phone", "health_note"])
    return row


def may_write_note(by: Person, person: Person, now: datetime) -> bool:
    if not by.is_active:
        return False
    if by.is_tutor or by.pk == person.guardian_id:
        return True
    return by.pk == person.pk and (not person.is_young_on(local_day(now)) or person.guardian_id is None)
