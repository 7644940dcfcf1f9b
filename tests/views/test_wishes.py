"""Wishes on the pages: Ines asks on her phone, Maud reads it on Today and answers, Ines reads the answer."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.models import Person, Piece, Wish
from tests import factories as make
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud() -> Person:
    make.studio()
    return make.tutor()


@pytest.fixture
def ines(maud: Person) -> Person:
    return make.student()


@pytest.fixture
def bowl(ines: Person) -> Piece:
    return make.piece(maker=ines, stage="ready", mark="K7RX")


def ask(who: Person, piece: Piece, /, **fields: str) -> Any:
    fields = {"client_id": make.client_id(), **fields}
    return signed_in(who).post(reverse("wish-ask", args=[piece.code]), fields, follow=True)


def answer(maud: Person, wish: Wish, what: str, **fields: str) -> Any:
    fields = {"client_id": make.client_id(), **fields}
    return signed_in(maud).post(reverse(f"wish-{what}", args=[wish.code]), fields, follow=True)


def page_of(who: Person, url: str) -> str:
    return signed_in(who).get(url).content.decode()


def test_asked_answered_and_read(ines: Person, maud: Person, bowl: Piece) -> None:
    said = ask(ines, bowl, kind="refire", words="The inside is dry").content.decode()
    assert "Maud is asked." in said
    assert "not answered yet" in said
    today = page_of(maud, "/")
    assert "Answer one wish" in today
    assert "K7RX" in today
    listed = page_of(maud, reverse("wishes"))
    assert "One wish waits for your word." in listed
    assert "The inside is dry" in listed
    assert "Yes, do it" in page_of(maud, reverse("piece", args=[bowl.code]))
    done = answer(maud, Wish.objects.get(), "yes", word="Gladly", studio_at_fault="on").content.decode()
    assert "No wish is waiting." in done
    bowl.refresh_from_db()
    assert bowl.stage == "glazed"
    for url in ("/", reverse("piece", args=[bowl.code])):
        assert "“Gladly”" in page_of(ines, url)
    back = answer(maud, Wish.objects.get(), "take-back").content.decode()
    assert "waits again" in back
    bowl.refresh_from_db()
    assert bowl.stage == "ready"
    assert "“Gladly”" not in page_of(ines, "/")


def test_no_needs_a_line_and_keeps_what_was_typed(ines: Person, maud: Person, bowl: Piece) -> None:
    ask(ines, bowl, kind="refire", words="More blue")
    wish = Wish.objects.get()
    refused = answer(maud, wish, "no", word=" ")
    assert refused.status_code == 422
    assert "The line to them is missing." in refused.content.decode()
    answer(maud, wish, "no", word="It would run; the next one, together?")
    assert "It would run; the next one, together?" in page_of(ines, reverse("piece", args=[bowl.code]))


def test_a_refused_wish_keeps_what_was_typed(ines: Person, bowl: Piece) -> None:
    refused = ask(ines, bowl, kind="keep", wanted_on="2001-02-03", words="I am away")
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "has passed" in page
    assert 'value="I am away"' in page
    assert 'value="2001-02-03"' in page
    assert ask(ines, bowl, kind="refire", words="").status_code == 422
    assert "Choose what you want to ask." in ask(ines, bowl, kind="fee").content.decode()
    assert not Wish.objects.exists()


def test_a_student_can_post_no_fee_stage_or_owner_with_a_wish(
    ines: Person, maud: Person, bowl: Piece
) -> None:
    tobias = make.student("Tobias")
    more = {
        "stage": "collected",
        "maker": tobias.code,
        "to": tobias.code,
        "studio_at_fault": "on",
        "said_yes": "on",
        "answered_at": "2025-01-01",
        "amount_minor": "0",
        "fee": "0",
        "due_on": "2030-01-01",
        "kept_until": "2030-01-01",
        "event": "1",
        "piece": "1",
        "by": str(maud.pk),
        "wanted_use": "outdoor",
    }
    before = Piece.objects.values().get(pk=bowl.pk)
    ask(ines, bowl, kind="refire", words="Please", **more)
    wish = Wish.objects.get()
    assert Piece.objects.values().get(pk=bowl.pk) == before
    assert bowl.events.count() == 1
    assert (wish.by, wish.maker, wish.said_yes, wish.event) == (ines, ines, None, None)
    assert (wish.wanted_use, wish.wanted_on) == ("", None)
    for what in ("yes", "no", "take-back"):
        assert answer(ines, wish, what, word="x").status_code == 404
    wish.refresh_from_db()
    assert wish.is_open


def test_a_guardian_asks_for_the_young_and_others_see_nothing(maud: Person) -> None:
    sam = make.young_person()
    sams = make.piece(maker=sam, stage="ready")
    assert ask(sam.guardian, sams, kind="give-away", words="To his gran").status_code == 200
    wish = Wish.objects.get()
    stranger = make.student("Tobias")
    assert ask(stranger, sams, kind="refire", words="x").status_code == 404
    assert signed_in(stranger).post(reverse("wish-withdraw", args=[wish.code])).status_code == 404
    assert signed_in(stranger).get(reverse("wishes")).status_code == 404
    assert signed_in(make.helper()).get(reverse("wishes")).status_code == 404
    assert Client().get(reverse("wishes")).status_code == 302
    taken = signed_in(sam.guardian).post(reverse("wish-withdraw", args=[wish.code]), follow=True)
    assert "Taken back." in taken.content.decode()


def test_the_young_are_not_offered_to_give_away(maud: Person) -> None:
    sam = make.young_person(email="sam@quillmere.example", born_on=date(timezone.localdate().year - 14, 1, 2))
    piece = make.piece(maker=sam, stage="ready")
    url = reverse("piece", args=[piece.code])
    assert "Give it away" not in page_of(sam, url)
    assert "Give it away" in page_of(sam.guardian, url)


def test_given_to_somebody_the_tutor_chooses(ines: Person, maud: Person, bowl: Piece) -> None:
    tobias = make.student("Tobias")
    ask(ines, bowl, kind="give-away", words="To Tobias")
    answer(maud, Wish.objects.get(), "yes", to=tobias.code)
    bowl.refresh_from_db()
    assert bowl.maker == tobias
    assert "Give it away" in page_of(ines, "/")
    assert "To Tobias" not in page_of(tobias, reverse("piece", args=[bowl.code]))


@pytest.mark.parametrize("kind", ["refire", "give-away"])
def test_one_wish_or_thirty_are_one_count_of_queries(maud: Person, kind: str) -> None:
    client = signed_in(maud)
    counts = []
    for many in (1, 29):
        for number in range(many):
            maker = make.student(f"Ines{many}-{number}-")
            ask(maker, make.piece(maker=maker, stage="ready"), kind=kind, words="Please")
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert client.get(reverse("wishes")).status_code == 200
        counts.append(len(caught))
    assert counts[0] == counts[1]
