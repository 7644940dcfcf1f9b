"""Bringing classes from a table: with all their meetings, whole, once."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from studio.actions import bring, bring_back
from studio.actions.bring_lines import Choice, Result
from studio.domain.problems import Refused
from studio.models import BroughtFile, Course, Holiday, Person, Room, Session
from tests import factories

pytestmark = pytest.mark.django_db
NOW = factories.NOW

HEAD = "Class,Kind,First day,Begins at,Until,Weeks,Places,Room,Teacher,Litres\n"
TUESDAYS = 'Tuesday evening throwing,,2027-03-02,18:30,21:00,6,8,Clay room,maud@quillmere.example,"12,5"\n'
PINCH_DAY = "A day of pinching pots,workshop,2027-04-10,10:00,16:00,,12,,,\n"


@pytest.fixture
def maud() -> Person:
    factories.studio()
    Room.objects.create(name="Clay room", wheels=8)
    return factories.tutor(email="maud@quillmere.example")


def kept(maud: Person, text: str) -> BroughtFile:
    return bring.keep_file(subject="classes", name="classes.csv", text=text, by=maud, now=NOW)


def enter(maud: Person, text: str) -> BroughtFile:
    return bring.enter_file(file=kept(maud, text), by=maud, choice=Choice(), now=NOW)


def test_classes_come_with_their_meetings(maud) -> None:
    file = kept(maud, HEAD + TUESDAYS + PINCH_DAY)
    found = bring.look(file=file, by=maud, now=NOW)
    assert [(line.result, line.what) for line in found.lines] == [
        (Result.NEW, "Tuesday evening throwing"),
        (Result.NEW, "A day of pinching pots"),
    ], [line.problems for line in found.lines]
    assert found.lines[0].notes == ["Meets 6 tuesdays, 8 places."]
    assert not Course.objects.exists(), "looking changes nothing"
    entered = bring.enter_file(file=file, by=maud, now=NOW)
    assert (entered.brought, entered.known) == (2, 0)
    course = Course.objects.get(kind=Course.Kind.WEEKLY)
    assert (course.teacher, course.room.name, course.places) == (maud, "Clay room", 8)
    assert (str(course.firing_allowance_litres), course.minutes) == ("12.50", 150)
    days = [session.starts_at.date() for session in course.sessions.order_by("starts_at")]
    assert days == [date(2027, 3, 2) + timedelta(weeks=week) for week in range(6)]
    assert Session.objects.filter(course__kind=Course.Kind.WORKSHOP).count() == 1


def test_the_studios_clock_holds_when_it_changes(maud) -> None:
    """Clocks in Britain go forward on 28 March 2027 (Directive 2000/84/EC: last Sunday of March)."""
    enter(maud, HEAD + TUESDAYS)
    hours = [each.starts_at.strftime("%H:%M") for each in Session.objects.order_by("starts_at")]
    assert hours == ["18:30"] * 4 + ["17:30"] * 2, "in UTC"


def test_a_holiday_is_left_out_and_the_meetings_are_still_six(maud) -> None:
    Holiday.objects.create(name="Spring week", first_on=date(2027, 3, 8), last_on=date(2027, 3, 14))
    enter(maud, HEAD + TUESDAYS)
    days = [session.starts_at.date() for session in Session.objects.order_by("starts_at")]
    assert len(days) == 6
    assert date(2027, 3, 9) not in days
    assert days[-1] == date(2027, 4, 13)


def test_the_same_file_twice_changes_nothing(maud) -> None:
    enter(maud, HEAD + TUESDAYS + PINCH_DAY)
    before = list(Course.objects.values()) + list(Session.objects.values())
    again = enter(maud, HEAD + TUESDAYS + PINCH_DAY)
    assert (again.brought, again.known) == (0, 2)
    assert list(Course.objects.values()) + list(Session.objects.values()) == before


def test_the_same_class_of_another_term_is_another(maud) -> None:
    enter(maud, HEAD + TUESDAYS)
    enter(maud, HEAD + TUESDAYS.replace("2027-03-02", "2027-05-04"))
    assert Course.objects.count() == 2


def test_a_file_is_taken_back_until_somebody_is_enrolled(maud) -> None:
    file = enter(maud, HEAD + TUESDAYS)
    enrolment = factories.enrolment(factories.student("Ines"), Course.objects.get())
    with pytest.raises(Refused, match="Tuesday evening throwing"):
        bring_back.take_back_file(file=file, by=maud, now=NOW)
    enrolment.delete()
    bring_back.take_back_file(file=file, by=maud, now=NOW)
    assert not Course.objects.exists()
    assert not Session.objects.exists()


@pytest.mark.parametrize(
    ("was", "becomes", "words"),
    [
        ("Tuesday evening throwing,", ",", "The name is missing"),
        ("2027-03-02", "", "The first day is missing"),
        ("2027-03-02", "2027-02-30", "is no day"),
        ("18:30", "", "When it begins is missing"),
        ("18:30", "in the evening", "is no time of day"),
        ("21:00", "", "When it ends is missing"),
        ("21:00", "17:00", "It ends before it begins"),
        (",6,8,", ",,8,", "The number of meetings is missing"),
        (",6,8,", ",six,8,", "is no number of meetings"),
        (",6,8,", ",6,0,", "number of places"),
        ("Clay room", "The attic", "No room is called “The attic”"),
        ("maud@quillmere.example", "Nobody Here", "Nobody here is called"),
        ("maud@quillmere.example", "Ines Arkwell", "no tutor or helper"),
        ("throwing,,", "throwing,seance,", "is no kind of class"),
        ("12,5", "much", "is no number of litres"),
    ],
)
def test_a_wrong_line_says_what_to_do_and_nothing_is_entered(
    maud, was: str, becomes: str, words: str
) -> None:
    factories.student("Ines", last_name="Arkwell")
    text = HEAD + PINCH_DAY + TUESDAYS.replace(was, becomes, 1)
    with pytest.raises(Refused) as refused:
        enter(maud, text)
    assert str(refused.value).startswith("Line 3: ")
    assert words in str(refused.value)
    assert not Course.objects.exists()
