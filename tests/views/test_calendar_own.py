"""The week beside the month, and the feeds of a teacher and of somebody who goes to classes."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import islice
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest
from dateutil.rrule import WEEKLY, rrule, rruleset, rrulestr
from django.test import Client
from django.urls import reverse

from studio.actions import calendar as actions
from studio.actions.courses import open_course, save_course
from studio.domain.problems import Refused
from studio.models import CalendarFeed, Enrolment, MakeUp, Person, Session, Teaching
from studio.queries import calendar as queries
from studio.queries import calendar_own as queries_own
from tests import factories as make
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

LONDON = ZoneInfo("Europe/London")
DAY = timedelta(days=1)
LONG_AGO = datetime(2020, 1, 1, tzinfo=UTC)


@pytest.fixture
def maud() -> Person:
    make.studio()
    return make.tutor()


@pytest.fixture
def ines(maud: Person) -> Person:
    return make.student()


def soon(days: int = 3) -> datetime:
    return datetime.now(UTC).replace(hour=9, minute=30, second=0, microsecond=0) + days * DAY


def read(feed: CalendarFeed) -> dict[str, icalendar.Event]:
    """Parsed by icalendar, which follows RFC 5545; by UID, of which each is there once."""
    answer = Client().get(f"/calendar/feed/{feed.secret}.ics")
    assert answer.status_code == 200
    events = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
    found = {str(event["uid"]): event for event in events}
    assert len(found) == len(events)
    return found


def goes(person: Person, course: Any, **values: Any) -> Enrolment:
    return make.enrolment(person, course, **{"enrolled_at": LONG_AGO, **values})


def own(person: Person) -> CalendarFeed:
    return actions.make_feed(name="My phone", by=person, of="own")


# The week


def test_a_week_has_its_seven_days_and_their_hours(maud: Person) -> None:
    make.session(make.course("Evening throwing"), starts_at=datetime(2026, 7, 14, 17, 30, tzinfo=UTC))
    make.session(make.course("Next week"), starts_at=datetime(2026, 7, 20, 17, 30, tzinfo=UTC))
    page = signed_in(maud).get(reverse("calendar-week"), {"week": "2026-W29"}).content.decode()
    assert "13 to 19 July 2026" in page
    assert "18:30 to" in page, "by the studio's clock, in summer an hour ahead of UTC"
    assert "Evening throwing" in page
    assert "Next week" not in page.replace("Week after", "")
    assert "?week=2026-W28" in page
    assert "?week=2026-W30" in page


def test_the_weeks_about_the_year_are_those_of_iso_8601(maud: Person) -> None:
    """2026 has 53 weeks (ISO 8601; any year that begins on a Thursday has)."""
    page = signed_in(maud).get(reverse("calendar-week"), {"week": "2026-W53"}).content.decode()
    assert "28 December to 3 January 2027" in page
    assert "?week=2027-W01" in page


@pytest.mark.parametrize("asked", ["", "2026-W60", "x", "W", "0001-W01", "2026-13", "\x00", "2026-W29-3"])
def test_nonsense_for_a_week_shows_this_one(asked: str, maud: Person) -> None:
    answer = signed_in(maud).get(reverse("calendar-week"), {"week": asked})
    assert answer.status_code == 200
    today = datetime.now(LONDON).date()
    assert answer.context["days"][0].day == today - timedelta(days=today.weekday())


def test_what_was_called_off_stays_in_the_week_and_says_so(maud: Person) -> None:
    make.session(
        make.course("Evening throwing"),
        starts_at=datetime(2026, 7, 14, 17, 30, tzinfo=UTC),
        cancelled_at=make.NOW,
        cancelled_why="The kiln room floods",
    )
    page = signed_in(maud).get(reverse("calendar-week"), {"week": "2026-W29"}).content.decode()
    assert "Called off." in page
    assert "The kiln room floods" in page


def test_both_clock_changes_have_their_week(maud: Person) -> None:
    """29 March and 25 October 2026 in London (tz database): days of 23 and of 25 hours."""
    for day, last in ((date(2026, 3, 23), date(2026, 3, 29)), (date(2026, 10, 19), date(2026, 10, 25))):
        late = datetime(last.year, last.month, last.day, 23, 30, tzinfo=LONDON)
        session = make.session(starts_at=late)
        days = queries.week(day, zone=LONDON, now=make.NOW)
        assert [each.day for each in days if each.entries] == [last], session


# A teacher's feed


def test_a_teacher_reads_their_own_classes_and_no_others(maud: Person) -> None:
    ivo = make.helper()
    mine = make.session(make.course("Hers", teacher=maud), starts_at=soon())
    make.session(make.course("His", teacher=ivo), starts_at=soon())
    make.firing(pieces=0, planned_for=soon())
    feed = actions.make_feed(name="x", by=maud, of="teaching")
    assert list(read(feed)) == [f"class-{mine.code}@127.0.0.1"]
    Session.objects.filter(pk=mine.pk).update(
        cancelled_at=make.NOW, cancelled_why="Ill", revision=mine.revision + 1
    )
    [event] = read(feed).values()
    assert (str(event["status"]), event["sequence"]) == ("CANCELLED", 1)


def test_a_course_given_over_leaves_the_old_teachers_calendar_with_a_higher_sequence(maud: Person) -> None:
    """RFC 5546, 2.1.4 and 3.2.5: the same UID, STATUS:CANCELLED, and a SEQUENCE that only ever rises."""
    ivo = make.helper()
    course = make.course("Hers", teacher=maud)
    past = make.session(course, starts_at=soon(-3))
    coming = make.session(course, starts_at=soon(4))
    hers, his = (actions.make_feed(name="x", by=each, of="teaching") for each in (maud, ivo))

    def teacher(person: Person | None) -> None:
        save_course(by=maud, course=course, name="Hers", starts_on=course.starts_on, teacher=person)

    def state(feed: CalendarFeed, session: Session) -> tuple[str, int] | None:
        event = read(feed).get(f"class-{session.code}@127.0.0.1")
        return event and (str(event["status"]), int(event["sequence"]))

    assert (state(hers, coming), state(his, coming)) == (("CONFIRMED", 0), None)
    teacher(ivo)
    assert state(hers, coming) == ("CANCELLED", 1)
    assert state(hers, past)[0] == "CONFIRMED", "she has taught that one"
    assert state(his, coming) == ("CONFIRMED", 0)
    teacher(ivo)
    assert state(hers, coming) == ("CANCELLED", 1), "saved again, nothing changes"
    teacher(maud)
    assert (state(hers, coming), state(his, coming)) == (("CONFIRMED", 2), ("CANCELLED", 1))
    teacher(None)
    assert (state(hers, coming), state(his, coming)) == (("CANCELLED", 3), ("CANCELLED", 1))
    teacher(ivo)
    assert (state(hers, coming), state(his, coming)) == (("CANCELLED", 3), ("CONFIRMED", 2))
    # The studio's own calendar and the class's know nothing of it.
    assert state(actions.make_feed(name="y", by=maud), coming) == ("CONFIRMED", 0)


@pytest.mark.parametrize("count", [1, 30])
def test_a_teachers_feed_costs_one_count_of_queries(
    count: int, maud: Person, django_assert_num_queries: Any
) -> None:
    for number in range(count):
        course = make.course(f"Course {number}", teacher=maud if number % 2 else make.helper())
        make.session(course, starts_at=soon(number + 1))
        Teaching.objects.create(course=course, person=maud, left_at=None if number % 2 else make.NOW)
    now = datetime.now(UTC)
    with django_assert_num_queries(2):
        rows = queries_own.teaching(maud, begin=now, end=now + 60 * DAY, now=now)
    assert len(rows) == count


TEN_YEARS = [
    ("FREQ=WEEKLY;INTERVAL=3;BYDAY=TU", 174),
    ("FREQ=MONTHLY;BYDAY=-1SU", 120),
    ("FREQ=MONTHLY;INTERVAL=2;BYDAY=2SA", 60),
    ("FREQ=WEEKLY;INTERVAL=5;BYDAY=MO,TH", 208),
]


@pytest.mark.parametrize("zone", ["Europe/London", "America/New_York", "Australia/Lord_Howe"])
def test_ten_years_of_feeds_hold_what_dateutil_makes_of_the_rule(
    maud: Person, zone: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Read like a calendar program does, once a year for ten years, by icalendar (RFC 5545); held to the
    recurrence of python-dateutil by the wall clock of three zones, Lord Howe's half-hour summer among them.
    """
    make.studio(time_zone=zone)
    local, start = ZoneInfo(zone), datetime(2026, 1, 1, 12, tzinfo=UTC)
    first = date(2026, 1, 6)
    expected: dict[str, list[datetime]] = {}
    for rule, meetings in TEN_YEARS:
        off = [date(2030, 12, 24), date(2027, 1, 31)]
        course = open_course(
            by=maud,
            name=rule,
            first_on=first,
            at=time(18, 30),
            minutes=90,
            now=start,
            rule=rule,
            meetings=meetings,
            dates_off=off,
            teacher=maud,
        )
        wall = rruleset()
        wall.rrule(rrulestr(rule, dtstart=datetime(2026, 1, 6, 18, 30)))  # noqa: DTZ001 - a wall clock
        for day in off:
            wall.exdate(datetime.combine(day, time(18, 30)))
        expected[course.name] = [each.replace(tzinfo=local) for each in islice(wall, meetings)]
    feed = actions.make_feed(name="My phone", by=maud, of="teaching", now=start)
    seen: dict[str, tuple[str, datetime]] = {}
    for year in range(11):
        monkeypatch.setattr("django.utils.timezone.now", lambda year=year: start + year * 365 * DAY)
        for uid, event in read(feed).items():
            found = (str(event["summary"]), event["dtstart"].dt)
            assert seen.setdefault(uid, found) == found, "an entry keeps its UID and its time"
    for name, starts in expected.items():
        assert starts[-1].year >= 2035
        assert sorted(at for title, at in seen.values() if title == name) == starts


