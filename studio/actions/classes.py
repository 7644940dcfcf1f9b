"""Courses, their meetings, and who is enrolled."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from studio.domain.say import say
from studio.models import Course, Person, Piece, Session

from .common import (
    moment,
    must_be_tutor,
    refuse,
    save_checked,
)

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
        refuse("ends-before-start", say("The session ends before it starts. Check the two times."))
    if row.ends_at - row.starts_at > LONGEST_SESSION:
        refuse("session-long", say("The session lasts longer than a day. Check the two times."))
    save_checked(row, words={"session_once": say("The course has a session at this time already.")})
    return row


@transaction.atomic
def remove_session(*, session: Session, by: Person) -> None:
    """Take a meeting off the calendar. Refused where pieces were made in it."""
    must_be_tutor(by)
    made = Piece.objects.filter(session=session).count()
    if made:
        refuse(
            "session-has-pieces",
            say("{made} pieces were made in this session. It stays on the calendar.", made=made),
        )
    session.delete()
