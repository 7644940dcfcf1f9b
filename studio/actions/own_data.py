"""What people do about their own data: correct it, and ask to be erased."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import Person

from .common import clean_text, local_day, moment, refuse, save_checked


def answers_for(by: Person, person: Person, now: datetime) -> bool:
    """Oneself, and the young people one is guardian of; a young person's own affairs are the guardian's."""
    return person.answers_for(local_day(now)).pk == by.pk


@transaction.atomic
def correct(
    *,
    person: Person,
    by: Person,
    first_name: str,
    last_name: str,
    phone: str,
    now: datetime | None = None,
) -> Person:
    """Put right what is written of oneself, or of a young person one answers for."""
    row = _held(person, by, moment(now))
    row.first_name = clean_text(first_name, label=say("first name"), longest=60, required=True)
    row.last_name = clean_text(last_name, label=say("last name"), longest=60)
    row.phone = clean_text(phone, label=say("phone number"), longest=40)
    save_checked(row)
    return row


@transaction.atomic
def ask_to_be_erased(*, person: Person, by: Person, asks: bool, now: datetime | None = None) -> Person:
    """Ask the studio to erase what it keeps, or take the asking back. Asked twice, the first time counts."""
    now = moment(now)
    row = _held(person, by, now)
    if asks and row.erase_asked_at is None:
        row.erase_asked_at = now
    elif not asks:
        row.erase_asked_at = None
    row.save(update_fields=["erase_asked_at"])
    return row


def _held(person: Person, by: Person, now: datetime) -> Person:
    row = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    if row.erased_at is not None or not answers_for(by, row, now):
        refuse("not-yours", say("That is somebody else’s to change. Ask them, or their guardian."))
    return row
