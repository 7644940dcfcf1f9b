"""Maud and Ivo take the register: taps, corrections, and what stays on record."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from studio.actions import attendance as actions
from studio.domain.problems import Refused
from studio.models import Attendance, AttendanceSaid
from studio.queries.attendance import attended_starts, class_deadlines
from studio.queries.registers import people_of
from tests import factories
from tests.factories import NOW, client_id

pytestmark = pytest.mark.django_db


@pytest.fixture
def evening():
    """Tonight's class: Ines and Tobias are in it."""
    factories.studio()
    course = factories.course()
    meeting = factories.session(course, starts_at=NOW)
    ines, tobias = factories.student(), factories.student("Tobias")
    for person in (ines, tobias):
        factories.enrolment(person, course)
    return meeting, ines, tobias


def words(meeting):
    return {row.person.first_name: row.word for row in meeting.attendance.select_related("person")}


def test_a_tap_is_a_word_another_changes_it_and_who_said_what_stays(evening):
    meeting, ines, _ = evening
    maud, ivo = factories.tutor(), factories.helper()
    actions.say(session=meeting, person=ines, word="away", by=ivo, client_id=client_id(), now=NOW)
    later = NOW + timedelta(minutes=12)
    actions.say(session=meeting, person=ines, word="late", by=maud, client_id=client_id(), now=later)

    assert words(meeting) == {"Ines": "late"}
    assert [(row.word, row.by, row.at) for row in AttendanceSaid.objects.all()] == [
        ("away", ivo, NOW),
        ("late", maud, later),
    ]


def test_the_same_tap_twice_is_one_and_never_wins_over_a_later_word(evening):
    meeting, ines, tobias = evening
    maud, tap = factories.tutor(), client_id()
    actions.say(session=meeting, person=ines, word="here", by=maud, client_id=tap)
    actions.say(session=meeting, person=ines, word="late", by=maud, client_id=client_id())
    actions.say(session=meeting, person=ines, word="here", by=maud, client_id=tap)
    assert words(meeting) == {"Ines": "late"}
    assert AttendanceSaid.objects.count() == 2
    with pytest.raises(Refused, match="sent before"):
        actions.say(session=meeting, person=tobias, word="here", by=maud, client_id=tap)


def test_what_stands_already_is_not_said_again(evening):
    meeting, ines, _ = evening
    for by in (factories.tutor(), factories.helper()):
        actions.say(session=meeting, person=ines, word="here", by=by, client_id=client_id())
    assert AttendanceSaid.objects.count() == 1


def test_undo_brings_back_the_word_before_and_is_in_the_history_too(evening):
    meeting, ines, _ = evening
    maud, undo = factories.tutor(), client_id()
    with pytest.raises(Refused, match="Nothing has been said about Ines"):
        actions.take_back(session=meeting, person=ines, by=maud, client_id=client_id())
    for word in ("here", "away"):
        actions.say(session=meeting, person=ines, word=word, by=maud, client_id=client_id())
    for _ in range(2):
        actions.take_back(session=meeting, person=ines, by=maud, client_id=undo)
    assert words(meeting) == {"Ines": "here"}
    assert list(AttendanceSaid.objects.values_list("word", flat=True)) == ["here", "away", "here"]


def test_everybody_is_here_but_for_those_something_was_said_of(evening):
    meeting, _, tobias = evening
    maud, tap = factories.tutor(), client_id()
    actions.say(session=meeting, person=tobias, word="told-us", by=maud, client_id=client_id())
    actions.everybody_here(session=meeting, by=maud, client_id=tap)
    assert words(meeting) == {"Ines": "here", "Tobias": "told-us"}
    actions.say(session=meeting, person=tobias, word="", by=maud, client_id=client_id())
    actions.everybody_here(session=meeting, by=maud, client_id=client_id())
    assert words(meeting) == {"Ines": "here", "Tobias": "here"}


