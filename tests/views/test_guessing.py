"""Guessing: codes of slips, pieces, photos and notices, addresses and passwords. Nothing is found, nothing is
told by the answer, and where a guess could tell something the tries are counted.
"""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.models import Attempt, Notice, Person, Photo, Piece, Shelf, Tag
from studio.models.base import CODE_ALPHABET, PUBLIC_CODE_LENGTH, TAG_CODE_LENGTH
from studio.queries.scan import lead_of_code, lead_of_text
from studio.views import access
from tests import factories
from tests.views import world as worlds
from tests.views.world import World, signed_in

pytestmark = pytest.mark.django_db

GUESSES = 10_000
#: How many of them are asked for in a browser.
ASKED = 150
MOST_TRIES = 20


@pytest.fixture
def world() -> World:
    return worlds.build()


def guesses(length: int, number: int = GUESSES) -> list[str]:
    random = Random(length)
    return ["".join(random.choices(CODE_ALPHABET, k=length)) for _ in range(number)]


def neighbours(code: str) -> list[str]:
    """Every code that differs from this one in one place, or in the order of two neighbours."""
    near = {
        code[:place] + other + code[place + 1 :]
        for place in range(len(code))
        for other in CODE_ALPHABET
        if other != code[place]
    }
    for place in range(len(code) - 1):
        near.add(code[:place] + code[place + 1] + code[place] + code[place + 2 :])
    return sorted(near - {code})


def chunks(codes: list[str]) -> list[list[str]]:
    return [codes[start : start + 500] for start in range(0, len(codes), 500)]


def test_codes_are_long_enough_to_guess_at_for_ever() -> None:
    """28 letters and figures. A thousand slips, ten thousand guesses a day: a first hit after eighty years.

    Codes of pages are shorter and open nothing by themselves: the page still asks who is asking.
    """
    assert len(set(CODE_ALPHABET)) == 28
    assert (TAG_CODE_LENGTH, PUBLIC_CODE_LENGTH) == (10, 8)
    years = 28**TAG_CODE_LENGTH / 1000 / 10_000 / 365
    assert years > 80


def test_ten_thousand_random_tags_lead_nowhere(world: World) -> None:
    codes = guesses(TAG_CODE_LENGTH)
    assert [chunk for chunk in chunks(codes) if Tag.objects.filter(code__in=chunk).exists()] == []
    everything = Piece.objects.all()
    for code in codes[:300]:
        lead = lead_of_code(code, pieces=everything)
        assert (lead.piece, lead.shelf, lead.retired) == (None, None, False)


@pytest.mark.parametrize("model", [Piece, Photo, Notice, Person, Shelf], ids=lambda model: model.__name__)
def test_ten_thousand_random_codes_name_nothing(world: World, model: Any) -> None:
    for chunk in chunks(guesses(PUBLIC_CODE_LENGTH)):
        assert not model._base_manager.filter(code__in=chunk).exists()


def test_nothing_lies_beside_a_real_code(world: World) -> None:
    """One letter wrong, two swapped, cut short or run on: a tag leads nowhere."""
    codes = list(Tag.objects.values_list("code", flat=True))
    live = set(codes)
    for code in codes:
        assert not live & set(neighbours(code))
    pieces = Piece.objects.all()
    real = world.ready.tags.get().code
    assert lead_of_code(real, pieces=pieces).piece == world.ready
    wrong = [*neighbours(real)[:60], real[:-1], real[1:], real + "2", real[:5], real * 2, f"{real}/"]
    for code in wrong:
        assert lead_of_code(code, pieces=pieces).live_piece is None, code


def test_the_next_code_tells_nothing_of_the_last() -> None:
    """Codes come from the system's own source of chance: no place of them is fixed or counts on."""
    shelves = [factories.shelf() for _ in range(60)]
    codes = [shelf.code for shelf in shelves]
    assert codes != sorted(codes)
    for place in range(PUBLIC_CODE_LENGTH):
        assert len({code[place] for code in codes}) > 15


# Through the browser


