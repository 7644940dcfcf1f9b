"""Scanning: shelf first, then piece after piece. Nothing foreign, old, cut off or near changes anything."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.actions.shelves import renew_tag, retire_shelf
from studio.models import Attempt, Event, Piece, Shelf, Tag
from tests import factories
from tests.factories import client_id

pytestmark = pytest.mark.django_db
URL = "/scan/"


@pytest.fixture
def maud(client: Client, settings):
    settings.SITE_URL = "https://clay.quillmere.example"
    factories.studio()
    person = factories.tutor()
    client.force_login(person)
    return person


def printed(thing: Piece | Shelf) -> str:
    return f"HTTPS://CLAY.QUILLMERE.EXAMPLE/Q/{thing.tags.get(retired_at=None).code}"


def scan(client: Client, text: str, **data: object):
    return client.post(URL, {"code": text, "client_id": client_id(), **data}, follow=True)


def state() -> tuple[object, ...]:
    return (
        Event.objects.count(),
        sorted(Piece.objects.values_list("code", "stage", "shelf", "maker")),
        sorted(Tag.objects.values_list("code", "retired_at", "printed_at")),
    )


# The phone's own camera: GET changes nothing


@pytest.mark.parametrize("letter", ["Q", "q"])
@pytest.mark.parametrize("change", [str.upper, str.lower])
def test_a_slip_opens_its_piece_in_either_case(client: Client, maud, letter: str, change) -> None:
    piece = factories.piece()
    before = state()
    answer = client.get(f"/{letter}/{change(piece.tags.get().code)}")
    assert answer.url == reverse("piece", args=[piece.code])
    assert state() == before


def test_a_shelf_tag_opens_the_shelf(client: Client, maud) -> None:
    shelf = factories.shelf("Ready A")
    assert client.get(f"/Q/{shelf.tags.get().code}").url == reverse("shelf", args=[shelf.code])


def test_ines_scans_her_own_and_nobody_elses(client: Client) -> None:
    ines = factories.student()
    mine, theirs = factories.piece(maker=ines), factories.piece(maker=factories.student("Tobias"))
    client.force_login(ines)
    assert client.get(f"/Q/{mine.tags.get().code}").url == reverse("piece", args=[mine.code])
    forbidden, unknown = client.get(f"/Q/{theirs.tags.get().code}"), client.get("/Q/ZZZZZZZZZZ")
    assert forbidden.status_code == unknown.status_code == 404
    assert forbidden.content == unknown.content


def test_a_guardian_scans_the_young_persons(client: Client) -> None:
    ruth = factories.guardian()
    piece = factories.piece(maker=factories.young_person(guardian=ruth))
    client.force_login(ruth)
    assert client.get(f"/q/{piece.tags.get().code}").url == reverse("piece", args=[piece.code])


def test_a_visitor_learns_the_studios_name_and_nothing_else(client: Client) -> None:
    factories.studio()
    piece = factories.piece(maker=factories.student("Ines", last_name="Okafor"), mark="K7H")
    shelf = factories.shelf("Ready A")
    old = piece.tags.get()
    renew_tag(piece=piece, by=factories.tutor())
    codes = [
        *(piece.tags.get(retired_at=None).code, shelf.tags.get().code, old.code),
        *("ZZZZZZZZZZ", "short", "x" * 4096, "../../etc/passwd", "%00", "K7H"),
    ]
    pages = set()
    for code in codes:
        answer = client.get(f"/Q/{code}")
        assert answer.status_code == 200
        page = answer.content.decode()
        assert "Quillmere Clay Room" in page
        for word in ("Ines", "Okafor", "K7H", "Ready A", "mug", "bowl"):
            assert word.lower() not in re.sub(r"next=[^\"]*", "", page).lower()
        pages.add(re.sub(r"next=[^\"]*", "", page))
    assert len(pages) == 1


def test_after_signing_in_a_visitor_lands_on_what_was_scanned(client: Client) -> None:
    piece = factories.piece()
    code = piece.tags.get().code
    page = client.get(f"/Q/{code}").content.decode()
    assert f"{reverse('sign-in')}?next=%2FQ%2F{code}" in page


def test_guessing_tags_is_limited_after_twenty_tries_and_tells_nothing(client: Client) -> None:
    """Forbidden and unknown codes count and answer alike; what is one's own goes on working."""
    ines = factories.student()
    mine, theirs = factories.piece(maker=ines), factories.piece(maker=factories.student("Tobias"))
    client.force_login(ines)
    codes = [theirs.tags.get().code, "ZZZZZZZZZZ"]
    answers = [client.get(f"/Q/{codes[number % 2]}").status_code for number in range(30)]
    assert answers == [404] * 20 + [429] * 10
    assert client.get(f"/Q/{mine.tags.get().code}").status_code == 302
    assert not Attempt.objects.filter(key_hash__contains="person").exists()


