"""Which firing a class waits for, the queue at the end of its course, and what is left when it is over."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from studio.domain.stages import FiringKind
from studio.models import MakeUp, Waiting
from studio.queries.class_waiting import class_waiting
from studio.queries.loads_waiting import waiting_for
from studio.queries.term_end import ending_courses, term_end
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def thursday() -> Any:
    """Eight meetings, the last in ten days; Ines and Tobias are in it."""
    course = factories.course("Thursday evening", places=6, ends_on=(NOW + timedelta(days=10)).date())
    met = [
        factories.session(course, starts_at=NOW + timedelta(days=10 - 7 * week)) for week in range(7, -1, -1)
    ]
    ines, tobias = factories.student(), factories.student("Tobias", last_name="Venn")
    for person in (ines, tobias):
        factories.enrolment(person, course)
    return SimpleNamespace(course=course, met=met, ines=ines, tobias=tobias)


def made(thursday: Any, stage: str, **values: Any) -> Any:
    values = {"maker": thursday.ines, "session": thursday.met[3], **values}
    return factories.piece(stage=stage, **values)


def test_each_piece_stands_under_the_firing_that_it_waits_for(thursday: Any) -> None:
    wet, dry, bare = made(thursday, "wet"), made(thursday, "bone-dry"), made(thursday, "bisqued")
    glazed, ready = made(thursday, "glazed"), made(thursday, "ready")
    planned = made(thursday, "bone-dry", maker=thursday.tobias)
    hot = made(thursday, "glazed", maker=thursday.tobias)
    load = factories.firing("planned", kind="bisque", pieces=[planned])
    fire = factories.firing("firing", kind="glaze", pieces=[hot])
    made(thursday, "collected")
    factories.piece(maker=thursday.ines, stage="wet")  # of no class
    found = class_waiting(thursday.course, now=NOW)
    assert [(group.what, group.firing, group.pieces) for group in found.groups] == [
        ("ready", None, [ready]),
        ("in-fire", fire, [hot]),
        ("in-load", load, [planned]),
        ("glaze", None, [glazed]),
        ("to-glaze", None, [bare]),
        ("bisque", None, [dry]),
        ("drying", None, [wet]),
    ]
    assert (found.unfinished, found.ready) == (6, 1)
    by_what = {group.what: group for group in found.groups}
    assert by_what["bisque"].next_firing == load
    assert by_what["glaze"].next_firing is None, "none is planned"


def test_what_will_not_be_ready_by_the_last_class_is_named(thursday: Any) -> None:
    wet = made(thursday, "wet", session=thursday.met[-2], made_at=NOW - timedelta(hours=3))
    finishing = made(thursday, "finishing")
    found = class_waiting(thursday.course, now=NOW)
    # Drying, two firings and glazing take more than ten days at the usual pace; a spur does not.
    assert wet in found.after_end
    assert finishing not in found.after_end


def test_the_end_of_a_course_moves_its_pieces_up_the_loading_queue(thursday: Any) -> None:
    kiln = factories.kiln("Bertha")
    long_ago = factories.piece(stage="bone-dry", made_at=NOW - timedelta(days=40))
    of_course = made(thursday, "bone-dry", made_at=NOW - timedelta(days=9))
    due_first = factories.piece(
        stage="bone-dry", made_at=NOW - timedelta(days=3), due_on=(NOW + timedelta(days=4)).date()
    )

    def queue() -> list[Any]:
        rows = waiting_for(kiln=kiln, kind=FiringKind.BISQUE, cone="04", now=NOW)
        return [row.piece for row in rows if row.may_go_in]

    assert queue() == [due_first, of_course, long_ago]
    thursday.course.ends_on = (NOW + timedelta(days=60)).date()
    thursday.course.save()
    assert queue() == [due_first, long_ago, of_course], "its end is far yet"


def test_at_the_end_of_term_pieces_are_by_person_and_the_register_is_counted(thursday: Any) -> None:
    sam = factories.young_person(guardian=factories.guardian())
    pim = factories.student("Pim", last_name="Oost")
    factories.enrolment(pim, thursday.course, left_at=NOW - timedelta(days=20))
    for meeting in thursday.met[:5]:
        factories.attended(thursday.ines, meeting)
        factories.attended(thursday.tobias, meeting, "away" if meeting == thursday.met[0] else "late")
    factories.attended(sam, thursday.met[4])  # a guest, once
    wet, ready = made(thursday, "wet"), made(thursday, "ready", maker=sam)
    Waiting.objects.create(
        course=thursday.course, person=factories.student("Kit", last_name="Rowe"), asked_at=NOW
    )
    found = term_end(thursday.course, now=NOW)
    assert [(row.person, row.attended, row.said, row.guest) for row in found.people] == [
        (thursday.ines, 5, 5, False),
        (thursday.tobias, 4, 5, False),
        (sam, 1, 1, True),
    ], "Pim left and nothing of his is here"
    assert [(row.person, row.unfinished, row.ready) for row in found.with_pieces] == [
        (thursday.ines, [wet], []),
        (sam, [], [ready]),
    ]
    places = found.places
    assert (places.of_all, places.sold, places.free, places.given_up, places.waiting) == (6, 2, 4, 1, 1)
    [line] = ending_courses(now=NOW)
    assert (line.course, line.attended, line.said, line.unfinished, line.unclaimed) == (
        thursday.course,
        10,
        11,
        1,
        1,
    )
    assert ending_courses(now=NOW + timedelta(days=60)) == []


def test_make_ups_that_were_taken_here_are_counted_as_places(thursday: Any) -> None:
    other = factories.session(factories.course("Daytime"), starts_at=NOW - timedelta(days=5))
    kit = factories.student("Kit", last_name="Rowe")
    for given_up_at in (None, NOW):
        MakeUp.objects.create(
            person=kit,
            missed=other,
            session=thursday.met[-1],
            booked_at=NOW,
            given_up_at=given_up_at,
            client_id=factories.client_id(),
        )
    assert term_end(thursday.course, now=NOW).places.guests == 1


def test_thirty_pieces_and_people_cost_no_more_questions_than_two(
    thursday: Any, django_assert_num_queries: Any
) -> None:
    def grow(number: int) -> None:
        maker = factories.student(f"Maker{number}", last_name="Venn")
        factories.enrolment(maker, thursday.course)
        factories.attended(maker, thursday.met[2])
        made(thursday, "wet", maker=maker)
        made(thursday, "ready", maker=maker)

    grow(0)
    grow(1)
    with django_assert_num_queries(6):
        class_waiting(thursday.course, now=NOW)
    with django_assert_num_queries(10):
        term_end(thursday.course, now=NOW)
    with django_assert_num_queries(6):
        ending_courses(now=NOW)
    for number in range(2, 30):
        grow(number)
    with django_assert_num_queries(6):
        class_waiting(thursday.course, now=NOW)
    with django_assert_num_queries(10):
        term_end(thursday.course, now=NOW)
    with django_assert_num_queries(6):
        ending_courses(now=NOW)
