"""A meeting that was called off is held after all, or another one instead of it."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import icalendar
import pytest
from django.test import Client
from django.utils import translation

from studio.actions.calendar import make_feed
from studio.actions.class_rooms import add_holiday
from studio.actions.courses import open_course
from studio.actions.make_ups import book_make_up
from studio.actions.meetings import call_off
from studio.actions.meetings_again import hold_after_all, hold_instead
from studio.actions.timetables import change_timetable
from studio.domain.problems import Refused
from studio.models import Course, MakeUp, Notice, Person, Session
from studio.notifications.compose import compose
from tests import factories as make

pytestmark = pytest.mark.django_db

#: Tuesdays at half past six from 20 October 2026 on; the clocks go back on the 25th.
FIRST, EVENING = date(2026, 10, 20), time(18, 30)
NOW = datetime(2026, 10, 19, 12, tzinfo=UTC)


@pytest.fixture
def maud() -> Person:
    make.studio()
    return make.tutor()


def tuesdays(by: Person, *, meetings: int = 3, **values: object) -> Course:
    named = {"name": "Tuesday throwing", "places": 4, **values}
    return open_course(
        by=by,
        first_on=FIRST,
        at=EVENING,
        minutes=150,
        rule="FREQ=WEEKLY",
        meetings=meetings,
        now=NOW,
        **named,
    )


def off(course: Course, by: Person, index: int = 1, why: str = "Maud is ill.") -> Session:
    return call_off(session=course.sessions.order_by("starts_at")[index], why=why, by=by, now=NOW)


def told() -> list[tuple[str, str, str]]:
    rows = Notice.objects.filter(kind=Notice.Kind.CLASS_CHANGE).order_by("pk")
    return [(row.recipient.first_name, row.state, row.said) for row in rows.select_related("recipient")]


def gone() -> None:
    Notice.objects.filter(state="queued").update(state="sent", sent_at=NOW)


def test_a_meeting_is_held_after_all_and_who_read_otherwise_is_told(maud: Person) -> None:
    course = tuesdays(maud)
    sam = make.young_person(guardian=make.guardian())
    for person in (make.student(), sam):
        make.enrolment(person, course, enrolled_at=NOW)
    meeting = off(course, maud)
    gone()
    for _ in range(2):
        held = hold_after_all(session=meeting, by=maud, words="She is well again.", now=NOW)
    assert (held.cancelled_at, held.cancelled_why, held.revision) == (None, "", 2)
    line = "Tuesday throwing does meet on Tuesday 27 October at 18:30: it is held after all."
    assert told()[2:] == [
        ("Ruth", "queued", f"{line}\n\nShe is well again."),
        ("Ines", "queued", f"{line}\n\nShe is well again."),
    ], "one mail each; the guardian reads it for Sam"
    mail = compose(Notice.objects.get(state="queued", recipient=sam.guardian), now=NOW)
    assert mail.to == sam.guardian.email
    assert line in " ".join(mail.text.split())
    # Called off again before that went: they know it already.
    call_off(session=held, why="She is not.", by=maud, now=NOW)
    assert [state for _, state, _ in told()] == ["sent", "sent", "dropped", "dropped"]
    # And held: now there is news again.
    hold_after_all(session=held, by=maud, now=NOW + timedelta(minutes=1))
    assert told()[4:] == [("Ruth", "queued", line), ("Ines", "queued", line)]


def test_each_reads_it_in_their_own_language_whatever_the_tutors_is(maud: Person) -> None:
    course = tuesdays(maud)
    make.enrolment(make.student("Ann", language="en"), course, enrolled_at=NOW)
    make.enrolment(make.student("Bea", language="de"), course, enrolled_at=NOW)
    with translation.override("de"):
        meeting = off(course, maud)
    assert {name: said for name, _, said in told()} == {
        "Ann": "Tuesday throwing does not meet on Tuesday 27 October at 18:30. Maud is ill.",
        "Bea": "Tuesday throwing findet am Dienstag, 27. Oktober um 18:30 Uhr nicht statt. Maud is ill.",
    }
    gone()
    hold_instead(session=meeting, by=maud, on=date(2026, 10, 29), at=EVENING, minutes=150, now=NOW)
    said = {name: said for name, state, said in told() if state == "queued"}
    assert said["Ann"].endswith("It meets on Thursday 29 October at 18:30 instead.")
    assert said["Bea"].endswith("Der Termin wird nachgeholt: Donnerstag, 29. Oktober um 18:30 Uhr.")


def test_a_mail_that_has_not_gone_is_withdrawn_and_nothing_else_goes(maud: Person) -> None:
    course = tuesdays(maud)
    make.enrolment(make.student(), course, enrolled_at=NOW)
    hold_after_all(session=off(course, maud), by=maud, now=NOW)
    [(name, state, _)] = told()
    assert (name, state) == ("Ines", "dropped")


def test_a_calendar_takes_it_back_with_a_higher_sequence(maud: Person) -> None:
    """RFC 5545, 3.8.7.4: SEQUENCE rises with each revision. RFC 5546, 2.1.4: a change of STATUS is one."""
    course = tuesdays(maud)
    meeting = course.sessions.order_by("starts_at")[1]
    feed = make_feed(name="x", by=maud)
    start = datetime.now(UTC).replace(microsecond=0) + timedelta(days=3)
    Session.objects.filter(pk=meeting.pk).update(starts_at=start, ends_at=start + timedelta(hours=2))

    def state() -> tuple[str, int]:
        answer = Client().get(f"/calendar/feed/{feed.secret}.ics")
        events = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
        event = next(each for each in events if meeting.code in str(each["uid"]))
        return str(event["status"]), int(event["sequence"])

    seen = [state()]
    call_off(session=meeting, why="Ill.", by=maud, now=NOW)
    seen.append(state())
    hold_after_all(session=meeting, by=maud, now=NOW)
    seen.append(state())
    assert seen == [("CONFIRMED", 0), ("CANCELLED", 1), ("CONFIRMED", 2)]


def guest(maud: Person, meeting: Session) -> MakeUp:
    tobias = make.student("Tobias")
    missed = make.session(make.course("Daytime class"), starts_at=NOW - timedelta(days=7))
    make.attended(tobias, missed, "away")
    sent = make.client_id()
    return book_make_up(person=tobias, missed=missed, session=meeting, by=maud, client_id=sent, now=NOW)


def test_who_makes_up_a_class_in_it_keeps_the_place_and_no_place_goes_twice(maud: Person) -> None:
    course = tuesdays(maud, places=1)
    meeting = course.sessions.order_by("starts_at")[1]
    booked = guest(maud, meeting)
    call_off(session=meeting, why="Ill.", by=maud, now=NOW)
    gone()
    # Meanwhile the one place is taken for the whole course.
    ines = make.enrolment(make.student(), course, enrolled_at=NOW)
    with pytest.raises(Refused, match="no room any more for 1"):
        hold_after_all(session=meeting, by=maud, now=NOW)
    meeting.refresh_from_db()
    assert meeting.cancelled_at is not None
    ines.delete()
    hold_after_all(session=meeting, by=maud, now=NOW)
    booked.refresh_from_db()
    assert booked.given_up_at is None
    assert [name for name, state, _ in told() if state == "queued"] == ["Tobias"]


def test_a_changed_timetable_moves_it_again_but_not_one_on_a_holiday(maud: Person) -> None:
    course = tuesdays(maud, meetings=4)
    add_holiday(by=maud, name="Half-term", first_on=date(2026, 10, 27), last_on=date(2026, 10, 27), now=NOW)
    rows = list(course.sessions.order_by("starts_at"))
    Course.objects.filter(pk=course.pk).update(dates_off=["2026-10-27", "2026-11-03"])
    off(course, maud, 2)
    half_term, ordinary = (hold_after_all(session=rows[index], by=maud, now=NOW) for index in (1, 2))
    course.refresh_from_db()
    assert course.dates_off == ["2026-10-27"]
    assert (half_term.by_rule, ordinary.by_rule) == (False, True)
    change_timetable(
        course=course,
        by=maud,
        rule="FREQ=WEEKLY",
        first_on=FIRST,
        at=time(19),
        minutes=150,
        meetings=3,
        now=NOW,
    )
    starts = [row.starts_at.strftime("%d %H:%M") for row in course.sessions.held().order_by("starts_at")]
    assert starts == ["20 18:00", "27 18:30", "03 19:00", "10 19:00"]


def test_another_meeting_is_held_instead_and_one_mail_says_both(maud: Person) -> None:
    course = tuesdays(maud)
    make.enrolment(make.student(), course, enrolled_at=NOW)
    meeting = off(course, maud, why="Maud is ill")
    for _ in range(2):
        new = hold_instead(session=meeting, on=date(2026, 11, 14), at=time(10), minutes=120, by=maud, now=NOW)
    assert (new.starts_at, new.ends_at) == (
        datetime(2026, 11, 14, 10, tzinfo=UTC),
        datetime(2026, 11, 14, 12, tzinfo=UTC),
    )
    assert (new.replaces, new.by_rule, course.sessions.count()) == (meeting, False, 4)
    course.refresh_from_db()
    assert course.ends_on == date(2026, 11, 14)
    assert told()[1:] == [
        (
            "Ines",
            "queued",
            "Tuesday throwing does not meet on Tuesday 27 October. Maud is ill. "
            "It meets on Saturday 14 November at 10:00 instead.",
        )
    ]
    assert told()[0][1] == "dropped", "the mail that only said it is off"
    meeting = Session.objects.get(pk=meeting.pk)
    with pytest.raises(Refused, match="stands in for it, on Saturday 14 November"):
        hold_after_all(session=meeting, by=maud, now=NOW)
    with pytest.raises(Refused, match="stands in for it"):
        hold_instead(session=meeting, on=date(2026, 11, 15), at=time(10), minutes=120, by=maud, now=NOW)
    # That one is called off too, before its mail went: both days are named.
    call_off(session=new, why="Fog.", by=maud, now=NOW)
    assert [said for _, state, said in told() if state == "queued"] == [
        "Tuesday throwing does not meet on Saturday 14 November at 10:00, nor on Tuesday 27 October. Fog."
    ]
    meeting = Session.objects.get(pk=meeting.pk)
    assert meeting.instead is None
    third = hold_instead(session=meeting, on=date(2026, 11, 15), at=time(10), minutes=120, by=maud, now=NOW)
    assert Session.objects.get(pk=meeting.pk).instead == third


def test_what_is_refused(maud: Person) -> None:
    course = tuesdays(maud)
    meeting, held = off(course, maud), course.sessions.order_by("starts_at")[0]

    def instead(session: Session = meeting, **values: object) -> None:
        named = {"on": date(2026, 10, 31), "at": time(10), "minutes": 150, "by": maud, "now": NOW, **values}
        hold_instead(session=session, **named)

    for values, words in (
        ({"by": make.helper()}, "Only the tutor"),
        ({"session": held}, "Call it off first"),
        ({"on": None}, "missing"),
        ({"on": date(2026, 10, 1)}, "from today on"),
        ({"on": date(2028, 10, 1)}, "within a year"),
        ({"on": date(2026, 10, 19), "at": time(8)}, "is over"),
        ({"minutes": 5}, "minutes"),
        ({"on": date(2026, 11, 3), "at": time(17)}, "meets then anyway"),
        ({"on": date(2026, 10, 27), "at": EVENING}, "at that very time was called off"),
    ):
        with pytest.raises(Refused, match=words):
            instead(**values)
    assert course.sessions.count() == 3
    with pytest.raises(Refused, match="Only the tutor"):
        hold_after_all(session=meeting, by=make.helper(), now=NOW)
    with pytest.raises(Refused, match="Hold another one instead"):
        hold_after_all(session=meeting, by=maud, now=NOW + timedelta(days=9))
    make.session(course, starts_at=meeting.starts_at + timedelta(hours=1))
    with pytest.raises(Refused, match="meets then anyway"):
        hold_after_all(session=meeting, by=maud, now=NOW)