def test_a_visitors_tries_count_alike_whatever_the_code(client: Client) -> None:
    known = factories.piece().tags.get().code
    for code in (known, "ZZZZZZZZZZ"):
        Attempt.objects.all().delete()
        answers = [client.get(f"/Q/{code}").status_code for _ in range(22)]
        assert answers == [200] * 20 + [429] * 2


def test_staff_are_not_limited(client: Client, maud) -> None:
    assert {client.get("/Q/ZZZZZZZZZZ").status_code for _ in range(25)} == {404}
    assert Attempt.objects.count() == 0


def test_an_old_slip_says_so_to_staff_and_its_maker(client: Client, maud) -> None:
    ines = factories.student()
    piece = factories.piece(maker=ines, mark="K7H")
    old = piece.tags.get().code
    renew_tag(piece=piece, by=maud)
    answer = client.get(f"/Q/{old}")
    assert answer.status_code == 410
    assert "This slip of K7H was replaced" in answer.content.decode()
    client.force_login(ines)
    answer = client.get(f"/Q/{old}")
    assert answer.status_code == 410
    assert "This slip of K7H was replaced" in answer.content.decode()


def test_the_tag_address_takes_no_posts(client: Client, maud) -> None:
    assert client.post(f"/Q/{factories.piece().tags.get().code}").status_code == 405


# The scan page


def test_shelf_first_then_piece_after_piece(client: Client, maud) -> None:
    shelf, other = factories.shelf("Ready A"), factories.shelf("Ready B")
    bowls = [factories.piece() for _ in range(3)]
    page = scan(client, printed(shelf)).content.decode()
    assert re.search(r'nowshelf__name">Ready A<', page)
    scan(client, printed(bowls[0]))
    scan(client, bowls[1].mark.lower())
    page = scan(client, bowls[2].tags.get().code).content.decode()
    assert {piece.shelf for piece in Piece.objects.all()} == {shelf}
    assert all(piece.mark in page for piece in bowls)
    # It stays chosen until it is changed.
    page = client.post(reverse("scan-shelf"), {"shelf": other.code}, follow=True).content.decode()
    assert re.search(r'nowshelf__name">Ready B<', page)
    scan(client, bowls[0].mark)
    bowls[0].refresh_from_db()
    assert bowls[0].shelf == other
    client.post(reverse("scan-shelf"), {"shelf": ""})
    assert scan(client, bowls[0].mark).redirect_chain[-1][0] == reverse("piece", args=[bowls[0].code])


def test_the_chosen_shelf_is_offered_on_a_scanned_pieces_page(client: Client, maud) -> None:
    shelf, piece = factories.shelf("Ready A"), factories.piece()
    client.post(reverse("scan-shelf"), {"shelf": shelf.code})
    page = client.get(f"/Q/{piece.tags.get().code}", follow=True).content.decode()
    assert f"Put {piece.mark} on <b>Ready A</b>" in page
    piece.refresh_from_db()
    assert piece.shelf is None


def test_what_was_put_away_is_undone_from_the_same_page(client: Client, maud) -> None:
    shelf, piece = factories.shelf("Ready A"), factories.piece()
    scan(client, printed(shelf))
    page = scan(client, piece.mark).content.decode()
    [undo] = re.findall(r'action="(/pieces/\w+/undo/\w+/)"', page)
    client.post(undo, {"client_id": client_id()})
    piece.refresh_from_db()
    assert piece.shelf is None
    assert "Just put away" not in client.get(URL).content.decode()


