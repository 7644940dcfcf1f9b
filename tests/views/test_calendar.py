"""The calendar: what stands on it, a planned firing's date, and the feed that calendar programs read."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
from django.test import Client
from django.urls import reverse

from studio.actions import calendar as actions
from studio.actions import loads
from studio.domain.problems import Refused
from studio.models import CalendarFeed, Firing, Person, Studio
from studio.queries import calendar as queries
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

NOW = factories.NOW
DAY = timedelta(days=1)
LONDON = ZoneInfo("Europe/London")


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


@pytest.fixture
def ivo() -> Person:
    factories.studio()
    return factories.helper()


def soon(days: int = 3) -> datetime:
    return datetime.now(UTC).replace(hour=9, minute=30, second=0, microsecond=0) + days * DAY


def read(client: Client, feed: CalendarFeed) -> list[icalendar.Event]:
    answer = client.get(f"/calendar/feed/{feed.secret}.ics")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    return icalendar.Calendar.from_ical(answer.content).walk("VEVENT")


def test_firings_and_meetings_stand_on_their_local_days(maud: Person) -> None:
    firing = factories.firing(pieces=0, planned_for=datetime(2026, 6, 30, 23, 30, tzinfo=UTC))
    factories.session(starts_at=datetime(2026, 7, 14, 17, 0, tzinfo=UTC))
    weeks = queries.month(date(2026, 7, 9), zone=LONDON, now=NOW)
    assert [week[0].day.isoformat() for week in weeks][:2] == ["2026-06-29", "2026-07-06"]
    assert {len(week) for week in weeks} == {7}
    days = {day.day: day for week in weeks for day in week}
    # Half past eleven at night in UTC is the next day in the summer of London.
    assert [entry.about for entry in days[date(2026, 7, 1)].entries] == [firing.number]
    assert days[date(2026, 6, 30)].entries == ()
    assert [entry.kind for entry in days[date(2026, 7, 14)].entries] == ["class"]
    page = signed_in(maud).get("/calendar/?month=2026-07").content.decode()
    assert "July 2026" in page
    assert f"Glaze firing {firing.number}" in page


@pytest.mark.parametrize("asked", ["", "2026-13", "x", "0001-01", "9999-12", "2026-07-09", "\x00"])
def test_nonsense_for_a_month_shows_this_one(maud: Person, asked: str) -> None:
    answer = signed_in(maud).get("/calendar/", {"month": asked})
    assert answer.status_code == 200


def test_a_planned_firing_gets_a_date_and_loses_it(ivo: Person) -> None:
    firing = factories.firing(pieces=0)
    client, at = signed_in(ivo), soon()
    local = at.astimezone(LONDON).strftime("%Y-%m-%dT%H:%M")
    answer = client.post(reverse("firing-when", args=[firing.number]), {"planned_for": local})
    assert answer.status_code == 302
    firing.refresh_from_db()
    assert (firing.planned_for, firing.revision) == (at, 1)
    assert client.post(reverse("firing-when", args=[firing.number]), {"planned_for": ""}).status_code == 302
    firing.refresh_from_db()
    assert (firing.planned_for, firing.revision) == (None, 2)


def test_a_date_long_past_or_far_off_is_refused_and_kept_in_the_form(ivo: Person) -> None:
    firing = factories.firing(pieces=0)
    for typed in ("2019-01-01T10:00", "2190-01-01T10:00"):
        answer = signed_in(ivo).post(reverse("firing-when", args=[firing.number]), {"planned_for": typed})
        assert answer.status_code == 422
        assert typed in answer.content.decode()
        assert "within two years" in answer.content.decode()


def test_a_lit_firing_has_its_date(maud: Person) -> None:
    firing = factories.firing("firing", pieces=1)
    with pytest.raises(Refused):
        actions.set_planned_for(firing=firing, planned_for=soon(), by=maud)


def test_the_feed_is_read_by_an_independent_library(maud: Person) -> None:
    """icalendar's parser, which follows RFC 5545."""
    planned = factories.firing(pieces=0, planned_for=soon())
    session = factories.session(starts_at=soon(5))
    feed = actions.make_feed(name="My phone", by=maud)
    events = {str(event["uid"]): event for event in read(Client(), feed)}
    firing = events[f"firing-{planned.number}@127.0.0.1"]
    assert firing["dtstart"].dt == planned.planned_for
    assert firing["dtend"].dt == planned.planned_for + queries.USUAL_ON
    assert str(firing["summary"]) == f"Glaze firing {planned.number}"
    assert (str(firing["status"]), firing["sequence"]) == ("TENTATIVE", 0)
    meeting = events[f"class-{session.code}@127.0.0.1"]
    assert (meeting["dtstart"].dt, meeting["dtend"].dt) == (session.starts_at, session.ends_at)


