"""Courses opened with their meetings, moved to other days, and days on which the studio is closed."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import islice

import pytest
from dateutil.rrule import rrulestr

from studio.actions.class_rooms import add_holiday, drop_holiday, save_class_rules, save_room
from studio.actions.courses import open_course, save_course
from studio.actions.make_ups import book_make_up
from studio.actions.meetings import call_off, call_off_row
from studio.actions.timetables import change_timetable
from studio.domain.problems import Refused
from studio.domain.recurrence import MOST_MEETINGS
from studio.models import Course, Holiday, Notice, Session
from studio.notifications.compose import compose
from studio.queries.courses import rule_words, timetable_of
from tests import factories

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 1, 9, tzinfo=UTC)
FIRST = date(2026, 10, 20)


@pytest.fixture
def maud():
    factories.studio(time_zone="Europe/London")
    return factories.tutor()


def tuesdays(maud, **values):
    return open_course(
        **{
            "by": maud,
            "name": "Tuesday evening throwing",
            "first_on": FIRST,
            "at": time(18, 30),
            "minutes": 150,
            "rule": "FREQ=WEEKLY;BYDAY=TU",
            "meetings": 3,
            "now": NOW,
            **values,
        }
    )


def starts(course: Course) -> list[datetime]:
    return list(course.sessions.held().order_by("starts_at").values_list("starts_at", flat=True))


def test_it_meets_at_the_same_time_of_the_clock_when_the_clocks_change(maud) -> None:
    """Clocks in Europe/London go back on 25 October 2026 (the IANA time zone database)."""
    course = tuesdays(maud)
    assert starts(course) == [
        datetime(2026, 10, 20, 17, 30, tzinfo=UTC),
        datetime(2026, 10, 27, 18, 30, tzinfo=UTC),
        datetime(2026, 11, 3, 18, 30, tzinfo=UTC),
    ]
    assert all(each.ends_at - each.starts_at == timedelta(minutes=150) for each in course.sessions.all())
    assert (course.starts_on, course.ends_on) == (FIRST, date(2026, 11, 3))


def test_what_is_stored_reads_back_in_another_program_as_the_meetings_made(maud) -> None:
    """Held to python-dateutil."""
    Holiday.objects.create(name="Christmas", first_on=date(2026, 12, 20), last_on=date(2027, 1, 4))
    courses = [
        tuesdays(maud, meetings=12),
        tuesdays(maud, rule="FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH", meetings=9, dates_off=[date(2026, 11, 5)]),
        tuesdays(maud, rule="FREQ=WEEKLY;BYDAY=TU;UNTIL=20261215", meetings=None),
        tuesdays(maud, rule="FREQ=MONTHLY;BYDAY=-1SU", meetings=8),
        tuesdays(maud, rule="FREQ=DAILY;COUNT=5", meetings=None),
        tuesdays(maud, rule="FREQ=DAILY;COUNT=1", meetings=None, kind="workshop"),
    ]
    counts = [12, 9, 9, 8, 5, 1]
    for course, count in zip(courses, counts, strict=True):
        lines = "\n".join(timetable_of(course).lines("Europe/London"))
        read = [each.astimezone(UTC) for each in islice(rrulestr(lines), MOST_MEETINGS)]
        assert starts(course) == read
        assert len(read) == count
    assert rule_words(courses[0]) == ("every Tuesday 18:30 to 21:00, 12 meetings, not on 22 and 29 December")


def test_a_first_day_that_the_rule_does_not_fall_on_is_the_next_one(maud) -> None:
    course = tuesdays(maud, first_on=date(2026, 10, 18))
    assert course.starts_on == FIRST
    assert len(starts(course)) == 3


def test_what_cannot_be_is_refused_and_nothing_is_saved(maud) -> None:
    for values, words in (
        ({"meetings": None}, "how many meetings"),
        ({"meetings": 0}, "1 to 210 meetings"),
        ({"meetings": 211}, "1 to 210 meetings"),
        ({"rule": "FREQ=YEARLY"}, "by the day, the week or the month"),
        ({"rule": ""}, "not complete"),
        ({"rule": "FREQ=WEEKLY;UNTIL=20261001", "meetings": None}, "No day fits"),
        ({"rule": "FREQ=DAILY;UNTIL=20991001", "meetings": None}, "more than 210"),
        ({"rule": "FREQ=DAILY;COUNT=1", "dates_off": [FIRST]}, "left out"),
        ({"minutes": 5}, "length in minutes"),
        ({"first_on": date(1999, 10, 20)}, "year"),
        ({"name": ""}, "name of the course"),
        ({"teacher": factories.student()}, "no tutor or helper"),
        ({"age_least": 16, "age_most": 11}, "Exchange the two"),
        ({"price_minor": -1}, "price"),
        ({"by": factories.helper()}, "Only the tutor"),
    ):
        with pytest.raises(Refused, match=words):
            tuesdays(maud, **values)
    assert (Course.objects.count(), Session.objects.count()) == (0, 0)


def test_another_hour_moves_the_meetings_to_come_and_keeps_their_codes(maud) -> None:
    course = tuesdays(maud)
    before = list(course.sessions.order_by("starts_at").values_list("code", flat=True))
    after_first = datetime(2026, 10, 21, tzinfo=UTC)
    change_timetable(
        course=course,
        by=maud,
        rule="FREQ=WEEKLY;BYDAY=WE",
        first_on=date(2026, 10, 28),
        at=time(19),
        minutes=120,
        meetings=3,
        now=after_first,
    )
    rows = list(course.sessions.order_by("starts_at"))
    assert [row.code for row in rows[:3]] == before
    assert [(row.starts_at.day, row.starts_at.hour, row.revision) for row in rows] == [
        (20, 17, 0),
        (28, 19, 1),
        (4, 19, 1),
        (11, 19, 0),
    ]
    course.refresh_from_db()
    assert course.starts_on == FIRST
    assert course.ends_on == date(2026, 11, 11)


def test_a_shorter_timetable_calls_off_the_rest_and_what_was_called_off_stays_so(maud) -> None:
    course = tuesdays(maud, meetings=5)
    second = course.sessions.order_by("starts_at")[1]
    call_off_row(second, "Maud is away.", NOW)
    change_timetable(
        course=course,
        by=maud,
        rule="FREQ=WEEKLY;BYDAY=TU",
        first_on=FIRST,
        at=time(18),
        minutes=150,
        meetings=4,
        now=NOW,
    )
    held = list(course.sessions.held().order_by("starts_at"))
    assert [row.starts_at.astimezone(UTC).day for row in held] == [20, 3, 10]
    off = course.sessions.filter(cancelled_at__isnull=False)
    assert {row.cancelled_why for row in off} == {"Maud is away.", "The timetable has changed."}
    with pytest.raises(Refused, match="from today on"):
        change_timetable(
            course=course,
            by=maud,
            rule="FREQ=WEEKLY",
            first_on=date(2026, 8, 1),
            at=time(18),
            minutes=150,
            meetings=4,
            now=NOW,
        )


def test_a_holiday_calls_off_what_was_planned_and_later_courses_leave_it_out(maud) -> None:
    course = tuesdays(maud)
    by_hand = factories.session(course, starts_at=datetime(2026, 10, 28, 12, tzinfo=UTC))
    holiday = add_holiday(
        by=maud, name="Half-term", first_on=date(2026, 10, 26), last_on=date(2026, 10, 30), now=NOW
    )
    off = course.sessions.get(cancelled_at__isnull=False)
    assert (off.cancelled_why, off.starts_at.day, off.revision) == ("Half-term", 27, 1)
    by_hand.refresh_from_db()
    assert by_hand.cancelled_at is None
    course.refresh_from_db()
    assert rule_words(course).endswith("2 meetings, not on 27 October")
    assert [each.day for each in starts(tuesdays(maud))] == [20, 3, 10]
    drop_holiday(holiday=holiday, by=maud)
    assert [each.day for each in starts(tuesdays(maud))] == [20, 27, 3]
    for values, words in (
        ({"last_on": date(2026, 10, 1)}, "ends before it starts"),
        ({"last_on": date(2027, 10, 20)}, "at most 120 days"),
        ({"first_on": date(2019, 10, 20)}, "year"),
        ({"name": ""}, "name of the holiday"),
    ):
        with pytest.raises(Refused, match=words):
            add_holiday(**{"by": maud, "name": "Away", "first_on": FIRST, "now": NOW, **values})


def test_only_the_tutor_keeps_rooms_and_rules(maud) -> None:
    ivo = factories.helper()
    with pytest.raises(Refused, match="Only the tutor"):
        save_room(by=ivo, name="Shed")
    with pytest.raises(Refused, match="Only the tutor"):
        add_holiday(by=ivo, name="Away", first_on=FIRST, now=NOW)
    with pytest.raises(Refused, match="Only the tutor"):
        save_class_rules(
            by=ivo,
            public_page=True,
            offer_hours=1,
            full_refund_days=1,
            part_refund_days=0,
            part_refund_percent=0,
        )


def test_the_class_is_told_what_changes_and_guardians_for_the_young(maud) -> None:
    course = tuesdays(maud)
    ruth = factories.guardian()
    for person in (factories.student(), factories.young_person(guardian=ruth)):
        factories.enrolment(person, course, enrolled_at=NOW)
    meeting = course.sessions.order_by("starts_at")[1]
    for _ in range(2):
        call_off(session=meeting, why="Maud is away.", by=maud, now=NOW)
    told = Notice.objects.filter(kind=Notice.Kind.CLASS_CHANGE)
    assert told.count() == 2
    mail = compose(told.get(recipient=ruth), now=NOW)
    assert mail.to == ruth.email
    assert "does not meet on Tuesday 27 October at 18:30. Maud is away." in " ".join(mail.text.split())
    assert "Sam" not in mail.subject
    meeting.refresh_from_db()
    assert (meeting.cancelled_why, meeting.revision) == ("Maud is away.", 1)
    add_holiday(by=maud, name="Half-term", first_on=date(2026, 11, 2), last_on=date(2026, 11, 6), now=NOW)
    assert told.count() == 4
    change_timetable(
        course=course,
        by=maud,
        rule="FREQ=WEEKLY",
        first_on=date(2026, 10, 22),
        at=time(19),
        minutes=120,
        meetings=2,
        now=NOW,
    )
    assert told.count() == 6
    words = " ".join(compose(told.order_by("-pk")[0], now=NOW).text.split())
    assert "From now on Tuesday evening throwing meets every Thursday 19:00 to 21:00, 2 meetings" in words
    with pytest.raises(Refused, match="reason is missing"):
        call_off(session=course.sessions.held().first(), why=" ", by=maud, now=NOW)
    with pytest.raises(Refused, match="Only the tutor"):
        call_off(session=meeting, why="No", by=factories.helper(), now=NOW)


def test_another_room_is_told_to_the_class_and_read_by_calendars(maud) -> None:
    barn, kiln_room, loft = (save_room(by=maud, name=name, now=NOW) for name in ("Barn", "Kiln room", "Loft"))
    course = tuesdays(maud, room=barn)
    ruth = factories.guardian()
    for person in (factories.student(), factories.young_person(guardian=ruth)):
        factories.enrolment(person, course, enrolled_at=NOW)
    after_first = datetime(2026, 10, 21, tzinfo=UTC)

    def change(room, minute: int, **values) -> None:
        at = after_first + timedelta(minutes=minute)
        save_course(by=maud, course=course, name=course.name, starts_on=FIRST, room=room, now=at, **values)

    told = Notice.objects.filter(kind=Notice.Kind.CLASS_CHANGE)
    change(barn, 0, places=6)
    assert told.count() == 0, "the room is the same"
    change(kiln_room, 1)
    assert told.count() == 2
    words = " ".join(compose(told.get(recipient=ruth), now=after_first).text.split())
    assert "From now on Tuesday evening throwing meets in Kiln room." in words
    assert [row.revision for row in course.sessions.order_by("starts_at")] == [0, 1, 1], "the first is over"
    # Changed again before anything went: only the last word is mailed.
    change(loft, 2)
    states = told.filter(recipient=ruth).order_by("pk").values_list("state", "said")
    assert list(states) == [
        ("dropped", "From now on Tuesday evening throwing meets in Kiln room."),
        ("queued", "From now on Tuesday evening throwing meets in Loft."),
    ]
    # And changed back before anything went: there is nothing to tell.
    change(barn, 3)
    assert (told.count(), told.filter(state="queued").count()) == (4, 0)
    # Ruth has read of the loft, Ines's mail still waits: only Ruth is told of the way back.
    change(loft, 6)
    told.filter(state="queued", recipient=ruth).update(state="sent", sent_at=after_first)
    change(barn, 7)
    [waiting] = told.filter(state="queued")
    assert (waiting.recipient, waiting.said) == (ruth, "From now on Tuesday evening throwing meets in Barn.")
    change(loft, 8)
    [waiting] = told.filter(state="queued")
    assert waiting.recipient != ruth, "she knows of the loft, and the way back never went"
    count = told.count()
    change(None, 9)
    assert told.count() == count, "no room is no word of where to go"
    assert not told.filter(state="queued").exists()
    over = tuesdays(maud, name="Long over", room=barn)
    factories.enrolment(factories.student("Tobias"), over, enrolled_at=NOW)
    before = told.count()
    save_course(
        by=maud,
        course=over,
        name="Long over",
        starts_on=FIRST,
        room=kiln_room,
        now=datetime(2027, 1, 1, tzinfo=UTC),
    )
    assert told.count() == before, "nobody comes any more"


def test_a_guest_who_makes_up_a_class_is_told_that_it_is_called_off(maud) -> None:
    course, tobias = tuesdays(maud), factories.student("Tobias")
    meeting = course.sessions.order_by("starts_at")[1]
    missed = factories.session(factories.course("Daytime class"), starts_at=NOW - timedelta(days=7))
    factories.attended(tobias, missed, "away")
    book_make_up(
        person=tobias, missed=missed, session=meeting, by=maud, client_id=factories.client_id(), now=NOW
    )
    call_off(session=meeting, why="Maud is away.", by=maud, now=NOW)
    notice = Notice.objects.get(kind=Notice.Kind.CLASS_CHANGE)
    assert (notice.recipient, notice.course) == (tobias, course)
