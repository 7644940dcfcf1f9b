"""Rooms, holidays and the studio's rules for classes."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

from django.db import transaction

from studio.domain.problems import DomainError
from studio.domain.refunds import RefundRule
from studio.domain.say import say
from studio.models import ClassRules, Course, Holiday, Person, Room, Session

from .common import (
    clean_text,
    clean_whole,
    local_day,
    moment,
    must_be_tutor,
    refuse,
    retire,
    save_checked,
    studio_zone,
)
from .meetings import call_off_row, tell_off

LONGEST_HOLIDAY_DAYS = 120


@transaction.atomic
def save_room(
    *, by: Person, name: str, wheels: int = 0, room: Room | None = None, now: datetime | None = None
) -> Room:
    """Add a room where classes meet, or change one."""
    must_be_tutor(by)
    row = Room() if room is None else Room.objects.select_for_update(no_key=True).get(pk=room.pk)
    row.name = clean_text(name, label=say("name of the room"), longest=60, required=True)
    row.wheels = clean_whole(wheels, label=say("number of wheels"), least=0, most=200)
    if row.pk:
        using = row.courses.filter(wheels__gt=row.wheels).first()
        if using is not None:
            refuse(
                "wheels-used",
                say(
                    "{name} has {wheels} of its wheels. Change that class first.",
                    name=using.name,
                    wheels=using.wheels,
                ),
            )
    save_checked(row, words={"room_name_once": say("There is a room of this name already.")})
    return row


@transaction.atomic
def retire_room(*, room: Room, by: Person, now: datetime | None = None) -> Room:
    """No longer offered for new classes; those that are in it stay."""
    return retire(room, by=by, now=now)


@transaction.atomic
def add_holiday(
    *, by: Person, name: str, first_on: date, last_on: date | None = None, now: datetime | None = None
) -> Holiday:
    """Days on which the whole studio holds no classes. Meetings made by a rule that would fall on them and
    have not begun are called off, with the holiday's name as the reason.
    """
    must_be_tutor(by)
    now = moment(now)
    last_on = last_on or first_on
    if last_on < first_on:
        refuse("ends-before-start", say("The holiday ends before it starts. Exchange the two days."))
    if (last_on - first_on).days >= LONGEST_HOLIDAY_DAYS:
        refuse(
            "holiday-long",
            say(
                "A holiday has at most {longest_holiday_days} days. Check the year.",
                longest_holiday_days=LONGEST_HOLIDAY_DAYS,
            ),
        )
    if not local_day(now) - timedelta(days=366) <= last_on <= local_day(now) + timedelta(days=5 * 366):
        refuse("year-far", say("The year can't be right. Check the two days."))
    row = Holiday(
        name=clean_text(name, label=say("name of the holiday"), longest=60, required=True),
        first_on=first_on,
        last_on=last_on,
    )
    save_checked(row)
    zone = studio_zone()
    begin = datetime.combine(first_on, time.min, tzinfo=zone).astimezone(UTC)
    end = datetime.combine(last_on + timedelta(days=1), time.min, tzinfo=zone).astimezone(UTC)
    meetings = Session.objects.held().filter(by_rule=True, starts_at__gte=max(begin, now), starts_at__lt=end)
    for session in meetings.select_related("course").order_by("course_id", "starts_at"):
        call_off_row(session, row.name, now)
        tell_off(session, f"{row.name}.", by=by, now=now)
        _leave_out(session.course, session.starts_at.astimezone(zone).date())
    return row


def _leave_out(course: Course, day: date) -> None:
    row = Course.objects.select_for_update(no_key=True).get(pk=course.pk)
    row.dates_off = sorted({*row.dates_off, day.isoformat()})
    row.save(update_fields=["dates_off"])


@transaction.atomic
def drop_holiday(*, holiday: Holiday, by: Person, now: datetime | None = None) -> None:
    """Courses opened from now on meet on these days again. Those that left them out stay as they are."""
    must_be_tutor(by)
    Holiday.objects.filter(pk=holiday.pk).delete()


@transaction.atomic
def save_class_rules(
    *,
    by: Person,
    public_page: bool,
    offer_hours: int,
    full_refund_days: int,
    part_refund_days: int,
    part_refund_percent: int,
    consent_words: str = "",
    now: datetime | None = None,
) -> ClassRules:
    """How the studio lets people in and out of its classes. What has been charged stays as it is."""
    must_be_tutor(by)
    ClassRules.objects.get_or_create(id=1)
    row = ClassRules.objects.select_for_update(no_key=True).get(pk=1)
    row.public_page = bool(public_page)
    row.offer_hours = clean_whole(offer_hours, label=say("hours an offer lasts"), least=1, most=336)
    for field, label, most in (
        ("full_refund_days", say("days for all"), 365),
        ("part_refund_days", say("days for a part"), 365),
        ("part_refund_percent", say("part in percent"), 100),
    ):
        value = {
            "full_refund_days": full_refund_days,
            "part_refund_days": part_refund_days,
            "part_refund_percent": part_refund_percent,
        }[field]
        setattr(row, field, clean_whole(value, label=label, least=0, most=most))
    try:
        RefundRule(row.full_refund_days, row.part_refund_days, row.part_refund_percent)
    except DomainError as error:
        refuse("refund-rule", str(error))
    row.consent_words = clean_text(consent_words, label=say("words of the consent"), longest=1500, lines=True)
    save_checked(row)
    return row