def test_a_student_guessing_pieces_photos_and_shelves_gets_one_answer(world: World) -> None:
    """What is not theirs and what never was are one; knowing a code helps nobody."""
    tobias = signed_in(world.tobias)
    for name, more, real in (
        ("piece", [], world.ready.code),
        ("piece-glazes", [], world.ready.code),
        ("photo", ["full"], world.photo.code),
    ):
        said = {
            (answer.status_code, answer.content, tuple(sorted(answer.headers.items())))
            for code in [real, real.lower(), *guesses(PUBLIC_CODE_LENGTH, ASKED // 3)]
            for answer in [
                tobias.get(reverse("piece", args=[code]) if name == "piece" else path(name, code, more))
            ]
        }
        assert len(said) == 1, name
        assert said.pop()[0] == 404


def path(name: str, code: str, more: list[str]) -> str:
    # Written out: `reverse` refuses what the address itself refuses, such as lower case.
    return f"/photos/{code}/{more[0]}.jpg" if name == "photo" else f"/pieces/{code}/glazes/"


def test_a_student_guessing_at_pages_of_the_tutors_gets_the_same(world: World) -> None:
    tobias = signed_in(world.tobias)
    real = {
        "notice": world.notice.code,
        "person": world.ines.code,
        "account": world.ines.code,
        "kiln": world.kiln.code,
        "course": world.course.code,
    }
    for name, code in real.items():
        said = {
            (answer.status_code, answer.content)
            for guess in [code, *guesses(PUBLIC_CODE_LENGTH, 10)]
            for answer in [tobias.get(reverse(name, args=[guess]))]
        }
        assert len(said) == 1, name
        assert said.pop()[0] == 404


def ask_tags(client: Client, codes: list[str]) -> list[tuple[int, bytes]]:
    answers = [client.get(reverse("tag", args=[code])) for code in codes]
    return [(answer.status_code, answer.content) for answer in answers]


def test_twenty_tags_and_then_no_more(world: World) -> None:
    tobias = signed_in(world.tobias)
    said = ask_tags(tobias, guesses(TAG_CODE_LENGTH, ASKED))
    assert [status for status, _ in said] == [404] * MOST_TRIES + [429] * (ASKED - MOST_TRIES)
    assert len(set(said)) == 2
    # The slip of somebody else's piece is answered like any other, before the limit and behind it.
    foreign = world.ready.tags.get().code
    assert ask_tags(tobias, [foreign]) == said[-1:]
    ruth = signed_in(world.ruth)
    assert ask_tags(ruth, [foreign]) == ask_tags(ruth, guesses(TAG_CODE_LENGTH, 1))
    # One's own slip is no guess.
    own = Piece.objects.filter(maker=world.tobias, stage="ready").first()
    assert tobias.get(reverse("tag", args=[own.tags.get().code])).status_code == 302


def test_a_visitor_gets_one_answer_for_known_and_unknown_tags(world: World) -> None:
    known = [world.ready.tags.get().code, world.shelf.tags.get().code]
    said = []
    for codes in (known * 10, guesses(TAG_CODE_LENGTH, MOST_TRIES)):
        Attempt.objects.all().delete()
        answers = ask_tags(Client(), [*codes, codes[0]])
        # The address they were going to is in the way to sign in, as they wrote it themselves.
        said.append(
            [
                (status, page.replace(code.encode(), b"CODE"))
                for code, (status, page) in zip([*codes, codes[0]], answers, strict=True)
            ]
        )
    assert said[0] == said[1]
    assert [status for status, _ in said[0]] == [200] * MOST_TRIES + [429]


def test_a_known_tag_takes_no_more_questions_than_an_unknown_one(world: World) -> None:
    """The same work for both, so that a clock tells nothing either. Counted in questions to the database."""
    counts = []
    for code in (world.ready.tags.get().code, "ZZZZZZZZZZ"):
        with CaptureQueriesContext(connection) as asked:
            Client().get(reverse("tag", args=[code]))
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_students_search_by_mark_knows_their_own_alone(world: World) -> None:
    tobias = world.tobias
    seen = access.pieces_seen_by(tobias)
    for piece in Piece.objects.live().exclude(maker=tobias):
        lead = lead_of_text(piece.mark, hosts={"studio.example"}, pieces=seen)
        assert lead.piece is None
        assert piece not in lead.near
        answer = signed_in(tobias).get(f"{reverse('pieces')}?q={piece.mark}")
        page = answer.content.decode()
        assert answer.status_code == 200
        assert piece.code not in page
        if piece.maker:
            assert piece.maker.full_name not in page


# Addresses and passwords


def sent(name: str, **fields: str) -> tuple[int, str, int]:
    """Status, where it leads, and how many questions the database was asked."""
    client = Client()
    with CaptureQueriesContext(connection) as asked:
        answer = client.post(reverse(name), fields)
    return answer.status_code, getattr(answer, "url", answer.content.decode()), len(asked)


def test_known_and_unknown_addresses_are_answered_alike(world: World) -> None:
    known = sent("sign-in", email=world.ines.email)
    unknown = sent("sign-in", email="nobody@quillmere.example")
    assert known == unknown
    assert known[:2] == (302, reverse("sign-in-code"))


def test_asking_for_codes_stops_after_twenty_whoever_is_asked_for(world: World) -> None:
    for email in (world.ines.email, "nobody@quillmere.example"):
        Attempt.objects.all().delete()
        said = [sent("sign-in", email=email) for _ in range(MOST_TRIES + 5)]
        assert {status for status, *_ in said[:MOST_TRIES]} == {302}
        assert {status for status, *_ in said[MOST_TRIES:]} == {200}
        assert "too many times" in said[-1][1]


def test_ten_thousand_addresses_from_one_place_are_twenty(world: World) -> None:
    said = [sent("sign-in", email=f"guess{number}@quillmere.example")[0] for number in range(ASKED)]
    assert said == [302] * MOST_TRIES + [200] * (ASKED - MOST_TRIES)


def test_passwords_are_told_nothing_and_counted(world: World) -> None:
    world.maud.set_password("kiln shed by the mere")
    world.maud.save()
    said = []
    for email in (world.maud.email, world.ines.email, "nobody@quillmere.example"):
        Attempt.objects.all().delete()
        answers = [
            sent("sign-in-password", email=email, password=f"guess {n}") for n in range(MOST_TRIES + 1)
        ]
        pages = [page.replace(email, "ADDRESS") for _, page, _ in answers]
        assert "do not go together" in pages[0]
        assert "too many times" in pages[-1]
        said.append([worlds._TOKENS.sub("", page) for page in pages])
    assert said[0] == said[1] == said[2]
    # The right one is no use while the tries are spent.
    Attempt.objects.all().delete()
    for number in range(MOST_TRIES):
        sent("sign-in-password", email=world.maud.email, password=f"guess {number}")
    assert sent("sign-in-password", email=world.maud.email, password="kiln shed by the mere")[0] == 200
