"""Courses, their meetings, and who is enrolled."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from studio.models import Course, Enrolment, Person, Piece, Session
from studio.queries.make_ups import held_by_guests

from .common import (
    clean_choice,
    clean_text,
    clean_whole,
    moment,
    must_be_tutor,
    refuse,
    refuse_all,
    save_checked,
    studio_zone,
)
from .people import guardian_problems

MOST_SESSIONS = 60
LONGEST_SESSION = timedelta(hours=24)


@transaction.atomic
def save_course(
    *,
    by: Person,
    name: str,
    starts_on: date,
    kind: str = Course.Kind.WEEKLY,
    teacher: Person | None = None,
    places: int = 8,
    ends_on: date | None = None,
    firing_allowance_litres: Decimal | int = 0,
    course: Course | None = None,
    now: datetime | None = None,
) -> Course:
    """Add a course, or change one. The allowance is in litres of kiln space for each person."""
    must_be_tutor(by)
    row = Course() if course is None else Course.objects.select_for_update(no_key=True).get(pk=course.pk)
    row.name = clean_text(name, label="name of the course", longest=80, required=True)
    row.kind = clean_choice(kind, Course.Kind.values, label="kind of course")
    if teacher is not None and not (teacher.is_staff_member and teacher.is_active):
        refuse("teacher-not-staff", f"{teacher.full_name} is no tutor or helper. Choose who teaches.")
    row.teacher = teacher
    row.places = clean_whole(places, label="number of places", least=1, most=200)
    if starts_on is None:
        refuse("missing", "The first day is missing. Choose it.")
    if ends_on is not None and ends_on < starts_on:
        refuse("ends-before-start", "The course ends before it starts. Check the two days.")
    if not 2000 <= starts_on.year <= 2100 or (ends_on and ends_on.year > 2100):
        refuse("year-far", "The year can't be right. Check the days of the course.")
    row.starts_on, row.ends_on = starts_on, ends_on
    row.firing_allowance_litres = firing_allowance_litres
    if row.pk:
        enrolled = _enrolled(row).count()
        if row.places < enrolled:
            refuse("too-few-places", f"{enrolled} people are enrolled. Keep at least as many places.")
    if not 0 <= firing_allowance_litres <= 1000:
        refuse("allowance", "The firing allowance must be from 0 to 1,000 litres.")
    save_checked(row)
    return row


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
def add_weekly_sessions(
    *, course: Course, first: datetime, minutes: int, count: int, by: Person, now: datetime | None = None
) -> list[Session]:
    """So many meetings a week apart, at the same time on the studio's clock also when it changes.

    A meeting that is there already is left as it is.
    """
    must_be_tutor(by)
    count = clean_whole(count, label="number of sessions", least=1, most=MOST_SESSIONS)
    minutes = clean_whole(minutes, label="length in minutes", least=15, most=24 * 60)
    local = moment(first).astimezone(studio_zone())
    rows = []
    for week in range(count):
        starts_at = (local + timedelta(weeks=week)).astimezone(UTC)
        rows.append(
            Session.objects.get_or_create(
                course=course,
                starts_at=starts_at,
                defaults={"ends_at": starts_at + timedelta(minutes=minutes)},
            )[0]
        )
    return rows


@transaction.atomic
def open_course(
    *,
    by: Person,
    first: datetime,
    minutes: int,
    count: int,
    now: datetime | None = None,
    **fields: object,
) -> Course:
    """A new course with its weekly meetings, both or neither. ``fields`` are those of `save_course`."""
    zone = studio_zone()
    starts_on = moment(first).astimezone(zone).date()
    ends_on = starts_on + timedelta(
        weeks=clean_whole(count, label="number of sessions", least=1, most=MOST_SESSIONS) - 1
    )
    course = save_course(by=by, starts_on=starts_on, ends_on=ends_on, now=now, **fields)
    add_weekly_sessions(course=course, first=first, minutes=minutes, count=count, by=by, now=now)
    return course


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
