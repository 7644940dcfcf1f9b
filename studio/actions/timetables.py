"""When a course meets: its rule becomes meetings, which keep their identity when the rule changes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, time

from django.db import transaction
from django.db.models import F

from studio.domain.problems import DomainError
from studio.domain.recurrence import MOST_MEETINGS, Timetable, counted_on, days, parse
from studio.domain.recurrence_words import words_of
from studio.domain.say import say
from studio.models import Course, Person, Session
from studio.queries import courses as queries

from .common import (
    clean_whole,
    local_day,
    moment,
    must_be_tutor,
    refuse,
    save_checked,
    studio_zone,
)
from .meetings import call_off_row, guests_of, tell_class

SHORTEST_MINUTES, LONGEST_MINUTES = 15, 12 * 60
_EARLIEST, _LATEST = 2000, 2100


def planned(
    *,
    rule: str,
    first_on: date,
    at: time,
    minutes: int,
    meetings: int | None = None,
    dates_off: Iterable[date] = (),
) -> Timetable:
    """A rule with its days left out, by the studio's clock; `Refused` with a sentence for what can't be.

    ``rule`` is the value of an RRULE. Its end may stand in it; else ``meetings`` says how many take place
    when the days off are taken away. The studio's holidays are left out besides ``dates_off``. A first day
    the rule does not fall on becomes the next one it does.
    """
    if first_on is None or at is None:
        refuse("missing", say("The first day or its time is missing. Choose them."))
    if not _EARLIEST <= first_on.year <= _LATEST:
        refuse("year-far", say("The year can't be right. Check the days of the course."))
    minutes = clean_whole(
        minutes, label=say("length in minutes"), least=SHORTEST_MINUTES, most=LONGEST_MINUTES
    )
    zone = studio_zone()
    off = frozenset(dates_off) | queries.holidays_from(first_on)
    try:
        read = parse(rule)
        if isinstance(read.until, date) and not isinstance(read.until, datetime):
            # Beside a local start the standard wants a moment in UTC (RFC 5545, 3.3.10).
            last = datetime.combine(read.until, at, tzinfo=zone).astimezone(UTC)
            read = replace(read, until=last)
        first_on = next(days(replace(read, count=None), first_on), None)
        if first_on is None:
            refuse("no-meetings", say("No day fits. Check the days and when the course ends."))
        if read.count is None and read.until is None:
            if meetings is None:
                refuse("no-end", say("Say how many meetings there are, or when the last one is."))
            read = counted_on(read, first_on, meetings, off)
    except DomainError as error:
        refuse("rule", str(error))
    found = Timetable(read, first_on, at, minutes, zone, off)
    held = found.days()
    if not held:
        refuse("no-meetings", say("Every day of it is left out. Choose other days."))
    if not read.count and len(held) + len(found.left_out()) == MOST_MEETINGS:
        refuse(
            "many-meetings",
            say(
                "That is more than {most_meetings} meetings. End the course sooner.",
                most_meetings=MOST_MEETINGS,
            ),
        )
    return replace(found, days_off=frozenset(found.left_out()))


def put_on(course: Course, timetable: Timetable) -> None:
    """Write the timetable into the course's own columns; the caller saves."""
    course.rule = str(timetable.rule)
    course.starts_time, course.minutes = timetable.at, timetable.minutes
    course.dates_off = [day.isoformat() for day in sorted(timetable.days_off)]
    course.starts_on, course.ends_on = timetable.first_on, timetable.days()[-1]


def add_meetings(course: Course, timetable: Timetable) -> None:
    Session.objects.bulk_create(
        Session(course=course, starts_at=starts, ends_at=ends, by_rule=True)
        for starts, ends in timetable.meetings()
    )


@transaction.atomic
def change_timetable(
    *,
    course: Course,
    by: Person,
    rule: str,
    first_on: date,
    at: time,
    minutes: int,
    meetings: int | None = None,
    dates_off: Iterable[date] = (),
    now: datetime | None = None,
) -> Course:
    """Give a course another rule from now on. Meetings that have begun, were called off, or were entered by
    hand stay as they are.

    A meeting to come keeps its code when it moves, so that calendars move it too; those for which there is no
    day any more are called off.
    """
    must_be_tutor(by)
    now = moment(now)
    row = Course.objects.select_for_update(no_key=True).get(pk=course.pk)
    found = planned(
        rule=rule, first_on=first_on, at=at, minutes=minutes, meetings=meetings, dates_off=dates_off
    )
    if found.first_on < local_day(now):
        refuse("starts-past", say("A new timetable starts from today on. Choose a later first day."))
    old_start = row.starts_on
    begun = row.sessions.held().filter(starts_at__lte=now).exists()
    put_on(row, found)
    if begun:
        row.starts_on = min(old_start, row.starts_on)
    save_checked(row)
    zone = studio_zone()
    dropped = row.sessions.filter(cancelled_at__isnull=False).values_list("starts_at", flat=True)
    # What was called off stays called off, also where only the hour is another.
    silent = {each.astimezone(zone).date() for each in dropped}
    wanted = {
        starts: ends
        for starts, ends in found.meetings()
        if starts > now and starts.astimezone(zone).date() not in silent
    }
    coming = list(row.sessions.held().filter(starts_at__gt=now).order_by("starts_at"))
    for session in coming:
        if not session.by_rule:
            wanted.pop(session.starts_at, None)
    mine = [each for each in coming if each.by_rule]
    kept = [each for each in mine if each.starts_at in wanted]
    for session in kept:
        ends = wanted.pop(session.starts_at)
        if ends != session.ends_at:
            _move(session, session.starts_at, ends)
    free = [each for each in mine if each not in kept]
    for session, (starts, ends) in zip(free, sorted(wanted.items()), strict=False):
        _move(session, starts, ends)
    for starts, ends in sorted(wanted.items())[len(free) :]:
        Session.objects.create(course=row, starts_at=starts, ends_at=ends, by_rule=True)
    for session in free[len(wanted) :]:
        call_off_row(session, say("The timetable has changed."), now)
    if free or wanted:
        tell_class(
            row,
            lambda: say("From now on {name} meets {words_of}.", name=row.name, words_of=words_of(found)),
            key=f"{row.code}:{now:%Y%m%d%H%M%S}",
            by=by,
            now=now,
            besides=guests_of(free),
        )
    return row


def _move(session: Session, starts: datetime, ends: datetime) -> None:
    Session.objects.filter(pk=session.pk).update(starts_at=starts, ends_at=ends, revision=F("revision") + 1)
