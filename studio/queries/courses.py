"""A course's timetable as it stands, and the days the studio is closed."""

from __future__ import annotations

from datetime import date, timedelta

from studio.domain.problems import DomainError
from studio.domain.recurrence import Timetable, parse
from studio.domain.recurrence_words import words_of
from studio.models import Course, Holiday, Studio


def holidays_from(day: date) -> frozenset[date]:
    """Every day of the studio's holidays from a day on."""
    return frozenset(
        row.first_on + timedelta(days=each)
        for row in Holiday.objects.filter(last_on__gte=day)
        for each in range((row.last_on - row.first_on).days + 1)
    )


def holiday_names(days: list[date]) -> list[tuple[date, str]]:
    """Each of these days with the name of the holiday it falls into, or an empty one. One query."""
    if not days:
        return []
    rows = list(Holiday.objects.filter(last_on__gte=min(days), first_on__lte=max(days)))
    return [(day, next((row.name for row in rows if row.first_on <= day <= row.last_on), "")) for day in days]


def timetable_of(course: Course, studio: Studio | None = None) -> Timetable | None:
    """None for a course whose meetings were entered one by one."""
    if not course.rule or course.starts_time is None:
        return None
    try:
        rule = parse(course.rule)
    except DomainError:
        return None
    return Timetable(
        rule,
        course.starts_on,
        course.starts_time,
        course.minutes,
        (studio or Studio.the()).zone,
        frozenset(date.fromisoformat(each) for each in course.dates_off),
    )


def rule_words(course: Course, studio: Studio | None = None) -> str:
    """``every Tuesday 18:30 to 21:00, 10 meetings, not on 22 December``; empty without a rule."""
    timetable = timetable_of(course, studio)
    return words_of(timetable) if timetable else ""
