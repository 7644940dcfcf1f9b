"""Handing over: slips scanned or marks typed, several people at once, what is owed, and back again."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Charge, Event, Payment
from tests import factories
from tests.factories import client_id

pytestmark = pytest.mark.django_db
URL, ADD = "/pickup/", "/pickup/add/"


@pytest.fixture
def maud(client: Client, settings):
    settings.SITE_URL = "https://clay.quillmere.example"
    factories.studio()
    person = factories.tutor()
    client.force_login(person)
    return person


def ready(mark: str, maker=None, **values: object):
    return factories.piece(mark=mark, maker=maker, stage="ready", **values)


def add(client: Client, text: str = "", **data: str):
    return client.post(ADD, {"text": text, **data}, follow=True)


def hand_over(client: Client, page: str, number: str = ""):
    codes = re.search(r'name="codes" value="([\w,]+)"><button class="btn btn--good', page)[1]
    return client.post(
        reverse("pickup-hand-over"), {"codes": codes, "client_id": number or client_id()}, follow=True
    )


def test_one_slip_scanned_one_pot_handed_over(client: Client, maud) -> None:
    piece = ready("K7H")
    page = add(client, f"HTTPS://CLAY.QUILLMERE.EXAMPLE/Q/{piece.tags.get().code}").content.decode()
    assert "Hand over 1 piece?" in page
    page = hand_over(client, page).content.decode()
    piece.refresh_from_db()
    assert piece.stage == "collected"
    assert "Handed over: 1 piece" in page


def test_several_marks_at_once_for_several_people(client: Client, maud) -> None:
    ines, tobias = factories.student(), factories.student("Tobias")
    pieces = [ready("K7H", ines), ready("R2X", ines), ready("D4C", tobias)]
    page = add(client, "k7h, r2x  D4C").content.decode()
    assert "Hand over 3 pieces?" in page
    assert page.index("Ines Arkwell</h2>") < page.index("Tobias Arkwell</h2>")
    hand_over(client, page)
    assert Event.objects.filter(kind="collected").count() == 3
    for piece in pieces:
        piece.refresh_from_db()
        assert piece.stage == "collected"


def test_what_else_is_ready_for_them_is_one_tap_away_and_a_whole_person_too(client: Client, maud) -> None:
    ines = factories.student()
    ready("K7H", ines), ready("R2X", ines)
    page = add(client, "K7H").content.decode()
    assert "Also ready for Ines:" in page
    page = add(client, person=ines.code).content.decode()
    assert "Hand over 2 pieces?" in page
    assert "Also ready" not in page


def test_what_is_owed_is_for_the_tutor_and_of_whoever_answers(client: Client, maud) -> None:
    ruth = factories.guardian()
    sam = factories.young_person(guardian=ruth)
    ines = factories.student()
    for person, amount in ((ruth, 1250), (ines, 400)):
        Charge.objects.create(
            person=person,
            kind="firing",
            amount_minor=amount,
            words="Firing 16",
            at=factories.NOW,
            client_id=client_id(),
        )
    Payment.objects.create(person=ines, amount_minor=400, at=factories.NOW, client_id=client_id())
    ready("K7H", sam), ready("R2X", ines)
    page = add(client, "K7H R2X").content.decode()
    assert "Still owes £12.50" in page
    assert "Ruth Pellow answers for Sam" in page
    assert "Owes nothing" in page
    helper = Client()
    helper.force_login(factories.helper())
    page = add(helper, "K7H R2X").content.decode()
    assert "Hand over 2 pieces?" in page
    assert "£" not in page
    assert "wes" not in page


def test_undo_of_one_and_of_all(client: Client, maud) -> None:
    pieces = [ready("K7H"), ready("R2X"), ready("D4C")]
    page = hand_over(client, add(client, "K7H R2X D4C").content.decode()).content.decode()
    codes = re.findall(r'name="codes" value="(\w+)"', page)
    undo = reverse("pickup-undo")
    client.post(undo, {"codes": codes[0], "client_id": client_id()})
    pieces[0].refresh_from_db()
    assert pieces[0].stage == "ready"
    page = client.get(URL).content.decode()
    assert "Handed over: 2 pieces" in page
    together = re.search(r'name="codes" value="(\w+,\w+)"', page)[1]
    number = client_id()
    for _ in range(2):
        client.post(undo, {"codes": together, "client_id": number})
    for piece in pieces:
        piece.refresh_from_db()
        assert piece.stage == "ready"
    assert Event.objects.filter(kind="undone").count() == 3


def test_sent_twice_it_is_handed_over_once(client: Client, maud) -> None:
    ready("K7H")
    page, number = add(client, "K7H").content.decode(), client_id()
    for _ in range(3):
        assert hand_over(client, page, number).status_code == 200
    assert Event.objects.filter(kind="collected").count() == 1


def test_what_is_not_ready_or_not_a_slip_is_not_added_and_says_why(client: Client, maud) -> None:
    shelf = factories.shelf("Ready A")
    factories.piece(mark="K7H", stage="glazed")
    ready("R2X")
    factories.piece(mark="N9P", stage="collected")
    cases = {
        "K7H": "K7H is glazed, not ready",
        shelf.tags.get().code: "That is the tag of a shelf, Ready A",
        "R2A": "Did you mean",
        "W9W": "No piece is marked W9W",
        "N9P": "N9P has left",
        "https://elsewhere.example/Q/ABC": "another site",
        "WIFI:S:x;;": "Wi-Fi",
        "x" * 4096: "far longer",
    }
    for text, words in cases.items():
        answer = add(client, text)
        assert answer.status_code == 422, text
        assert words in answer.content.decode(), text
    assert "Who has come" in client.get(URL).content.decode()
    # What could be read of several is added; the rest stays in the field.
    page = add(client, "R2X W9W").content.decode()
    assert "Hand over 1 piece?" in page
    assert 'value="W9W"' in page
    assert Event.objects.filter(kind="collected").count() == 0


def test_all_or_nothing_when_one_was_taken_meanwhile(client: Client, maud) -> None:
    pieces = [ready("K7H"), ready("R2X")]
    page = add(client, "K7H R2X").content.decode()
    other = Client()
    other.force_login(factories.helper())
    hand_over(other, add(other, "K7H").content.decode())
    answer = hand_over(client, page)
    assert answer.status_code == 422
    assert "K7H has been collected already" in answer.content.decode()
    pieces[1].refresh_from_db()
    assert pieces[1].stage == "ready"


def test_leaving_out_and_emptying(client: Client, maud) -> None:
    piece = ready("K7H")
    ready("R2X")
    add(client, "K7H R2X")
    client.post(reverse("pickup-remove"), {"piece": piece.code})
    assert "Hand over 1 piece?" in client.get(URL).content.decode()
    client.post(reverse("pickup-remove"))
    assert "Who has come" in client.get(URL).content.decode()


def test_nonsense_codes(client: Client, maud) -> None:
    for data in ({}, {"codes": "NOTTHERE", "client_id": client_id()}, {"codes": "x", "client_id": ""}):
        assert client.post(reverse("pickup-hand-over"), data, follow=True).status_code in {200, 422}
        assert client.post(reverse("pickup-undo"), data, follow=True).status_code == 200
    client.post(ADD, {"person": "NOTTHERE", "piece": "NOTTHERE"})
    assert Event.objects.count() == 0


def test_pickup_is_staffs(client: Client) -> None:
    assert client.get(URL).url.startswith(reverse("sign-in"))
    client.force_login(factories.student())
    names = ("pickup-add", "pickup-remove", "pickup-hand-over", "pickup-undo")
    assert client.get(URL).status_code == 404
    assert {client.post(reverse(name)).status_code for name in names} == {404}
    client.force_login(factories.helper())
    assert {client.get(reverse(name)).status_code for name in names} == {405}
    assert "No piece is ready" in client.get(URL).content.decode()


def test_one_query_count_with_1_and_with_30(
    client: Client, maud, django_assert_num_queries, django_assert_max_num_queries
) -> None:
    def more(number: int) -> None:
        person = factories.student(f"S{number}")
        pieces = [factories.piece(maker=person, stage="ready"), factories.piece(maker=person, stage="ready")]
        add(client, pieces[0].mark)

    more(0)
    with django_assert_max_num_queries(18) as one:
        client.get(URL)
    one = len(one)
    for number in range(1, 30):
        more(number)
    with django_assert_num_queries(one):
        client.get(URL)