def test_one_scan_sent_four_times_is_one_event(client: Client, maud) -> None:
    shelf, piece = factories.shelf(), factories.piece()
    scan(client, printed(shelf))
    number = client_id()
    for _ in range(4):
        assert scan(client, printed(piece), client_id=number).status_code == 200
    assert piece.events.filter(kind="shelved").count() == 1
    # A page loaded anew and the same slip again: said, not done again.
    assert "is on" in scan(client, printed(piece)).content.decode()
    assert piece.events.filter(kind="shelved").count() == 1


@pytest.mark.parametrize("chosen", [True, False])
def test_what_is_no_tag_of_ours_changes_nothing_and_each_says_its_own_words(
    client: Client, maud, chosen: bool
) -> None:
    shelf, gone_shelf = factories.shelf("Ready A"), factories.shelf("Old rack")
    piece = factories.piece(mark="K7H")
    left = factories.piece(mark="R2X", stage="collected")
    old = piece.tags.get().code
    renew_tag(piece=piece, by=maud)
    old_shelf_tag = shelf.tags.get().code
    renew_tag(shelf=shelf, by=maud)
    retired = gone_shelf.tags.get().code
    retire_shelf(shelf=gone_shelf, by=maud)
    if chosen:
        scan(client, printed(shelf))
    before = state()
    texts = {
        "foreign QR": f"https://elsewhere.example/Q/{piece.tags.get(retired_at=None).code}",
        "Wi-Fi QR": "WIFI:T:WPA;S:Clay Room;P:kiln1222;;",
        "contact QR": "BEGIN:VCARD\nVERSION:3.0\nN:Fenwick\nEND:VCARD",
        "another address of ours": "https://clay.quillmere.example/kilns/",
        "retired slip": f"HTTPS://CLAY.QUILLMERE.EXAMPLE/Q/{old}",
        "retired shelf tag": old_shelf_tag,
        "tag of a retired shelf": retired,
        "unknown": "ZZZZZZZZ2Z",
        "truncated": printed(piece)[:-4],
        "4 KB": "A" * 4096,
        "empty": "  ",
        "near": "K7A",
        "left": left.mark,
        "no such mark": "W9W",
    }
    said = {}
    for name, text in texts.items():
        answer = scan(client, text)
        assert answer.status_code == 422, name
        found = re.search(
            r'<div class="note note--\w+ mt-4" role="alert">.*?<p>(.+?)</p>', answer.content.decode(), re.S
        )
        said[name] = found[1]
        assert state() == before, name
    assert len(set(said.values())) == len(texts), said
    assert "elsewhere.example" in said["foreign QR"]
    assert "Wi-Fi" in said["Wi-Fi QR"]


def test_near_marks_are_buttons_and_pressing_one_does_it(client: Client, maud) -> None:
    shelf, piece = factories.shelf("Ready A"), factories.piece(mark="K7H")
    scan(client, printed(shelf))
    page = scan(client, "K7A").content.decode()
    assert '<input type="hidden" name="code" value="K7H">' in page
    scan(client, "K7H")
    piece.refresh_from_db()
    assert piece.shelf == shelf


def test_a_piece_in_a_kiln_is_refused_in_words(client: Client, maud) -> None:
    shelf, piece = factories.shelf("Ready A"), factories.piece(stage="glazed")
    factories.firing("firing", pieces=[piece])
    scan(client, printed(shelf))
    answer = scan(client, piece.mark)
    assert answer.status_code == 422
    assert "Unload the firing first" in answer.content.decode()


def test_without_its_number_nothing_is_done(client: Client, maud) -> None:
    shelf, piece = factories.shelf(), factories.piece()
    scan(client, printed(shelf))
    answer = client.post(URL, {"code": piece.mark})
    assert answer.status_code == 422
    assert "lost its number" in answer.content.decode()
    piece.refresh_from_db()
    assert piece.shelf is None


def test_scanning_is_staffs(client: Client) -> None:
    assert client.get(URL).url.startswith(reverse("sign-in"))
    client.force_login(factories.student())
    for answer in (client.get(URL), client.post(URL), client.post(reverse("scan-shelf"))):
        assert answer.status_code == 404
    client.force_login(factories.helper())
    assert client.get(URL).status_code == 200
    assert client.get(reverse("scan-shelf")).status_code == 405
    assert client.post(reverse("scan-shelf"), {"shelf": "NOTTHERE"}, follow=True).status_code == 200


