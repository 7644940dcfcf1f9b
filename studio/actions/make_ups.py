"""A missed class made up in another one: booked where a place and a wheel are free, and given up again."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import MISSED, Attendance, Course, Enrolment, MakeUp, Person, Session
from studio.queries.make_ups import room_at

from .attendance import hold_session
from .common import clean_client_id, local_day, moment, must_be_staff, refuse, refuse_all, save_checked
from .enrolments import age_range_problems
from .people import guardian_problems


@transaction.atomic
def book_make_up(
    *,
    person: Person,
    missed: Session,
    session: Session,
    by: Person,
    client_id: str,
    now: datetime | None = None,
) -> MakeUp:
    """Give somebody who missed a class a place in a meeting of another. Sent twice it is one.

    The course is held meanwhile, as it is when somebody is enrolled, so that the last place goes once.
    """
    must_be_staff(by)
    now = moment(now)
    course = Course.objects.select_for_update(no_key=True).get(pk=session.course_id)
    session = hold_session(session)
    done = MakeUp.objects.filter(client_id=clean_client_id(client_id)).first()
    if done is not None:
        if (done.person_id, done.missed_id, done.session_id) != (person.pk, missed.pk, session.pk):
            refuse("page-used", say("This page has been sent before, for another class. Load it again."))
        return done
    if not Attendance.objects.filter(person=person, session=missed, word__in=MISSED).exists():
        refuse(
            "not-missed",
            say(
                "{first_name} did not miss that class. Say so in its register first.",
                first_name=person.first_name,
            ),
        )
    if session.cancelled_at is not None:
        refuse("class-cancelled", say("That class does not take place. Choose another."))
    if session.ends_at <= now:
        refuse("class-over", say("That class is over. Choose a coming one."))
    if not person.is_active:
        refuse("person-left", say("{full_name} has left the studio.", full_name=person.full_name))
    refuse_all(guardian_problems(person, now))
    if Enrolment.objects.filter(course=course, person=person, left_at__isnull=True).exists():
        refuse(
            "own-class",
            say(
                "{first_name} is in {name} anyway. Choose another class.",
                first_name=person.first_name,
                name=course.name,
            ),
        )
    _refuse_age(person, course, session)
    if not room_at([session], now=now)[session.pk].free:
        refuse(
            "class-full", say("{name} has no place left that day. Choose another class.", name=course.name)
        )
    row = MakeUp(
        person=person, missed=missed, session=session, booked_at=now, booked_by=by, client_id=client_id
    )
    save_checked(
        row,
        words={
            "make_up_once_for_a_class": say(
                "{first_name} makes up that class elsewhere already.", first_name=person.first_name
            ),
            "make_up_one_place": say(
                "{first_name} has a place in that class already.", first_name=person.first_name
            ),
        },
    )
    return row


@transaction.atomic
def give_up_make_up(*, make_up: MakeUp, by: Person, now: datetime | None = None) -> MakeUp:
    """Give the place back; the missed class can be made up elsewhere. Twice is once."""
    must_be_staff(by)
    row = MakeUp.objects.select_for_update(no_key=True).get(pk=make_up.pk)
    if row.given_up_at is None:
        row.given_up_at = moment(now)
        row.save(update_fields=["given_up_at"])
    return row


def _refuse_age(person: Person, course: Course, session: Session) -> None:
    """As when somebody is enrolled; whose age nobody knows is let in, being in a class already."""
    day = local_day(session.starts_at)
    age = person.age_on(day)
    if age is not None:
        young = person.is_young_on(day)
        refuse_all(age_range_problems(course, age=age, young=young, name=person.first_name))
