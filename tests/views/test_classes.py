"""Courses: opened with their meetings, changed, and who is in them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.models import ClassRules, Course, Enrolment, Holiday, Room, Session
from tests import factories
from tests.views.markup import says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio(time_zone="Europe/London")
    client.force_login(factories.tutor())
    return client


def words(**more: object) -> dict[str, object]:
    return {
        "name": "Tuesday evening throwing",
        "kind": "weekly",
        "first_on": "2026-10-20",
        "starts_time": "18:30",
        "minutes": "150",
        "rhythm": "week",
        "meetings": "3",
        "last_on": "",
        "dates_off": "",
        "teacher": "",
        "places": "8",
        "firing_allowance_litres": "5",
        **more,
    }


def test_a_course_is_opened_with_its_meetings(maud: Client) -> None:
    ivo = factories.helper()
    page = maud.post(reverse("course-new"), words(teacher=ivo.pk), follow=True).content.decode()
    course = Course.objects.get()
    assert "Saved, with its meetings" in page
    assert "with Ivo Sallow" in page
    assert (course.starts_on, course.ends_on) == (date(2026, 10, 20), date(2026, 11, 3))
    # 18:30 by the studio's clock on both sides of 25 October 2026, the last Sunday of October, when British
    # clocks go back (common practice, no source).
    starts = [session.starts_at.astimezone(UTC) for session in course.sessions.all()]
    assert starts == [
        datetime(2026, *day, 17 + later, 30, tzinfo=UTC)
        for *day, later in ((10, 20, 0), (10, 27, 1), (11, 3, 1))
    ]
    assert {session.ends_at - session.starts_at for session in course.sessions.all()} == {
        timedelta(hours=2.5)
    }


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Please fill this in"),
        ({"first_on": "soon"}, "valid"),
        ({"first_on": "1850-01-01"}, "year"),
        ({"starts_time": "half past six"}, "valid"),
        ({"meetings": "0"}, "greater than or equal to 1"),
        ({"meetings": "211"}, "less than or equal to 210"),
        ({"meetings": ""}, "Say how many meetings, or until which day"),
        ({"last_on": "2026-12-01"}, "not both"),
        ({"rhythm": "sometimes"}, "Choose one of those in the list"),
        ({"dates_off": "2026-10-27, Christmas"}, "is no day"),
        ({"meetings": "", "last_on": "2026-10-01"}, "No day fits"),
        ({"meetings": "1", "rhythm": "week", "weekdays": "7"}, "Choose one of those in the list"),
        ({"age_least": "16", "age_most": "11"}, "lowest age is above"),
        ({"price_minor": "a lot"}, "no sum of money"),
        ({"minutes": "5"}, "greater than or equal to 15"),
        ({"places": "0"}, "places"),
        ({"places": "9999"}, "places"),
        ({"firing_allowance_litres": "-1"}, "0"),
        ({"kind": "yearly"}, "Choose one of those in the list"),
        ({"teacher": "999999"}, "Choose one of those in the list"),
    ],
)
def test_bad_input_says_what_to_do_and_keeps_what_was_typed(
    maud: Client, changed: dict[str, str], sentence: str
) -> None:
    answer = maud.post(reverse("course-new"), words(**changed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert says_no(page)
    for name, value in words(**changed).items():
        if name in {"name", "minutes", "meetings", "places"} and value:
            assert f'value="{value}"' in page, name
    assert (Course.objects.count(), Session.objects.count()) == (0, 0)


def test_a_member_does_not_teach(maud: Client) -> None:
    answer = maud.post(reverse("course-new"), words(teacher=factories.student().pk))
    assert answer.status_code == 422
    assert Course.objects.count() == 0


def test_a_course_is_changed_and_its_meetings_stay(maud: Client) -> None:
    maud.post(reverse("course-new"), words())
    course = Course.objects.get()
    url = reverse("course-edit", args=[course.code])
    page = maud.get(url).content.decode()
    assert 'value="Tuesday evening throwing"' in page
    assert "first_on" not in page
    sent = words(name="Tuesday throwing", places="6")
    assert maud.post(url, sent).url == reverse("course", args=[course.code])
    course.refresh_from_db()
    assert (course.name, course.places, course.sessions.count()) == ("Tuesday throwing", 6, 3)
    assert course.starts_on == date(2026, 10, 20)


def test_people_join_and_leave(maud: Client) -> None:
    course, ines = factories.course(), factories.student()
    url = reverse("enrol", args=[course.code])
    page = maud.post(url, {"person": ines.pk}, follow=True).content.decode()
    assert "Ines Arkwell is in Tuesday evening throwing" in page
    assert "1 of 8" in page
    # Who is in it is not offered again; sent all the same, it is refused in words.
    assert f'<option value="{ines.pk}"' not in page
    again = maud.post(url, {"person": ines.pk}, follow=True).content.decode()
    assert "Choose who joins from the list" in again
    page = maud.post(reverse("enrolment-end", args=[course.code, ines.code]), follow=True).content.decode()
    assert "Ines Arkwell is out of" in page
    assert Enrolment.objects.get().left_at is not None
    assert maud.post(reverse("enrolment-end", args=[course.code, ines.code])).status_code == 404
    assert "is in Tuesday" in maud.post(url, {"person": ines.pk}, follow=True).content.decode()
    assert Enrolment.objects.get().left_at is None


def test_a_full_course_and_a_young_person_nobody_answers_for(maud: Client) -> None:
    course = factories.course(places=1)
    factories.enrolment(factories.student(), course)
    url = reverse("enrol", args=[course.code])
    page = maud.post(url, {"person": factories.student("Tobias").pk}, follow=True).content.decode()
    assert "is full: 1 places" in page
    other = factories.course("Holiday workshop", kind="workshop")
    sam = factories.young_person(born_on=date(timezone.localdate().year - 15, 1, 1))
    sam.guardian = None
    sam.save()
    page = maud.post(reverse("enrol", args=[other.code]), {"person": sam.pk}, follow=True).content.decode()
    assert "Name a guardian with an email address first" in page
    assert Enrolment.objects.count() == 1


def test_fewer_places_than_people_are_refused(maud: Client) -> None:
    course = factories.course()
    for name in ("Ines", "Tobias"):
        factories.enrolment(factories.student(name), course)
    answer = maud.post(reverse("course-edit", args=[course.code]), words(places="1"))
    assert answer.status_code == 422
    assert "2 people are enrolled" in answer.content.decode()


def test_the_list_parts_coming_from_over(maud: Client) -> None:
    now = timezone.now()
    coming, over = factories.course("Coming"), factories.course("Long over")
    factories.session(coming, starts_at=now + timedelta(days=3))
    factories.session(over, starts_at=now - timedelta(days=30))
    page = maud.get(reverse("classes")).content.decode()
    assert page.index("Coming") < page.index("Earlier courses, 1") < page.index("Long over")
    assert "0 of 8 places taken" in page


def test_a_meeting_counts_the_pots_made_in_it(maud: Client) -> None:
    course = factories.course()
    meeting = factories.session(course, starts_at=timezone.now() - timedelta(days=1))
    for _ in range(2):
        factories.piece(session=meeting, maker=factories.student())
    page = maud.get(reverse("course", args=[course.code])).content.decode()
    assert "2 pieces" in page


def test_nothing_yet_says_what_to_do(maud: Client) -> None:
    assert "Enter a course and its meetings" in maud.get(reverse("classes")).content.decode()
    page = maud.get(reverse("course", args=[factories.course().code])).content.decode()
    assert "Nobody is enrolled yet." in page
    assert "It has not met yet." in page


def test_a_helper_reads_and_does_not_change(maud: Client) -> None:
    course, ines = factories.course(), factories.student()
    factories.enrolment(ines, course)
    ivo = signed_in(factories.helper())
    page = ivo.get(reverse("course", args=[course.code])).content.decode()
    assert "Ines Arkwell" in page
    assert reverse("person", args=[ines.code]) not in page
    assert ivo.get(reverse("course-new")).status_code == 404
    assert ivo.post(reverse("enrol", args=[course.code]), {"person": ines.pk}).status_code == 404
    assert signed_in(ines).get(reverse("classes")).status_code == 404
    assert maud.get(reverse("course", args=["NOTTHERE"])).status_code == 404
    assert maud.get(reverse("enrol", args=[course.code])).status_code == 405


def test_the_days_are_looked_at_before_anything_is_saved(maud: Client) -> None:
    Holiday.objects.create(name="Half-term", first_on=date(2026, 10, 26), last_on=date(2026, 10, 30))
    sent = words(dates_off="2026-11-03", about="Throwing from the first lump on")
    answer = maud.post(reverse("course-new"), {**sent, "look": "1"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "It meets every Tuesday 18:30 to 21:00, 3 meetings, not on 27 October and 3 November" in page
    assert "Tuesday 17 November" in page
    assert "(Half-term)" in page
    assert "Throwing from the first lump on" in page
    assert Course.objects.count() == 0
    page = maud.post(reverse("course-new"), sent, follow=True).content.decode()
    assert "It meets every Tuesday 18:30 to 21:00, 3 meetings, not on 27 October and 3 November." in page


def test_rooms_holidays_and_rules_are_kept(maud: Client) -> None:
    assert "No room has been entered yet" in maud.get(reverse("rooms")).content.decode()
    maud.post(reverse("rooms"), {"name": "Throwing room", "wheels": "6"})
    room = Room.objects.get()
    answer = maud.post(reverse("course-new"), words(room=room.pk, wheels="7"))
    assert "Throwing room has 6 wheels" in answer.content.decode()
    page = maud.post(
        reverse("course-new"),
        words(room=room.pk, wheels="6", price_minor="120", clay_grams="5000"),
        follow=True,
    ).content.decode()
    assert "in Throwing room, 8 places, 6 wheels" in page
    assert "5 kg of clay are included" in page
    assert "A place costs" in page
    answer = maud.post(reverse("room", args=[room.code]), {"name": "Throwing room", "wheels": "4"})
    assert "has 6 of its wheels" in answer.content.decode()
    assert "already" in maud.post(reverse("rooms"), {"name": "Throwing room", "wheels": "1"}).content.decode()
    maud.post(reverse("room-retire", args=[room.code]))
    assert "No room has been entered yet" in maud.get(reverse("rooms")).content.decode()
    day = (timezone.now() + timedelta(days=30)).date().isoformat()
    page = maud.post(
        reverse("holidays"), {"name": "Christmas", "first_on": day, "last_on": day}, follow=True
    ).content.decode()
    assert "Christmas" in page
    page = maud.post(reverse("holiday-drop", args=[Holiday.objects.get().code]), follow=True).content.decode()
    assert "No holiday has been entered yet" in page
    values = {
        "offer_hours": "48",
        "full_refund_days": "7",
        "part_refund_days": "14",
        "part_refund_percent": "50",
    }
    answer = maud.post(reverse("class-rules"), values)
    assert answer.status_code == 422
    assert "A part is given back later than all of it" in answer.content.decode()
    maud.post(reverse("class-rules"), {**values, "part_refund_days": "3", "public_page": "on"})
    assert (ClassRules.the().offer_hours, ClassRules.the().public_page) == (48, True)


def test_a_timetable_is_changed_on_its_page(maud: Client) -> None:
    first = timezone.localdate() + timedelta(days=10)
    maud.post(reverse("course-new"), words(first_on=first.isoformat()))
    course = Course.objects.get()
    url = reverse("course-timetable", args=[course.code])
    page = maud.get(url).content.decode()
    assert f'value="{first.isoformat()}"' in page
    assert 'value="18:30"' in page
    codes = list(course.sessions.values_list("code", flat=True))
    sent = words(first_on=first.isoformat(), starts_time="19:00")
    page = maud.post(url, sent, follow=True).content.decode()
    assert "19:00 to 21:30, 3 meetings" in page
    assert list(course.sessions.values_list("code", flat=True)) == codes
    answer = maud.post(url, {**sent, "first_on": "2020-01-01"})
    assert answer.status_code == 422
    assert "starts from today on" in answer.content.decode()


def test_a_meeting_is_called_off_on_its_page(maud: Client) -> None:
    meeting = factories.session(factories.course(), starts_at=timezone.now() + timedelta(days=3))
    url = reverse("meeting-off", args=[meeting.code])
    assert "Everybody enrolled is told" in maud.get(url).content.decode()
    answer = maud.post(url, {"why": ""})
    assert answer.status_code == 422
    assert "reason is missing" in answer.content.decode()
    page = maud.post(url, {"why": "The kiln man comes."}, follow=True).content.decode()
    assert "Called off: The kiln man comes." in page
    assert maud.get(url).status_code == 404
    assert signed_in(factories.helper()).get(url).status_code == 404


def test_a_meeting_called_off_is_held_after_all_or_another_instead(maud: Client) -> None:
    course = factories.course()
    off = {"cancelled_at": timezone.now(), "cancelled_why": "The boiler is out."}
    meeting = factories.session(course, starts_at=timezone.now() + timedelta(days=3), **off)
    on, instead = (reverse(name, args=[meeting.code]) for name in ("meeting-on", "meeting-instead"))
    page = maud.get(reverse("course", args=[course.code])).content.decode()
    assert on in page
    assert instead in page
    assert "Called off: The boiler is out." in maud.get(instead).content.decode()
    day = (timezone.localdate() + timedelta(days=5)).isoformat()
    answer = maud.post(instead, {"on": day, "at": "10:15", "minutes": "5"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert (f'value="{day}"' in page, 'value="10:15"' in page, 'value="5"' in page) == (True, True, True)
    page = maud.post(instead, {"on": day, "at": "10:15", "minutes": "90"}, follow=True).content.decode()
    assert "Instead it meets on" in page
    assert "10:15–11:45, instead of" in page
    assert on not in page, "not both"
    register = maud.get(reverse("register", args=[meeting.code])).content.decode()
    assert "Instead it meets on" in register
    answer = maud.post(on, {"words": "All is well."})
    assert answer.status_code == 422
    assert 'value="All is well."' in answer.content.decode()
    assert "stands in for it" in answer.content.decode()
    course.sessions.filter(replaces=meeting).delete()
    assert "It takes place." in maud.post(on, {"words": ""}, follow=True).content.decode()
    meeting.refresh_from_db()
    assert meeting.cancelled_at is None
    for url in (on, instead):
        assert maud.get(url).status_code == 404, "it takes place"
        assert signed_in(factories.helper()).get(url).status_code == 404


def test_one_meeting_called_off_or_ten_ask_the_database_equally_often(maud: Client) -> None:
    course, now = factories.course(), timezone.now()

    def questions() -> int:
        with CaptureQueriesContext(connection) as seen:
            page = maud.get(reverse("course", args=[course.code])).content.decode()
        assert "Called off" in page
        assert ", instead of" in page
        return len(seen)

    def grow(week: int) -> None:
        off = {"cancelled_at": now, "cancelled_why": "The boiler is out."}
        starts = now + timedelta(days=7 * week + 1)
        meeting = factories.session(course, starts_at=starts, **off)
        factories.session(course, starts_at=starts + timedelta(days=1), replaces=meeting)
        factories.session(course, starts_at=starts + timedelta(days=2), **off)

    grow(0)
    questions()
    first = questions()
    for week in range(1, 10):
        grow(week)
    assert questions() == first
