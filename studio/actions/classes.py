"""Courses, their meetings, and who is enrolled."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from studio.models import Course, Enrolment, Person, Piece, Session
from studio.queries.make_ups import held_by_guests

from .common import (
    moment,
    must_be_tutor,
    refuse,
    refuse_all,
    save_checked,
)
from .people import guardian_problems

MOST_SESSIONS = 60
LONGEST_SESSION = timedelta(hours=24)


@transaction.atomic
def save_session(
    *,
    course: Course,
    starts_at: datetime,
    ends_at: datetime,
    by: Person,
    session: Session | None = None,
    now: datetime | None = None,
) -> Session:
    """Add one meeting of a course, or move one."""
    must_be_tutor(by)
    row = (
        Session(course=course) if session is None else Session.objects.select_for_update().get(pk=session.pk)
    )
    row.starts_at, row.ends_at = moment(starts_at), moment(ends_at)
    if row.ends_at <= row.starts_at:
        refuse("ends-before-start", "The session ends before it starts. Check the two times.")
    if row.ends_at - row.starts_at > LONGEST_SESSION:
        refuse("session-long", "The session lasts longer than a day. Check the two times.")
    save_checked(row, words={"session_once": "The course has a session at this time already."})
    return row


@transaction.atomic
def remove_session(*, session: Session, by: Person) -> None:
    """Take a meeting off the calendar. Refused where pieces were made in it."""
    must_be_tutor(by)
    made = Piece.objects.filter(session=session).count()
    if made:
        refuse("session-has-pieces", f"{made} pieces were made in this session. It stays on the calendar.")
    session.delete()


@transaction.atomic
def enrol(*, course: Course, person: Person, by: Person, now: datetime | None = None) -> Enrolment:
    """Enrol somebody; twice is once. Under 18 a guardian with an address must be on file."""
    must_be_tutor(by)
    now = moment(now)
    course = Course.objects.select_for_update(no_key=True).get(pk=course.pk)
    row = Enrolment.objects.filter(course=course, person=person).first()
    if row is not None and row.left_at is None:
        return row
    if not person.is_active:
        refuse("person-left", f"{person.full_name} has left the studio. Take them back first.")
    refuse_all(guardian_problems(person, now))
    if _enrolled(course).count() + held_by_guests(course, now=now) >= course.places:
        refuse("course-full", f"{course.name} is full: {course.places} places. Raise the places first.")
    row = row or Enrolment(course=course, person=person)
    row.enrolled_at, row.left_at = now, None
    row.save()
    return row


@transaction.atomic
def leave(*, enrolment: Enrolment, by: Person, now: datetime | None = None) -> Enrolment:
    """Note that somebody has left a course; their pieces stay."""
    must_be_tutor(by)
    now = moment(now)
    Enrolment.objects.filter(pk=enrolment.pk, left_at__isnull=True).update(left_at=now)
    enrolment.refresh_from_db()
    return enrolment


def _enrolled(course: Course):
    return Enrolment.objects.filter(course=course, left_at__isnull=True)
