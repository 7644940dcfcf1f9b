"""Asking for a place on the public page: what is typed waits for the code from the mail, and holds nothing.

Asking says nothing of who is known: the same is written down whatever the address. Counted tries stay counted
when a try is refused, so these are not single transactions; taking the place is.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from studio.domain.calendar_days import age_on
from studio.domain.problems import Problem, Refused
from studio.domain.say import later, say
from studio.models import Course, Enrolment, EnrolRequest
from studio.models.people import ADULT_AGE
from studio.notifications import codes
from studio.queries import places as queries

from . import limits
from .common import clean_email, clean_text, local_day, refuse, refuse_all
from .enrol_people import grown_up, young_one, young_problems
from .enrolments import age_range_problems, take_place
from .notices_classes import queue_enrolled
from .places import hold_course
from .waiting import join

#: So long the code in the mail works.
LASTS = timedelta(hours=2)
KEPT = timedelta(days=1)
_WORDS = {
    "first_name": (later("first name"), 60, True),
    "last_name": (later("last name"), 60, True),
    "phone": (later("phone number"), 40, False),
}
_YOUNG_WORDS = {
    "young_first": (later("first name of who comes"), 60, True),
    "young_last": (later("last name of who comes"), 60, False),
    "emergency_name": (later("name to call in an emergency"), 80, True),
    "emergency_phone": (later("phone number for an emergency"), 40, True),
    "signed": (later("guardian’s name under the consent"), 121, True),
}
_DOES_NOT_FIT = Problem(
    "code-does-not-fit",
    later(
        "That code does not fit, or its time is over. Look at the newest mail, or ask for the place again."
    ),
)


def ask(
    *,
    course: Course,
    email: str,
    details: dict[str, Any],
    young: bool,
    requester_key: str,
    now: datetime | None = None,
) -> str:
    """Keep what somebody without an account typed, for the code that is mailed to them; returns the token the
    asking browser keeps.

    ``details``: first_name, last_name, phone, born_on; for somebody ``young`` also young_first, young_last,
    emergency_name, emergency_phone, health_note, consents, signed, and born_on is theirs. Refused where the
    course is not open to this, and after twenty askings an hour.
    """
    now = now or timezone.now()
    if not queries.is_open(course, now):
        refuse(
            "not-open",
            say("{name} can’t be booked here any more. Look at the other classes.", name=course.name),
        )
    address = clean_email(email, required=True) or ""
    kept = _cleaned(details, young=young, course=course, now=now)
    limits.spend(kind="place-asked-from", key=requester_key, now=now)
    limits.spend(kind="place-asked-for", key=address, now=now)
    asked = EnrolRequest.objects.create(
        token=codes.new_token(),
        course=course,
        email=address,
        details=kept,
        asked_at=now,
        expires_at=now + LASTS,
    )
    return asked.token


def _cleaned(details: dict[str, Any], *, young: bool, course: Course, now: datetime) -> dict[str, Any]:
    fields = {**_WORDS, **(_YOUNG_WORDS if young else {})}
    kept: dict[str, Any] = {
        name: clean_text(details.get(name), label=label, longest=longest, required=required)
        for name, (label, longest, required) in fields.items()
    }
    born_on = details.get("born_on")
    name = kept.get("young_first") or kept["first_name"]
    meeting = queries.next_meeting(course, now)
    day = local_day(meeting.starts_at if meeting else now)
    if young:
        if not isinstance(born_on, date):
            refuse("missing", say("The date of birth of {name} is missing. Choose it.", name=name))
        refuse_all(young_problems(born_on, name, now))
        if details.get("consents") is not True:
            refuse(
                "consent-missing", say("{name} is under 18: the guardian’s consent is missing.", name=name)
            )
        kept["consents"] = True
        kept["health_note"] = clean_text(
            details.get("health_note"), label=say("health note"), longest=600, lines=True
        )
    kept["young"] = young
    kept["born_on"] = born_on.isoformat() if isinstance(born_on, date) else ""
    age = age_on(born_on, day) if isinstance(born_on, date) else None
    if not young and age is not None and age_on(born_on, local_day(now)) < ADULT_AGE:
        refuse("young", say("Somebody under 18 is enrolled by their guardian. Go back and choose that."))
    refuse_all(age_range_problems(course, age=age, young=young, name=name))
    return kept


def confirm(
    *, token: str, typed: str, requester_key: str, wait: bool = False, now: datetime | None = None
) -> EnrolRequest:
    """Take the place with the code from the mail, in the browser that asked; sent twice it is one place.

    With ``wait`` whoever finds the course full goes on its waiting list. Refused when the code does not fit,
    is too old or was tried five times; and by whatever stands against the place itself, after which the same
    code may be tried again.
    """
    now = now or timezone.now()
    attempt = limits.spend(kind="place-code-tried-from", key=requester_key, now=now)
    asked = EnrolRequest.objects.filter(token=token).first()
    fits = codes.matches(asked.code_hash if asked else "", codes.hash_of_code(token, typed))
    if asked is not None and fits and asked.used_at is not None:
        return asked
    usable = EnrolRequest.objects.filter(
        token=token, used_at__isnull=True, expires_at__gt=now, tries__lt=codes.MOST_TRIES
    )
    if not fits:
        usable.update(tries=F("tries") + 1)
        raise Refused(_DOES_NOT_FIT)
    if not usable.exists():
        raise Refused(_DOES_NOT_FIT)
    row = _take(asked, wait=wait, now=now)
    attempt.delete()
    return row


@transaction.atomic
def _take(asked: EnrolRequest, *, wait: bool, now: datetime) -> EnrolRequest:
    course = hold_course(asked.course)
    row = EnrolRequest.objects.select_for_update(no_key=True).get(pk=asked.pk)
    if row.used_at is not None:
        return row
    if not queries.is_open(course, now):
        refuse(
            "not-open",
            say("{name} can’t be booked here any more. Look at the other classes.", name=course.name),
        )
    details = row.details
    adult = grown_up(email=row.email, details=details, now=now)
    person = young_one(guardian=adult, details=details, course=course, now=now) if details["young"] else adult
    born_on = date.fromisoformat(details["born_on"]) if details["born_on"] else None
    try:
        with transaction.atomic():
            row.enrolment = take_place(
                course=course,
                person=person,
                way=Enrolment.Way.PUBLIC,
                by=None,
                now=now,
                born_on=born_on,
            )
            queue_enrolled(course=course, person=person, key=_key(row.enrolment), now=now)
    except Refused as refused:
        if not (wait and "course-full" in refused.codes):
            if "course-full" in refused.codes:
                refuse(
                    "course-full",
                    say(
                        "The last place in {name} has gone. Tick below to wait for one, and send again.",
                        name=course.name,
                    ),
                )
            raise
        row.waiting = join(course=course, person=person, now=now)
    # What was typed stands in the books now, and nowhere else.
    row.used_at, row.details, row.email = now, {}, ""
    row.save()
    return row


def _key(enrolment: Enrolment) -> str:
    return f"{enrolment.pk}:{enrolment.round}"


def tidy(*, now: datetime | None = None) -> int:
    """Delete askings whose time has been over for a day; returns how many."""
    now = now or timezone.now()
    return EnrolRequest.objects.filter(expires_at__lt=now - KEPT).delete()[0]