def test_the_form_makes_each_kind(maud: Person) -> None:
    client = signed_in(maud)
    for of in ("studio", "teaching", "own", ""):
        assert client.post(reverse("calendar-feed-new"), {"name": "x", "of": of}).status_code == 302
    assert sorted(CalendarFeed.objects.values_list("of", flat=True)) == [
        "own",
        "studio",
        "studio",
        "teaching",
    ]
    assert client.post(reverse("calendar-feed-new"), {"name": "x", "of": "\x00"}).status_code == 422


# Somebody's own


def test_ines_makes_an_address_on_her_page_and_reads_her_classes_there(ines: Person) -> None:
    course = make.course("Evening throwing")
    goes(ines, course)
    session = make.session(course, starts_at=soon())
    make.session(make.course("Another"), starts_at=soon())
    client = signed_in(ines)
    assert "Evening throwing" in client.get(reverse("my-calendar")).content.decode()
    assert client.post(reverse("my-calendar-feed-new"), {"name": "My phone"}).status_code == 302
    feed = ines.calendar_feeds.get()
    assert feed.of == "own"
    assert f"/calendar/feed/{feed.secret}.ics" in client.get(reverse("my-calendar")).content.decode()
    [event] = read(feed).values()
    assert (event["dtstart"].dt, event["dtend"].dt) == (session.starts_at, session.ends_at)
    assert str(event["url"]).endswith(reverse("my-calendar"))