def test_under_18_without_a_guardian_is_not_registered(evening):
    meeting, _, _ = evening
    maud = factories.tutor()
    kit = factories.student("Kit", born_on=date(NOW.year - 15, 5, 5))
    factories.enrolment(kit, meeting.course)
    for word in ("here", "late"):
        with pytest.raises(Refused, match="Kit is under 18"):
            actions.say(session=meeting, person=kit, word=word, by=maud, client_id=client_id(), now=NOW)
    actions.everybody_here(session=meeting, by=maud, client_id=client_id(), now=NOW)
    assert "Kit" not in words(meeting)
    actions.say(session=meeting, person=kit, word="told-us", by=maud, client_id=client_id(), now=NOW)


def test_only_staff_and_only_people_of_the_meeting(evening):
    meeting, ines, _ = evening
    with pytest.raises(Refused, match="tutor or a helper"):
        actions.say(session=meeting, person=ines, word="here", by=ines, client_id=client_id())
    pim = factories.student("Pim")
    with pytest.raises(Refused, match="Pim is not in this register"):
        actions.say(session=meeting, person=pim, word="here", by=factories.tutor(), client_id=client_id())
    with pytest.raises(Refused, match="from the list"):
        actions.say(
            session=meeting, person=ines, word="asleep", by=factories.tutor("Ada"), client_id=client_id()
        )
    assert not Attendance.objects.exists()


def test_who_left_before_a_meeting_is_in_the_earlier_registers_alone(evening):
    meeting, ines, _ = evening
    earlier = factories.session(meeting.course, starts_at=NOW - timedelta(days=14))
    ines.enrolments.update(left_at=NOW - timedelta(days=3))
    assert [each.first_name for each in people_of(earlier)] == ["Ines", "Tobias"]
    assert [each.first_name for each in people_of(meeting)] == ["Tobias"]


def test_classes_are_counted_from_a_moment_late_ones_too(evening, django_assert_num_queries):
    meeting, ines, tobias = evening
    for weeks, word in ((1, "here"), (2, "late"), (3, "away"), (4, "told-us"), (5, "here")):
        factories.attended(
            ines, factories.session(meeting.course, starts_at=NOW - timedelta(weeks=weeks)), word
        )
    with django_assert_num_queries(1):
        starts = attended_starts([ines, tobias], since=NOW - timedelta(weeks=4))
    assert starts == {ines.pk: [NOW - timedelta(weeks=2), NOW - timedelta(weeks=1)]}
    assert len(attended_starts(ines, since=NOW - timedelta(weeks=6))[ines.pk]) == 3


def test_a_deadline_runs_only_while_the_maker_comes(evening, django_assert_num_queries):
    meeting, ines, tobias = evening
    studio = factories.studio(pickup_classes=3, glaze_classes=4)
    for weeks in (1, 2, 3):
        at = factories.session(meeting.course, starts_at=NOW - timedelta(weeks=weeks))
        factories.attended(ines, at)
        factories.attended(tobias, at, "away")
    since = {"made_at": NOW - timedelta(days=20)}
    mine = factories.piece(maker=ines, stage="ready", **since)
    bare = factories.piece(maker=ines, stage="bisqued", **since)
    his = factories.piece(maker=tobias, stage="ready", **since)
    never = [
        factories.piece(maker=ines, stage="wet", **since),
        factories.piece(studios_own=True, stage="ready", **since),
        factories.piece(nobodys=True, stage="ready", **since),
        factories.piece(maker=ines, stage="bisqued", route="bisque-only", **since),
    ]
    with django_assert_num_queries(1):
        found = class_deadlines([mine, bare, his, *never], studio=studio)
    assert {key: (each.attended, each.left, each.is_last) for key, each in found.items()} == {
        mine.pk: (2, 1, True),
        bare.pk: (2, 2, False),
        his.pk: (0, 3, False),
    }
    assert class_deadlines([mine], studio=factories.studio(pickup_classes=0)) == {}