def test_a_change_keeps_the_uid_and_raises_the_sequence_and_a_cancelled_one_stays(maud: Person) -> None:
    firing = factories.firing(pieces=0, planned_for=soon())
    feed = actions.make_feed(name="My phone", by=maud)
    [before] = read(Client(), feed)
    actions.set_planned_for(firing=firing, planned_for=soon(4), by=maud)
    [moved] = read(Client(), feed)
    loads.cancel_firing(firing=firing, by=maud)
    [gone] = read(Client(), feed)
    assert before["uid"] == moved["uid"] == gone["uid"]
    assert [each["sequence"] for each in (before, moved, gone)] == [0, 1, 2]
    assert [str(each["status"]) for each in (before, moved, gone)] == ["TENTATIVE", "TENTATIVE", "CANCELLED"]
    assert moved["dtstart"].dt == soon(4)


def test_words_that_mean_something_in_the_format_come_back_as_typed(maud: Person) -> None:
    course = factories.course(name="Slip; glaze, and a\\backslash: “Ładne” 🏺")
    factories.session(course, starts_at=soon())
    [event] = read(Client(), actions.make_feed(name="x", by=maud))
    assert str(event["summary"]) == course.name


def test_both_clock_changes_of_a_year_are_told_in_utc(maud: Person) -> None:
    """Europe/London changes on the last Sundays of March and October (tz database)."""
    year = soon().year + (soon().month > 2)
    course = factories.course()
    for month, day in ((3, 20), (4, 3)):
        factories.session(course, starts_at=datetime(year, month, day, 18, tzinfo=LONDON))
    feed = actions.make_feed(name="x", by=maud)
    local = {event["dtstart"].dt.astimezone(LONDON).hour for event in read(Client(), feed)}
    assert local == {18}


def test_an_address_is_nobodys_guess_and_ends(maud: Person) -> None:
    feed = actions.make_feed(name="My phone", by=maud)
    assert len(feed.secret) >= 27
    client = signed_in(maud)
    page = client.get("/calendar/").content.decode()
    assert f"/calendar/feed/{feed.secret}.ics" in page
    read(Client(), feed)
    feed.refresh_from_db()
    assert feed.read_at is not None
    assert client.post(reverse("calendar-feed-end", args=[feed.code])).status_code == 302
    ended = Client().get(f"/calendar/feed/{feed.secret}.ics")
    unknown = Client().get(f"/calendar/feed/{'x' * 27}.ics")
    assert (ended.status_code, unknown.status_code) == (404, 404)
    assert feed.secret not in client.get("/calendar/").content.decode()


def test_who_has_left_reads_no_more(maud: Person) -> None:
    ivo = factories.helper()
    feed = actions.make_feed(name="x", by=ivo)
    Person.objects.filter(pk=ivo.pk).update(left_at=NOW)
    assert Client().get(f"/calendar/feed/{feed.secret}.ics").status_code == 404


def test_one_ends_only_ones_own(maud: Person) -> None:
    feed = actions.make_feed(name="x", by=maud)
    ivo = signed_in(factories.helper())
    assert ivo.post(reverse("calendar-feed-end", args=[feed.code])).status_code == 404


def test_a_feed_needs_a_name_and_there_are_not_many(maud: Person) -> None:
    client = signed_in(maud)
    assert client.post(reverse("calendar-feed-new"), {"name": " "}).status_code == 422
    for number in range(actions.MOST_FEEDS):
        actions.make_feed(name=f"Phone {number}", by=maud)
    answer = client.post(reverse("calendar-feed-new"), {"name": "One more"})
    assert answer.status_code == 422
    assert "One more" in answer.content.decode()


def test_the_feed_names_no_maker_and_no_money(maud: Person) -> None:
    ines = factories.student("Ines", last_name="Arkwell")
    factories.firing(pieces=[factories.piece(maker=ines, stage="glazed")], planned_for=soon())
    feed = actions.make_feed(name="x", by=maud)
    text = Client().get(f"/calendar/feed/{feed.secret}.ics").content.decode()
    assert "Ines" not in text
    assert Studio.the().currency_sign not in text


@pytest.mark.parametrize("count", [1, 30])
def test_one_query_count(count: int, maud: Person, django_assert_num_queries) -> None:
    for number in range(count):
        factories.firing(pieces=0, planned_for=NOW + number * timedelta(hours=8), kiln=factories.kiln())
        factories.session(starts_at=NOW + number * timedelta(hours=8))
    with django_assert_num_queries(3):
        rows = queries.entries(begin=NOW - DAY, end=NOW + 30 * DAY, now=NOW)
    assert len(rows) == 2 * count


def test_undated_ones_are_asked_for_a_date(maud: Person) -> None:
    firing = factories.firing(pieces=0)
    Firing.objects.filter(pk=firing.pk).update(planned_for=None)
    page = signed_in(maud).get("/calendar/").content.decode()
    assert reverse("firing-when", args=[firing.number]) in page
