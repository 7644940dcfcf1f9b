"""A meeting that was called off: held after all, or another one held instead of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from django.db import transaction

from studio.domain.say import later, say
from studio.models import Course, Notice, Person, Session
from studio.queries import courses as queries
from studio.queries.make_ups import room_at

from .common import (
    clean_text,
    clean_whole,
    local_day,
    moment,
    must_be_tutor,
    refuse,
    save_checked,
    studio_zone,
)
from .meetings import clock_words, day_words, guests_of, hold_meeting, tell_class, who_comes
from .notices_classes import queue_turn, withdraw
from .places import hold_course
from .timetables import LONGEST_MINUTES, SHORTEST_MINUTES

FARTHEST = timedelta(days=366)


@transaction.atomic
def hold_after_all(*, session: Session, by: Person, words: str = "", now: datetime | None = None) -> Session:
    """Let a meeting that was called off take place; the class is told, with ``words`` of the tutor's. Twice
    is once.

    What was said of it stays: who told us, who makes up a class in it. So it is refused where there are more
    people than places by now. A change of timetable moves it only if it is where the rule has it.
    """
    must_be_tutor(by)
    now = moment(now)
    words = clean_text(words, label=later("words to the class"), longest=200)
    course = hold_course(session.course)
    row = hold_meeting(session)
    if row.cancelled_at is None:
        return row
    if row.ends_at <= now:
        refuse("class-over", say("That meeting would be over by now. Hold another one instead."))
    _refuse_replaced(row)
    _refuse_meets_then(course, row.starts_at, row.ends_at)
    room = room_at([row], now=now)[row.pk]
    over = -min(room.places_free, room.places_free if room.wheels_free is None else room.wheels_free)
    if over > 0:
        refuse(
            "class-full",
            say(
                "There is no room any more for {over} of those who would come. Give up make-up places first.",
                over=over,
            ),
        )
    row.cancelled_at, row.cancelled_why = None, ""
    row.by_rule = row.by_rule and _back_in_rule(course, row)
    row.revision += 1
    save_checked(row)

    def change() -> str:
        line = say(
            "{name} does meet on {day} at {local}: it is held after all.",
            name=course.name,
            day=day_words(row.starts_at),
            local=clock_words(row.starts_at),
        )
        return f"{line}\n\n{words}".strip()

    queue_turn(
        course=course,
        people=who_comes(course, besides=guests_of([row])),
        change=change,
        key=row.code,
        before="off",
        after="on",
        by=by,
        now=now,
        until=row.starts_at,
    )
    return row


@transaction.atomic
def hold_instead(
    *, session: Session, on: date, at: time, minutes: int, by: Person, now: datetime | None = None
) -> Session:
    """Hold a meeting at another time for one that was called off; the class is told. Sent twice it is one.

    A mail about the calling-off that has not gone is withdrawn: the new one says both.
    """
    must_be_tutor(by)
    now = moment(now)
    if on is None or at is None:
        refuse("missing", say("The day or its time is missing. Choose them."))
    minutes = clean_whole(
        minutes, label=say("length in minutes"), least=SHORTEST_MINUTES, most=LONGEST_MINUTES
    )
    course = hold_course(session.course)
    row = hold_meeting(session)
    if row.cancelled_at is None:
        refuse("class-held", say("That meeting takes place. Call it off first."))
    if not local_day(now) <= on <= local_day(now) + FARTHEST:
        refuse("day-far", say("Choose a day from today on, within a year."))
    starts = datetime.combine(on, at, tzinfo=studio_zone()).astimezone(UTC)
    ends = starts + timedelta(minutes=minutes)
    if row.instead is not None and (row.instead.starts_at, row.instead.ends_at) == (starts, ends):
        return row.instead
    _refuse_replaced(row)
    if starts <= now:
        refuse("starts-past", say("That time is over. Choose a later one."))
    _refuse_meets_then(course, starts, ends)
    if course.sessions.filter(starts_at=starts).exists():
        refuse(
            "class-called-off-then",
            say("A meeting at that very time was called off. Hold that one, or choose another time."),
        )
    # One that stood in before was called off as well: it is no answer any more.
    Session.objects.filter(replaces=row).update(replaces=None)
    new = Session(course=course, starts_at=starts, ends_at=ends, replaces=row)
    save_checked(new)
    if course.ends_on is not None and course.ends_on < on:
        course.ends_on = on
        course.save(update_fields=["ends_on"])
    withdraw(kind=Notice.Kind.CLASS_CHANGE, key=row.code, why=say("The mail about the one instead says it."))

    def change() -> str:
        return say(
            "{name} does not meet on {day}. {why} It meets on {new_day} at {new_time} instead.",
            name=course.name,
            day=day_words(row.starts_at),
            why=_as_sentence(row.cancelled_why),
            new_day=day_words(starts),
            new_time=clock_words(starts),
        )

    tell_class(
        course,
        change,
        key=f"{new.code}:none:on",
        by=by,
        now=now,
        until=starts,
        besides=guests_of([row]),
    )
    return new


def _as_sentence(why: str) -> str:
    return why if why.endswith((".", "!", "?")) else f"{why}."


def _refuse_replaced(row: Session) -> None:
    if row.instead is not None:
        refuse(
            "class-replaced",
            say(
                "Another meeting stands in for it, on {day}. Call that one off first.",
                day=day_words(row.instead.starts_at),
            ),
        )


def _refuse_meets_then(course: Course, starts: datetime, ends: datetime) -> None:
    """A course meets once at a time."""
    if course.sessions.held().filter(starts_at__lt=ends, ends_at__gt=starts).exists():
        refuse("class-meets-then", say("The class meets then anyway. Choose another time."))


def _back_in_rule(course: Course, row: Session) -> bool:
    """Whether the course's own rule has this meeting, now that it is no day off any more.

    If not (a holiday, another timetable) it stands by itself, as if it was entered by hand.
    """
    timetable = queries.timetable_of(course)
    day = local_day(row.starts_at)
    if timetable is None or day in queries.holidays_from(day):
        return False
    off = timetable.days_off - {day}
    if row.starts_at not in {starts for starts, _ in replace(timetable, days_off=off).meetings()}:
        return False
    if off != timetable.days_off:
        course.dates_off = [each.isoformat() for each in sorted(off)]
        course.save(update_fields=["dates_off"])
    return True
