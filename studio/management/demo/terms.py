"""The term to come: rooms, a holiday, courses with places left and one without, open studio, who waits."""

from __future__ import annotations

from datetime import date, time, timedelta

from studio.actions import class_rooms, enrolments, meetings, waiting
from studio.actions.courses import open_course
from studio.actions.meetings_again import hold_instead
from studio.actions.notices_review import hold
from studio.models import Course, Notice
from studio.notifications.deliver import deliver_due

from .books import Books

SATURDAY = 5


def terms(books: Books) -> None:
    by, now = books.tutor, books.now
    wheels = class_rooms.save_room(by=by, name="Wheel room", wheels=8)
    table = class_rooms.save_room(by=by, name="Long table", wheels=0)
    class_rooms.save_class_rules(
        by=by,
        public_page=True,
        offer_hours=24,
        full_refund_days=14,
        part_refund_days=7,
        part_refund_percent=50,
    )
    begins = _weekday(books, 3, after=18)
    class_rooms.add_holiday(
        by=by,
        name="Half-term",
        first_on=begins + timedelta(days=25),
        last_on=begins + timedelta(days=31),
        now=now,
    )
    thursdays = open_course(
        by=by,
        name="Thursdays at the wheel",
        about="From centring to a set of bowls. Bring an apron and a towel; tools are here.",
        teacher=by,
        room=wheels,
        first_on=begins,
        at=time(18, 30),
        minutes=150,
        rule="FREQ=WEEKLY",
        meetings=8,
        places=8,
        wheels=8,
        price_minor=19_200,
        clay_grams=10_000,
        firing_allowance_litres=12,
        age_least=16,
        is_public=True,
        now=now,
    )
    _enrol(books, thursdays, ("bram", "marek", "hale"))
    young = open_course(
        by=by,
        name="Young potters",
        about="Animals, tiles and first goes at the wheel, in small groups.",
        teacher=by,
        room=table,
        first_on=_weekday(books, SATURDAY, after=18),
        at=time(14),
        minutes=120,
        rule="FREQ=WEEKLY",
        meetings=6,
        places=6,
        price_minor=10_800,
        clay_grams=5_000,
        firing_allowance_litres=6,
        age_least=11,
        age_most=17,
        is_public=True,
        now=now,
    )
    _enrol(books, young, ("sam",))
    fridays = open_course(
        by=by,
        name="Friday open studio",
        kind=Course.Kind.OPEN,
        about="For those who have done a course. Work on your own; one of us is about.",
        teacher=books.people["ivo"],
        room=wheels,
        first_on=_weekday(books, 4, after=1),
        at=time(10),
        minutes=180,
        rule="FREQ=WEEKLY",
        meetings=16,
        places=10,
        is_public=True,
        now=now,
    )
    _off(books, fridays)
    _jars(books, table)


def _off(books: Books, fridays: Course) -> None:
    """Two meetings are called off; for the first, another is held two days later."""
    second, third = fridays.sessions.order_by("starts_at")[1:3]
    for session, why in ((second, "The electrician is in."), (third, "Ivo is at a fair.")):
        meetings.call_off(session=session, why=why, by=books.tutor, now=books.now)
    hold_instead(
        session=second,
        on=second.starts_at.astimezone(books.zone).date() + timedelta(days=2),
        at=time(10),
        minutes=180,
        by=books.tutor,
        now=books.now,
    )


def _jars(books: Books, room: object) -> None:
    """A full workshop: somebody gave a place up three hours ago, and the first who waits is offered it."""
    jars = open_course(
        by=books.tutor,
        name="A day of lidded jars",
        kind=Course.Kind.WORKSHOP,
        about="Lids that fit: galleries, knobs, and measuring wet clay for a fired size.",
        teacher=books.tutor,
        room=room,
        first_on=_weekday(books, 6, after=24),
        at=time(10),
        minutes=360,
        rule="FREQ=DAILY;COUNT=1",
        places=4,
        price_minor=8_500,
        clay_grams=4_000,
        firing_allowance_litres=4,
        is_public=True,
        now=books.now,
    )
    asked = books.now - timedelta(days=6)
    _enrol(books, jars, ("ines", "joan", "leila", "priya"))
    for number, key in enumerate(("tobias", "noor")):
        waiting.wait(
            course=jars, person=books.people[key], by=books.tutor, now=asked + timedelta(hours=number)
        )
    enrolments.leave(
        enrolment=jars.enrolments.get(person=books.people["priya"]),
        by=books.tutor,
        now=books.now - timedelta(hours=3),
    )
    # The offer goes out at once: nothing of the demo is left to be sent by itself.
    deliver_due(worker="demo", clock=lambda: books.now - timedelta(hours=2))
    for notice in Notice.objects.filter(kind=Notice.Kind.PLACE, state=Notice.State.QUEUED):
        hold(notice=notice, by=books.tutor, now=books.now)


def _enrol(books: Books, course: Course, keys: tuple[str, ...]) -> None:
    for key in keys:
        enrolments.enrol(
            course=course,
            person=books.people[key],
            by=books.tutor,
            with_fee=False,
            consent_signed_on=books.today - timedelta(days=8),
            now=books.now - timedelta(days=7),
        )


def _weekday(books: Books, weekday: int, *, after: int) -> date:
    """The first such day of the week at least so many days from today."""
    day = books.today + timedelta(days=after)
    return day + timedelta(days=(weekday - day.weekday()) % 7)
