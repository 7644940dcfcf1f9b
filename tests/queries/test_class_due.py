"""Reminders that are counted in classes attended: a week away from the studio counts against nobody."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils.translation import override

from studio.queries.class_due import ClassDue, deadlines_shown, due_by_class
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def thursday() -> Any:
    return factories.course("Thursday evening")


def met(course: Any, days_ago: int) -> Any:
    return factories.session(course, starts_at=NOW - timedelta(days=days_ago))


def due(**changed: int) -> list[ClassDue]:
    studio = factories.studio()
    for name, value in {"pickup_classes": 3, "glaze_classes": 2, **changed}.items():
        setattr(studio, name, value)
    return due_by_class(studio=studio, now=NOW)


def ready_since(maker: Any, days: int, **fields: Any) -> Any:
    return factories.piece(maker=maker, stage="ready", made_at=NOW - timedelta(days=days), **fields)


def test_only_classes_that_somebody_came_to_count(thursday: Any) -> None:
    ines, tobias = factories.student(), factories.student("Tobias", last_name="Venn")
    bowl, plate = ready_since(ines, 22), ready_since(tobias, 22)
    for days in (21, 14, 7):
        meeting = met(thursday, days)
        factories.attended(ines, meeting)
        factories.attended(tobias, meeting, "here" if days == 21 else "told-us")
    factories.enrolment(ines, thursday)
    tonight = factories.session(thursday, starts_at=NOW + timedelta(hours=5))
    [row] = due()
    assert (row.piece, row.maker, row.what, row.round) == (bowl, ines, "pickup", "passed")
    assert (row.deadline.attended, row.deadline.left, row.next_class) == (3, 0, tonight)
    assert plate not in [each.piece for each in due()], "he was there once: two classes are left"


def test_with_one_class_left_it_is_the_last_and_the_key_stays(thursday: Any) -> None:
    ines = factories.student()
    ready_since(ines, 20)
    for days in (14, 7):
        factories.attended(ines, met(thursday, days), "late")
    [row] = due()
    assert (row.round, row.deadline.left, row.next_class) == ("last", 1, None)
    assert due()[0].key == row.key
    factories.attended(ines, met(thursday, 1))
    assert due()[0].key != row.key, "a new round"


def test_bisqued_pieces_are_to_be_glazed_but_for_what_stays_bare_or_stands_in_a_load(thursday: Any) -> None:
    ines = factories.student()
    since = {"stage": "bisqued", "made_at": NOW - timedelta(days=20), "maker": ines}
    mug = factories.piece(**since)
    factories.piece(**since, route="bisque-only")
    for days in (14, 7):
        factories.attended(ines, met(thursday, days))
    assert [(row.piece, row.what, row.round) for row in due()] == [(mug, "glazing", "passed")]
    key = due()[0].key
    with override("de"):
        assert (due()[0].what, due()[0].key) == ("glazing", key), "a code is the same in every language"
    assert due(glaze_classes=0) == [], "the studio does not count them"


def test_what_is_kept_for_its_maker_and_who_has_left_are_let_be(thursday: Any) -> None:
    ines, pim = factories.student(), factories.student("Pim", last_name="Oost")
    ready_since(ines, 30, kept_until=NOW.date() + timedelta(days=9))
    ready_since(pim, 30)
    ready_since(ines, 30, studios_own=True)
    for days in (21, 14, 7):
        meeting = met(thursday, days)
        factories.attended(ines, meeting)
        factories.attended(pim, meeting)
    pim.left_at = NOW - timedelta(days=2)
    pim.save()
    assert due() == []


def test_thirty_cost_no_more_questions_than_one(thursday: Any, django_assert_num_queries: Any) -> None:
    meetings = [met(thursday, days) for days in (21, 14, 7)]
    studio = factories.studio()

    def grow(number: int) -> None:
        maker = factories.student(f"Maker{number}", last_name="Venn")
        factories.enrolment(maker, thursday)
        ready_since(maker, 30)
        for meeting in meetings:
            factories.attended(maker, meeting)

    grow(0)
    with django_assert_num_queries(4):
        assert len(due_by_class(studio=studio, now=NOW)) == 1
    for number in range(1, 30):
        grow(number)
    with django_assert_num_queries(4):
        assert len(due_by_class(studio=studio, now=NOW)) == 30


def test_a_page_of_pieces_has_the_deadlines_of_the_list_and_those_that_are_further_off(
    thursday: Any, django_assert_num_queries: Any
) -> None:
    ines, studio = factories.student(), factories.studio(pickup_classes=3, glaze_classes=2)
    late, fresh = ready_since(ines, 20), ready_since(ines, 5)
    kept = ready_since(ines, 20, kept_until=NOW.date() + timedelta(days=9))
    mug = factories.piece(maker=ines, stage="bisqued", made_at=NOW - timedelta(days=5))
    in_load = factories.piece(maker=ines, stage="bisqued", made_at=NOW - timedelta(days=20))
    factories.firing(pieces=[in_load])
    for days in (14, 7, 1):
        factories.attended(ines, met(thursday, days))
    pieces = [late, fresh, kept, mug, in_load]
    with django_assert_num_queries(2):
        found = deadlines_shown(pieces, studio=studio, now=NOW)
    assert {key: (what, deadline.left) for key, (what, deadline) in found.items()} == {
        late.pk: ("pickup", 0),
        fresh.pk: ("pickup", 2),
        mug.pk: ("glazing", 1),
    }
    listed = {row.piece.pk: (row.what, row.deadline) for row in due_by_class(studio=studio, now=NOW)}
    assert listed == {key: row for key, row in found.items() if row[1].left <= 1}
    with django_assert_num_queries(0):
        assert deadlines_shown([factories.Piece(stage="wet")], studio=studio, now=NOW) == {}
