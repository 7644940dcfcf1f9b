"""The list of pieces: found by mark, filtered, counted, the same work with one piece and with thirty."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories

pytestmark = pytest.mark.django_db
URL = "/pieces/"


@pytest.fixture
def maud(client: Client):
    factories.studio()
    person = factories.tutor()
    client.force_login(person)
    return person


def marks_on(page: str) -> list[str]:
    return re.findall(r'<h2><a [^>]+><span class="mk">(\w+)</span>', page)


def test_a_mark_typed_exactly_opens_its_piece_in_any_case(client: Client, maud) -> None:
    piece = factories.piece(mark="K7H")
    for typed in ("K7H", "k7h", " k 7 h "):
        assert client.get(URL, {"q": typed}).url == reverse("piece", args=[piece.code])


def test_pieces_that_nobody_is_known_to_have_made(client: Client, maud) -> None:
    nobodys = factories.piece(nobodys=True)
    factories.piece(studios_own=True)
    factories.piece()
    page = client.get(URL, {"maker": "nobody"}).content.decode()
    assert marks_on(page) == [nobodys.mark]
    assert re.search(r'<option value="nobody" selected', page)


def test_what_was_made_in_one_meeting_here_or_gone(client: Client, maud) -> None:
    meeting = factories.session(factories.course("Tuesday evening throwing"))
    made = [factories.piece(session=meeting, stage=stage) for stage in ("wet", "collected")]
    factories.piece(session=meeting, stage="withdrawn")
    other = factories.piece(session=factories.session(meeting.course, starts_at=factories.NOW))
    course = client.get(reverse("course", args=[meeting.course.code])).content.decode()
    assert f'href="{URL}?session={meeting.code}">2 pieces' in course
    page = client.get(URL, {"session": meeting.code}).content.decode()
    assert sorted(marks_on(page)) == sorted(piece.mark for piece in made)
    assert "Made in Tuesday evening throwing on" in page
    assert marks_on(client.get(URL, {"session": meeting.code, "stage": "wet"}).content.decode()) == [
        made[0].mark
    ]
    for nonsense in ("0", "x", "999999", "9" * 30):
        assert other.mark in client.get(URL, {"session": nonsense}).content.decode()
    ines = other.maker
    client.force_login(ines)  # a student's list is their own, and no course's
    assert marks_on(client.get(URL, {"session": meeting.code}).content.decode()) == [other.mark]


def test_a_mark_nearly_right_is_only_asked_about(client: Client, maud) -> None:
    piece = factories.piece(mark="K7H")
    answer = client.get(URL, {"q": "K7A"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "Did you mean" in page
    assert reverse("piece", args=[piece.code]) in page


def test_the_mark_of_a_pot_brought_back_is_found_among_those_that_left(client: Client, maud) -> None:
    gone = factories.piece(mark="K7H", stage="collected")
    page = client.get(URL, {"q": "K7H"}).content.decode()
    assert "has left" in page
    assert reverse("piece", args=[gone.code]) in page


def test_a_name_finds_the_makers_pieces(client: Client, maud) -> None:
    factories.piece(mark="K7H", maker=factories.student("Tobias", last_name="Lind"))
    factories.piece(mark="R2X")
    assert marks_on(client.get(URL, {"q": "tob lind"}).content.decode()) == ["K7H"]
    page = client.get(URL, {"q": "nobody at all"}).content.decode()
    assert "Nor is there a maker of that name" in page


def test_filters_and_counts(client: Client, maud) -> None:
    shelf = factories.shelf("Ready A")
    ines = factories.student()
    factories.piece(mark="K7H", maker=ines, stage="wet")
    factories.piece(mark="R2X", maker=ines, stage="ready", shelf=shelf)
    factories.piece(mark="D4C", stage="wet", shelf=shelf)
    factories.piece(mark="N9P", stage="collected")
    page = client.get(URL).content.decode()
    assert sorted(marks_on(page)) == ["D4C", "K7H", "R2X"]
    assert re.search(r'Wet <span class="n">2</span>', page)
    assert re.search(r'Here <span class="n">3</span>', page)
    for query, expected in [
        ({"stage": "wet"}, ["D4C", "K7H"]),
        ({"maker": ines.code}, ["K7H", "R2X"]),
        ({"shelf": shelf.code}, ["D4C", "R2X"]),
        ({"shelf": "none"}, ["K7H"]),
        ({"stage": "wet", "shelf": shelf.code}, ["D4C"]),
        ({"left": "on"}, ["N9P"]),
        ({"stage": "collected"}, ["N9P"]),
        ({"stage": "wet", "maker": ines.code, "shelf": shelf.code}, []),
        # What makes no sense is left out.
        ({"stage": "nonsense", "maker": "x", "shelf": "y", "page": "z"}, ["D4C", "K7H", "R2X"]),
    ]:
        assert sorted(marks_on(client.get(URL, query).content.decode())) == expected, query


def test_a_student_sees_their_own_alone(client: Client) -> None:
    ines = factories.student()
    factories.piece(mark="K7H", maker=ines)
    factories.piece(mark="R2X", maker=factories.student("Tobias"))
    client.force_login(ines)
    page = client.get(URL).content.decode()
    assert marks_on(page) == ["K7H"]
    assert "Tobias" not in page
    # Not even that there is such a mark.
    theirs = client.get(URL, {"q": "R2X"}).content.decode()
    nobodys = client.get(URL, {"q": "W9W"}).content.decode()
    assert theirs.replace("R2X", "") == nobodys.replace("W9W", "")


def test_empty(client: Client, maud) -> None:
    assert "No pieces yet" in client.get(URL).content.decode()


def test_access_and_method(client: Client) -> None:
    assert client.get(URL).url.startswith(reverse("sign-in"))
    client.force_login(factories.student())
    assert client.post(URL).status_code == 405


def test_one_query_count_with_1_and_with_30_and_pages_after_that(
    client: Client, maud, django_assert_num_queries, django_assert_max_num_queries
) -> None:
    shelf, satin = factories.shelf(), factories.glaze()

    def add(number: int) -> None:
        row = factories.piece(
            maker=factories.student(f"S{number}"),
            stage="glazed",
            shelf=shelf,
            made_at=factories.NOW - timedelta(hours=number),
        )
        row.glazes_on.create(surface="outside", glaze=satin, put_on_at=factories.NOW)

    add(0)
    with django_assert_max_num_queries(14) as one:
        client.get(URL)
    one = len(one)
    for number in range(1, 30):
        add(number)
    with django_assert_num_queries(one):
        assert len(marks_on(client.get(URL).content.decode())) == 30
    add(30)
    page = client.get(URL).content.decode()
    assert "Page 1 of 2" in page
    assert len(marks_on(client.get(URL, {"page": 2}).content.decode())) == 1
