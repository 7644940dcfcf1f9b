"""The waiting list of a course: joined, left, and what is said to a place that is offered."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import Course, Enrolment, Person, Waiting
from studio.queries import places as queries

from .common import moment, must_be_tutor, refuse, refuse_all
from .consents import give_consent, is_wanted
from .enrolments import age_problems, take_place
from .people import guardian_problems
from .places import end_waiting, hold_course, settle_offers


@transaction.atomic
def wait(*, course: Course, person: Person, by: Person, now: datetime | None = None) -> Waiting:
    """Put somebody on the waiting list of a full course; twice is once."""
    must_be_tutor(by)
    return join(course=hold_course(course), person=person, now=moment(now))


def join(*, course: Course, person: Person, now: datetime) -> Waiting:
    """The last in the line for a course, which must be held; who may ask, the caller has looked at."""
    row = Waiting.objects.filter(course=course, person=person, state__in=queries.OPEN).first()
    if row is not None:
        return row
    if not person.is_active:
        refuse(
            "person-left",
            say("{full_name} has left the studio. Take them back first.", full_name=person.full_name),
        )
    refuse_all(guardian_problems(person, now))
    if queries.enrolled(course).filter(person=person).exists():
        refuse(
            "enrolled-already",
            say(
                "{first_name} has a place in {name} already.", first_name=person.first_name, name=course.name
            ),
        )
    settle_offers(course, now)
    if queries.free_places(course, now) > 0:
        refuse(
            "not-full",
            say(
                "{name} has a free place. Enrol {first_name} instead.",
                name=course.name,
                first_name=person.first_name,
            ),
        )
    return Waiting.objects.create(course=course, person=person, asked_at=now)


@transaction.atomic
def take_off(*, waiting: Waiting, by: Person, now: datetime | None = None) -> Waiting:
    """Take somebody off the list; a place that was offered goes to the next in line. Twice is once."""
    must_be_tutor(by)
    return _end(waiting, Waiting.State.GONE, moment(now))


@transaction.atomic
def decline(*, waiting: Waiting, now: datetime | None = None) -> Waiting:
    """No to an offer, or not waiting any longer, said by whoever has the offer's secret."""
    return _end(waiting, Waiting.State.DECLINED, moment(now))


def _end(waiting: Waiting, state: Waiting.State, now: datetime) -> Waiting:
    course = hold_course(waiting.course)
    end_waiting(waiting, state, now)
    settle_offers(course, now)
    waiting.refresh_from_db()
    return waiting


def consent_wanted(waiting: Waiting, now: datetime) -> bool:
    """Whether a guardian has to consent before this place can be confirmed."""
    return is_wanted(waiting.person, now)


@transaction.atomic
def accept(
    *, waiting: Waiting, consents: bool = False, signed: str = "", now: datetime | None = None
) -> Enrolment:
    """Yes to an offer, said by whoever has its secret, in its time. Said twice it is one place.

    For somebody under 18 the guardian's consent comes first, where none has been given.
    """
    now = moment(now)
    course = hold_course(waiting.course)
    row = Waiting.objects.select_related("person__guardian").get(pk=waiting.pk)
    if row.state == Waiting.State.TAKEN:
        return Enrolment.objects.get(course=course, person=row.person)
    if row.state != Waiting.State.OFFERED or row.offer_until <= now:
        refuse("offer-over", say("The time for this place is over. It goes to the next in line."))
    person = row.person
    if consent_wanted(row, now):
        give_consent(
            person=person, given_by=person.guardian, course=course, consents=consents, signed=signed, now=now
        )
    return take_place(
        course=course,
        person=person,
        way=Enrolment.Way.OFFER,
        by=None,
        # The tutor put them on the list, or the public page looked at the age.
        override_words="" if not age_problems(course, person, now=now) else say("Was on the waiting list"),
        now=now,
    )
