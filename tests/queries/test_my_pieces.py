"""A student's own pieces, and what a guardian sees: is mine ready?"""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from studio.models import Person
from studio.queries.my_pieces import SHOWN_OF_THE_PAST, heading, my_pieces
from tests import factories
from tests.views import world as worlds
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

NOW = factories.NOW


@pytest.fixture
def ines() -> Person:
    factories.studio()
    return factories.student()


def test_ready_first_then_on_the_way_then_what_has_left(ines: Person) -> None:
    ready = factories.piece(maker=ines, stage="ready")
    old = factories.piece(maker=ines, stage="wet", made_at=NOW - timedelta(days=9))
    new = factories.piece(maker=ines, stage="glazed", made_at=NOW - timedelta(days=2))
    firing = factories.firing(
        "firing", pieces=[factories.piece(maker=ines, stage="glazed")], lit_at=NOW - timedelta(days=1)
    )
    gone = factories.piece(maker=ines, stage="collected")
    factories.piece(maker=factories.student("Tobias"), stage="ready")
    factories.piece(maker=ines, stage="withdrawn")
    [row] = my_pieces(ines)
    assert row.maker == ines
    assert row.ready == [ready]
    assert row.on_the_way == [firing.placements.get().piece, new, old]
    assert row.past == [gone]


def test_somebody_new_has_an_empty_row_of_their_own(ines: Person) -> None:
    [row] = my_pieces(ines)
    assert (row.maker, row.any) == (ines, False)
    page = signed_in(ines).get("/").content.decode()
    assert "Nothing is ready yet." in page
    assert "Nothing of yours is in the books yet" in page


def test_a_guardian_sees_their_young_people_by_name(ines: Person) -> None:
    ruth = factories.guardian()
    sam, una = factories.young_person("Sam", guardian=ruth), factories.young_person("Una", guardian=ruth)
    factories.piece(maker=sam, stage="ready")
    rows = my_pieces(ruth)
    assert [row.maker for row in rows] == [sam]  # Ruth makes nothing, and Una has made nothing yet
    own = factories.piece(maker=ruth, stage="wet")
    factories.piece(maker=una, stage="bisqued")
    rows = my_pieces(ruth)
    assert [row.maker for row in rows] == [ruth, sam, una]
    assert rows[0].on_the_way == [own]
    page = signed_in(ruth).get("/").content.decode()
    assert "Sam’s" in page
    assert "Una’s" in page
    assert "Yours" in page


def test_the_newest_photo_stands_for_a_piece(ines: Person) -> None:
    piece = factories.piece(maker=ines, stage="glazed")
    worlds.photo_of(piece, ines)
    newest = worlds.photo_of(piece, ines)
    removed = worlds.photo_of(piece, ines, removed_at=NOW)
    [row] = my_pieces(ines)
    assert row.on_the_way[0].photo_code == newest.code
    assert removed.code not in signed_in(ines).get("/").content.decode()


def test_of_long_ago_only_the_newest_are_shown(ines: Person) -> None:
    for days in range(SHOWN_OF_THE_PAST + 6):
        factories.piece(maker=ines, stage="collected", made_at=NOW - timedelta(days=days))
    [row] = my_pieces(ines)
    assert len(row.past) == SHOWN_OF_THE_PAST
    assert row.past[0].ended_at == NOW


@pytest.mark.parametrize(
    ("own", "sams", "sentence"),
    [
        (0, 0, "Nothing is ready yet."),
        (1, 0, "One piece is ready, Ruth."),
        (2, 0, "Two pieces are ready, Ruth."),
        (0, 1, "One piece of Sam’s is ready."),
        (0, 3, "Three pieces of Sam’s are ready."),
        (1, 1, "Two pieces are ready, Ruth."),
        (12, 0, "12 pieces are ready, Ruth."),
    ],
)
def test_the_answer_in_one_sentence(ines: Person, own: int, sams: int, sentence: str) -> None:
    ruth = factories.guardian()
    sam = factories.young_person("Sam", guardian=ruth)
    for maker, number in ((ruth, own), (sam, sams)):
        for _ in range(number):
            factories.piece(maker=maker, stage="ready")
    assert heading(my_pieces(ruth), person=ruth) == sentence
    assert sentence in signed_in(ruth).get("/").content.decode()


def test_two_young_people_with_ready_pieces(ines: Person) -> None:
    ruth = factories.guardian()
    for name in ("Sam", "Una"):
        factories.piece(maker=factories.young_person(name, guardian=ruth), stage="ready")
    assert heading(my_pieces(ruth), person=ruth) == "Two pieces of Sam and Una’s are ready."


def test_where_and_when_to_come(ines: Person) -> None:
    a, b = factories.shelf("Ready A", where="Left of the door"), factories.shelf("Ready B")
    for shelf in (a, a, b):
        factories.piece(maker=ines, stage="ready", shelf=shelf)
    page = signed_in(ines).get("/").content.decode()
    assert "<b>Ready A</b>, Left of the door and <b>Ready B</b>." in page
    assert "Tuesdays and Thursdays, 10:00 to 20:00" in page


def test_a_piece_with_neither_shelf_nor_photo_is_drawn(ines: Person) -> None:
    piece = factories.piece(maker=ines, stage="glazed", form="jug")
    page = signed_in(ines).get("/").content.decode()
    assert piece.mark in page
    assert 'class="sil"' in page


def test_another_students_pieces_are_nowhere(ines: Person) -> None:
    other = factories.piece(maker=factories.student("Tobias", last_name="Marl"), stage="ready")
    page = signed_in(ines).get("/").content.decode()
    assert not re.search(rf"\b{other.mark}\b", page)
    assert "Tobias" not in page