# A script that sends a scan gets an answer


def asked(client: Client, text: str, **data: object):
    sent = {"code": text, "client_id": client_id(), **data}
    return client.post(URL, sent, headers={"accept": "application/json"})


def test_a_script_is_told_taken_only_when_it_is_done(client: Client, maud) -> None:
    shelf, piece = factories.shelf("Ready A"), factories.piece(mark="K7H")
    found = asked(client, printed(piece)).json()
    assert (found["outcome"], found["word"], found["href"]) == ("taken", "Found", f"/pieces/{piece.code}/")
    piece.refresh_from_db()
    assert piece.shelf is None
    assert asked(client, printed(shelf)).json()["sentence"] == "What follows goes on Ready A."
    number = client_id()
    for _ in range(3):
        answer = asked(client, printed(piece), client_id=number)
        assert answer.status_code == 200
        assert (answer.json()["outcome"], answer.json()["mark"]) == ("taken", "K7H")
    assert piece.events.filter(kind="shelved").count() == 1
    assert asked(client, printed(piece)).json()["sentence"] == "K7H is on Ready A already."


def test_the_shelf_that_the_page_showed_counts(client: Client, maud) -> None:
    """Another page has chosen another shelf meanwhile, or the shelf has gone."""
    shown, other, piece = factories.shelf("Ready A"), factories.shelf("Ready B"), factories.piece()
    scan(client, printed(other))
    asked(client, printed(piece), shelf=shown.code)
    piece.refresh_from_db()
    assert piece.shelf == shown
    asked(client, printed(piece), shelf=other.code)
    retire_shelf(shelf=shown, by=maud)
    for code in (shown.code, "NOTTHERE", "\0", "x" * 70):
        answer = asked(client, printed(piece), shelf=code)
        assert answer.status_code == 422
        assert answer.json()["outcome"] == "refused"
    assert asked(client, printed(piece), shelf="").json()["word"] == "Found"


def test_a_script_is_told_refused_or_unknown_each_with_its_own_words(client: Client, maud) -> None:
    """Foreign, Wi-Fi, retired, of another kind, cut off, and 4 KB: nothing changes."""
    shelf, piece = factories.shelf("Ready A"), factories.piece(mark="K7H")
    old = piece.tags.get().code
    renew_tag(piece=piece, by=maud)
    in_kiln = factories.piece(stage="glazed")
    factories.firing("firing", pieces=[in_kiln])
    scan(client, printed(shelf))
    before = state()
    texts = {
        "https://elsewhere.example/Q/ABCDEFGHJK": "unknown",
        "WIFI:T:WPA;S:Clay Room;P:kiln1222;;": "unknown",
        "https://clay.quillmere.example/kilns/": "unknown",
        printed(piece)[:-4]: "unknown",
        "A" * 4096: "unknown",
        "ZZZZZZZZ2Z": "unknown",
        "K7A": "unknown",
        "": "unknown",
        f"https://clay.quillmere.example/Q/{old}": "refused",
        printed(in_kiln): "refused",
    }
    said = set()
    for text, outcome in texts.items():
        answer = asked(client, text)
        assert answer.status_code == 422
        assert answer.json()["outcome"] == outcome, text
        said.add(answer.json()["sentence"])
        assert answer.json()["near"] is (text == "K7A")
    assert len(said) == len(texts)
    assert state() == before
    assert asked(client, printed(piece).lower()).json()["outcome"] == "taken"


def test_without_its_number_a_script_is_refused(client: Client, maud) -> None:
    answer = asked(client, factories.piece().mark, client_id="")
    assert (answer.status_code, answer.json()["outcome"]) == (422, "refused")
    assert "lost its number" in answer.json()["sentence"]


def test_whoever_may_not_scan_gets_no_answer(client: Client) -> None:
    piece = factories.piece()
    assert asked(client, piece.mark).url.startswith(reverse("sign-in"))
    client.force_login(factories.student())
    assert asked(client, piece.mark).status_code == 404