def test_a_guardian_reads_each_young_persons_classes_by_name(maud: Person) -> None:
    ruth = make.guardian()
    sam, ida = (make.young_person(name, guardian=ruth) for name in ("Sam", "Ida"))
    course = make.course("Teens at the wheel")
    goes(sam, course)
    goes(ida, course)
    make.session(course, starts_at=soon())
    titles = {str(event["summary"]) for event in read(own(ruth)).values()}
    assert titles == {"Sam: Teens at the wheel", "Ida: Teens at the wheel"}
    assert {str(event["summary"]) for event in read(own(sam)).values()} == {"Teens at the wheel"}


def test_leaving_cancels_what_is_to_come_and_coming_back_takes_it_up_each_with_a_higher_sequence(
    ines: Person,
) -> None:
    course = make.course()
    place = goes(ines, course)
    make.session(course, starts_at=soon(-7))
    make.session(course, starts_at=soon(7))
    feed = own(ines)
    before = list(read(feed).values())
    Enrolment.objects.filter(pk=place.pk).update(left_at=datetime.now(UTC))
    left = list(read(feed).values())
    Enrolment.objects.filter(pk=place.pk).update(left_at=None, round=2)
    back = list(read(feed).values())
    assert [str(each["uid"]) for each in before] == [str(each["uid"]) for each in left]
    assert [str(each["status"]) for each in before] == ["CONFIRMED", "CONFIRMED"]
    assert [str(each["status"]) for each in left] == ["CONFIRMED", "CANCELLED"]
    assert [str(each["status"]) for each in back] == ["CONFIRMED", "CONFIRMED"]
    assert [[each["sequence"] for each in state][1] for state in (before, left, back)] == [0, 1, 2]


