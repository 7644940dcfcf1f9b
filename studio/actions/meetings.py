"""Single meetings of a course, and where it meets: what changes is told to the class, once."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.db.models import F

from studio.domain.say import date_words, later, say
from studio.models import Course, MakeUp, Person, Room, Session

from .common import clean_text, moment, must_be_tutor, refuse, studio_zone
from .notices_classes import Words, queue_class_change, queue_turn


@transaction.atomic
def call_off(*, session: Session, why: str, by: Person, now: datetime | None = None) -> Session:
    """Say that a meeting to come does not take place, and why; the class is told. Twice is once."""
    must_be_tutor(by)
    now = moment(now)
    why = clean_text(why, label=later("reason"), longest=200, required=True)
    row = hold_meeting(session)
    if row.cancelled_at is not None:
        return row
    if row.ends_at <= now:
        refuse("class-over", say("That meeting is over. Only one to come can be called off."))
    call_off_row(row, why, now)
    tell_off(row, why, by=by, now=now)
    row.refresh_from_db()
    return row


def hold_meeting(session: Session) -> Session:
    """The meeting as it is now with its course, held until the transaction ends."""
    rows = Session.objects.select_for_update(no_key=True, of=("self",)).select_related("course", "replaces")
    return rows.get(pk=session.pk)


def call_off_row(session: Session, why: str, now: datetime) -> bool:
    """Note that a meeting does not take place; False when it was called off before."""
    return bool(
        Session.objects.filter(pk=session.pk, cancelled_at__isnull=True).update(
            cancelled_at=now, cancelled_why=why, revision=F("revision") + 1
        )
    )


def day_words(at: datetime) -> str:
    """``Tuesday 27 October``, by the studio's clock."""
    return date_words(at.astimezone(studio_zone()), "l j F")


def clock_words(at: datetime) -> str:
    return format(at.astimezone(studio_zone()), "%H:%M")


def tell_off(session: Session, why: str, *, by: Person, now: datetime) -> None:
    """Tell the class that one meeting does not take place; who knows already reads nothing new."""

    def change() -> str:
        said = {
            "name": session.course.name,
            "day": day_words(session.starts_at),
            "local": clock_words(session.starts_at),
            "why": why,
        }
        if session.replaces is None:
            return say("{name} does not meet on {day} at {local}. {why}", **said)
        # The mail that said both may never have gone.
        return say(
            "{name} does not meet on {day} at {local}, nor on {other_day}. {why}",
            other_day=day_words(session.replaces.starts_at),
            **said,
        )

    queue_turn(
        course=session.course,
        people=who_comes(session.course, besides=guests_of([session])),
        change=change,
        key=session.code,
        before="on",
        after="off",
        by=by,
        now=now,
        until=session.starts_at,
    )


def room_changed(course: Course, *, before: Room | None, by: Person, now: datetime) -> None:
    """Meetings to come are in another room: calendars see it, and the class is told where.

    A room that is only taken away says nothing of where to go, so nobody is told.
    """
    coming = list(course.sessions.held().filter(ends_at__gt=now))
    if not coming:
        return
    course.sessions.filter(pk__in=[each.pk for each in coming]).update(revision=F("revision") + 1)
    room = course.room

    def change() -> str:
        return say("From now on {name} meets in {room}.", name=course.name, room=room.name) if room else ""

    queue_turn(
        course=course,
        people=who_comes(course, besides=guests_of(coming)) if room else [],
        change=change,
        key=f"{course.code}:room",
        before=before.code if before else "",
        after=room.code if room else "",
        by=by,
        now=now,
        until=max(each.ends_at for each in coming),
    )


def tell_class(
    course: Course,
    change: Words,
    *,
    key: str,
    by: Person,
    now: datetime,
    until: datetime | None = None,
    besides: Iterable[Person] = (),
) -> None:
    """One mail to everybody who answers for somebody enrolled, or for one of those ``besides``."""
    queue_class_change(
        course=course,
        people=who_comes(course, besides=besides),
        change=change,
        key=key,
        by=by,
        until=until,
        now=now,
    )


def who_comes(course: Course, *, besides: Iterable[Person] = ()) -> list[Person]:
    """Everybody enrolled, and the guests; each once."""
    people = Person.objects.filter(enrolments__course=course, enrolments__left_at__isnull=True)
    found = {each.pk: each for each in [*people.select_related("guardian").order_by("pk"), *besides]}
    return list(found.values())


def guests_of(sessions: Iterable[Session]) -> list[Person]:
    """Who makes up a missed class in one of these meetings."""
    made_up = MakeUp.objects.filter(session__in=[each.pk for each in sessions], given_up_at__isnull=True)
    people = Person.objects.filter(pk__in=made_up.values("person"))
    return list(people.select_related("guardian").order_by("pk"))
