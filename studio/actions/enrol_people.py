"""Who a place asked for on the public page is for: somebody the studio knows by their address, or new."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from studio.domain.calendar_days import age_on
from studio.domain.problems import Problem
from studio.domain.say import later, say
from studio.models import Course, Person
from studio.models.people import ADULT_AGE

from .care_notes import save_care_note
from .common import clean_email, clean_text, local_day, refuse, refuse_all, save_checked
from .consents import give_consent
from .people import guardian_problems

NAME_LONGEST, PHONE_LONGEST = 60, 40
_EMAIL_TAKEN = {"email": later("Somebody else has this email address. Write to the studio, please.")}


def grown_up(*, email: str, details: dict[str, Any], now: datetime) -> Person:
    """The adult whose address has been proved by a code: found by it, or entered."""
    address = clean_email(email, required=True)
    name = clean_text(details.get("first_name"), label=say("first name"), longest=NAME_LONGEST, required=True)
    row = Person.objects.select_for_update(no_key=True).filter(email=address).first()
    if row is None:
        row = Person(
            joined_at=now,
            first_name=name,
            last_name=clean_text(details.get("last_name"), label=say("last name"), longest=NAME_LONGEST),
            email=address,
            phone=clean_text(details.get("phone"), label=say("phone number"), longest=PHONE_LONGEST),
        )
        row.set_unusable_password()
        save_checked(row, words=_EMAIL_TAKEN)
        return row
    if not row.is_active:
        refuse("person-left", say("The studio has this address from earlier. Write to the studio, please."))
    if row.is_young_on(local_day(now)):
        refuse("young", say("Somebody under 18 is enrolled by their guardian. Go back and choose that."))
    if row.first_name.casefold() != name.casefold():
        refuse(
            "another-name",
            say(
                "This address is {first_name}’s in the studio’s books. Use an address of your own, "
                "or write to the studio.",
                first_name=row.first_name,
            ),
        )
    return row


def young_one(*, guardian: Person, details: dict[str, Any], course: Course, now: datetime) -> Person:
    """The person under 18 this adult answers for, with the consent, both kept."""
    name = clean_text(
        details.get("young_first"), label=say("first name of who comes"), longest=NAME_LONGEST, required=True
    )
    born_on = date.fromisoformat(details["born_on"])
    theirs = guardian.young_people.current().filter(first_name__iexact=name)
    row = next((each for each in theirs if each.born_on in {None, born_on}), None)
    if row is None:
        row = Person(
            joined_at=now,
            first_name=name,
            last_name=clean_text(details.get("young_last"), label=say("last name"), longest=NAME_LONGEST),
            guardian=guardian,
        )
        row.set_unusable_password()
    row.born_on = born_on
    refuse_all(young_problems(born_on, name, now))
    refuse_all(guardian_problems(row, now))
    save_checked(row)
    note = {name: details.get(name, "") for name in ("emergency_name", "emergency_phone", "health_note")}
    if any(note.values()):
        row = save_care_note(person=row, by=guardian, now=now, **note)
    give_consent(
        person=row,
        given_by=guardian,
        course=course,
        consents=bool(details.get("consents")),
        signed=details.get("signed", ""),
        now=now,
    )
    return row


def young_problems(born_on: date, name: str, now: datetime) -> list[Problem]:
    """Why this date of birth is nobody's who is enrolled by a guardian."""
    today = local_day(now)
    if born_on > today:
        return [Problem("born-ahead", say("The date of birth is in the future. Check the year."))]
    if age_on(born_on, today) >= ADULT_AGE:
        return [Problem("grown-up", say("{name} is 18 or over: they take their place themself.", name=name))]
    return []
