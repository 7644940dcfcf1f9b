"""Courses: opened with all their meetings, and what else there is to say of them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F

from studio.domain.say import later, say
from studio.models import Course, Person, Room, TaxRate, Teaching

from .common import (
    KEEP,
    clean_choice,
    clean_text,
    clean_whole,
    moment,
    must_be_tutor,
    refuse,
    save_checked,
)
from .meetings import room_changed
from .timetables import add_meetings, planned, put_on

MOST_PLACES = 200
OLDEST = 120
MOST_CLAY_GRAMS = 100_000
MOST_LITRES = 1000


@transaction.atomic
def open_course(
    *,
    by: Person,
    name: str,
    first_on: date,
    at: time,
    minutes: int,
    rule: str,
    meetings: int | None = None,
    dates_off: Iterable[date] = (),
    now: datetime | None = None,
    **fields: Any,
) -> Course:
    """A new course with all its meetings, both or neither. ``fields`` are those of `save_course`.

    ``rule`` is the value of an RRULE, such as ``FREQ=WEEKLY;BYDAY=TU`` (`domain.recurrence.rule_of` makes
    one); ``FREQ=DAILY;COUNT=1`` meets once. ``meetings`` take place besides the days left out: the studio's
    holidays and ``dates_off``.
    """
    must_be_tutor(by)
    timetable = planned(
        rule=rule, first_on=first_on, at=at, minutes=minutes, meetings=meetings, dates_off=dates_off
    )
    row = save_course(by=by, name=name, starts_on=timetable.first_on, now=now, **fields)
    put_on(row, timetable)
    save_checked(row)
    add_meetings(row, timetable)
    return row


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
    about: str = KEEP,
    room: Room | None = KEEP,
    wheels: int = KEEP,
    price_minor: int = KEEP,
    tax: TaxRate | None = KEEP,
    clay_grams: int = KEEP,
    age_least: int | None = KEEP,
    age_most: int | None = KEEP,
    is_public: bool = KEEP,
    course: Course | None = None,
    now: datetime | None = None,
) -> Course:
    """Add a course without meetings, or change what is said of one; its meetings stay.

    Another room is told to the class, like another time. Another teacher shows in the calendars of both.
    The allowance is in litres of kiln space for each person. The price holds its tax; places taken keep the
    fee they were charged. What is not named stays.
    """
    must_be_tutor(by)
    row = Course() if course is None else Course.objects.select_for_update(no_key=True).get(pk=course.pk)
    row.name = clean_text(name, label=say("name of the course"), longest=80, required=True)
    row.kind = clean_choice(kind, Course.Kind.values, label=say("kind of course"))
    if teacher is not None and not (teacher.is_staff_member and teacher.is_active):
        refuse(
            "teacher-not-staff",
            say("{full_name} is no tutor or helper. Choose who teaches.", full_name=teacher.full_name),
        )
    teacher_before, room_before = row.teacher, row.room
    row.teacher = teacher
    row.places = clean_whole(places, label=say("number of places"), least=1, most=MOST_PLACES)
    if starts_on is None:
        refuse("missing", say("The first day is missing. Choose it."))
    if ends_on is not None and ends_on < starts_on:
        refuse("ends-before-start", say("The course ends before it starts. Check the two days."))
    if not 2000 <= starts_on.year <= 2100 or (ends_on and ends_on.year > 2100):
        refuse("year-far", say("The year can't be right. Check the days of the course."))
    row.starts_on, row.ends_on = starts_on, ends_on
    row.firing_allowance_litres = firing_allowance_litres
    if row.pk:
        enrolled = row.enrolments.filter(left_at__isnull=True).count()
        if row.places < enrolled:
            refuse(
                "too-few-places",
                say("{enrolled} people are enrolled. Keep at least as many places.", enrolled=enrolled),
            )
    if not 0 <= firing_allowance_litres <= MOST_LITRES:
        refuse("allowance", say("The firing allowance must be from 0 to 1,000 litres."))
    named = {
        "about": about,
        "room": room,
        "wheels": wheels,
        "price_minor": price_minor,
        "tax": tax,
        "clay_grams": clay_grams,
        "age_least": age_least,
        "age_most": age_most,
        "is_public": is_public,
    }
    _say(row, {field: value for field, value in named.items() if value is not KEEP})
    _check(row)
    is_new = row.pk is None
    save_checked(row)
    if not is_new and teacher_before != teacher:
        _hand_over(row, teacher_before, moment(now))
    if not is_new and room_before != row.room:
        room_changed(row, before=room_before, by=by, now=moment(now))
    return row


def _hand_over(row: Course, before: Person | None, now: datetime) -> None:
    """Remember who taught a course until now, and who takes it again, for their calendars."""
    if before is not None:
        Teaching.objects.update_or_create(course=row, person=before, defaults={"left_at": now})
    if row.teacher is not None:
        again = Teaching.objects.filter(course=row, person=row.teacher)
        again.update(left_at=None, round=F("round") + 1)


def _say(row: Course, said: dict[str, Any]) -> None:
    limits = {
        "wheels": (say("number of wheels"), MOST_PLACES),
        "price_minor": ("price", 10**9),
        "clay_grams": ("clay", MOST_CLAY_GRAMS),
        "age_least": (say("lowest age"), OLDEST),
        "age_most": (say("highest age"), OLDEST),
    }
    for field, value in said.items():
        if field == "about":
            value = clean_text(value, label=later("description"), longest=1000, lines=True)
        elif field in limits and value is not None:
            label, most = limits[field]
            value = clean_whole(value, label=label, least=0, most=most)
        setattr(row, field, value)


def _check(row: Course) -> None:
    if row.age_least is not None and row.age_most is not None and row.age_least > row.age_most:
        refuse("ages", say("The lowest age is above the highest. Exchange the two."))
    if row.room is not None and row.wheels > row.room.wheels:
        refuse(
            "too-many-wheels",
            say(
                "{name} has {wheels} wheels. Give this class at most as many.",
                name=row.room.name,
                wheels=row.room.wheels,
            ),
        )