def test_a_meeting_moved_keeps_its_uid(ines: Person) -> None:
    course = make.course()
    goes(ines, course)
    session = make.session(course, starts_at=soon(3))
    feed = own(ines)
    [before] = read(feed).values()
    Session.objects.filter(pk=session.pk).update(starts_at=soon(4), ends_at=soon(4) + DAY / 12, revision=1)
    [moved] = read(feed).values()
    assert before["uid"] == moved["uid"]
    assert (moved["sequence"], moved["dtstart"].dt) == (1, soon(4))


def test_a_class_made_up_elsewhere_stands_there_and_given_up_is_cancelled(ines: Person) -> None:
    missed = make.session(make.course("Missed"), starts_at=soon(-7))
    other = make.session(make.course("Daytime class"), starts_at=soon(2))
    made_up = MakeUp.objects.create(
        person=ines, missed=missed, session=other, booked_at=make.NOW, client_id=make.client_id()
    )
    feed = own(ines)
    [event] = read(feed).values()
    assert (str(event["summary"]), str(event["status"]), event["sequence"]) == (
        "Daytime class",
        "CONFIRMED",
        0,
    )
    MakeUp.objects.filter(pk=made_up.pk).update(given_up_at=make.NOW)
    [event] = read(feed).values()
    assert (str(event["status"]), event["sequence"]) == ("CANCELLED", 1)
    MakeUp.objects.create(
        person=ines, missed=missed, session=other, booked_at=make.NOW, client_id=make.client_id()
    )
    [event] = read(feed).values()
    assert (str(event["status"]), event["sequence"]) == ("CONFIRMED", 2)


def test_a_year_of_evenings_is_at_half_past_six_by_the_wall_through_both_clock_changes(ines: Person) -> None:
    """Against dateutil's rrule (RFC 5545 recurrence) by the wall clock of London."""
    course = make.course()
    goes(ines, course)
    first = (datetime.now(LONDON) + DAY).replace(hour=18, minute=30, second=0, microsecond=0)
    expected = list(rrule(WEEKLY, dtstart=first, count=55))
    for starts in expected:
        make.session(course, starts_at=starts.astimezone(UTC))
    events = sorted(read(own(ines)).values(), key=lambda event: event["dtstart"].dt)
    assert [event["dtstart"].dt.astimezone(LONDON) for event in events] == expected
    assert len({event["dtstart"].dt.hour for event in events}) == 2, "in UTC the hour changes"


def test_members_read_only_their_own(ines: Person) -> None:
    for of in ("studio", "teaching"):
        with pytest.raises(Refused):
            actions.make_feed(name="x", by=ines, of=of)
    feed = actions.make_feed(name="x", by=make.helper(), of="studio")
    Person.objects.filter(pk=feed.person_id).update(role="member")
    assert Client().get(f"/calendar/feed/{feed.secret}.ics").status_code == 404


def test_one_ends_only_ones_own_and_who_has_left_reads_no_more(ines: Person) -> None:
    feed = own(ines)
    tobias = signed_in(make.student("Tobias"))
    assert tobias.post(reverse("my-calendar-feed-end", args=[feed.code])).status_code == 404
    Person.objects.filter(pk=ines.pk).update(left_at=make.NOW)
    assert Client().get(f"/calendar/feed/{feed.secret}.ics").status_code == 404
    Person.objects.filter(pk=ines.pk).update(left_at=None)
    assert signed_in(ines).post(reverse("my-calendar-feed-end", args=[feed.code])).status_code == 302
    assert Client().get(f"/calendar/feed/{feed.secret}.ics").status_code == 404


def test_a_name_is_needed_and_what_was_typed_stays(ines: Person) -> None:
    answer = signed_in(ines).post(reverse("my-calendar-feed-new"), {"name": " "})
    assert answer.status_code == 422
    for number in range(actions.MOST_FEEDS):
        actions.make_feed(name=f"Phone {number}", by=ines, of="own")
    answer = signed_in(ines).post(reverse("my-calendar-feed-new"), {"name": "One more"})
    assert answer.status_code == 422
    assert "One more" in answer.content.decode()


@pytest.mark.parametrize("count", [1, 30])
def test_one_count_of_queries(count: int, ines: Person, django_assert_num_queries: Any) -> None:
    from studio.queries import calendar_own

    for number in range(count):
        course = make.course(f"Course {number}")
        goes(ines, course)
        make.session(course, starts_at=soon(number + 1))
    now = datetime.now(UTC)
    with django_assert_num_queries(4):
        rows = calendar_own.going(ines, begin=now, end=now + 60 * DAY, now=now)
    assert len(rows) == count
