"""Unloading on the phone: one piece a page, a verdict saves and moves on, and can be taken back."""

from __future__ import annotations

import io
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from studio.models import Event, FinishingJob, Firing, Flaw, Piece, UnloadAnswer
from tests import factories
from tests.actions.replay import agrees
from tests.factories import client_id
from tests.views.markup import says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def ivo(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.helper())
    return client


@pytest.fixture
def firing(ivo: Client) -> Firing:
    """Two layers: two pieces below, one on top."""
    return factories.firing("unloading", pieces=3, layers=2)


def url(firing: Firing) -> str:
    return reverse("unload", args=[firing.number])


def answer(client: Client, firing: Firing, piece: Piece, outcome: str = "sound", **words: object):
    sent = {"place": piece.code, "outcome": outcome, "client_id": client_id(), **words}
    return client.post(url(firing), sent)


def pieces_of(firing: Firing) -> list[Piece]:
    """From the top, as the pages go."""
    rows = firing.placements.order_by("-layer__number", "pk").select_related("piece")
    return [place.piece for place in rows]


def stage(piece: Piece) -> str:
    piece.refresh_from_db()
    return piece.stage


def shown(page: str) -> str:
    """The mark the page asks about."""
    return re.search(r'id="piece-h">(\w+),', page)[1]


# A verdict


def test_from_the_top_one_after_the_other(ivo: Client, firing: Firing) -> None:
    pieces = pieces_of(firing)
    for done, piece in enumerate(pieces):
        page = ivo.get(url(firing)).content.decode()
        assert shown(page) == piece.mark
        assert f"{done} of 3 out" in page
        assert answer(ivo, firing, piece).url == url(firing)
    assert ivo.get(url(firing)).url == reverse("reconcile", args=[firing.number])
    assert {stage(piece) for piece in pieces} == {"ready"}
    assert all(agrees(piece) for piece in pieces)


def test_sound_needs_one_tap_and_the_chosen_shelf_stays(ivo: Client, firing: Firing) -> None:
    first, second, _ = pieces_of(firing)
    shelf = factories.shelf("Ready A", purpose="ready")
    answer(ivo, firing, first, shelf=shelf.code)
    first.refresh_from_db()
    assert first.shelf == shelf
    page = ivo.get(url(firing)).content.decode()
    assert re.search(rf'value="{shelf.code}"[^>]*checked', page)
    answer(ivo, firing, second, shelf=shelf.code)
    second.refresh_from_db()
    assert second.shelf == shelf


def test_flawed_asks_what_is_wrong_and_keeps_what_was_ticked(ivo: Client, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    asked = answer(ivo, firing, piece, "flawed", severity="3")
    page = asked.content.decode()
    assert asked.status_code == 422
    assert f"What is wrong with {piece.mark}?" in page
    assert re.search(r'name="severity" value="3"[^>]*checked', page)
    assert UnloadAnswer.objects.count() == 0
    answer(
        ivo,
        firing,
        piece,
        "flawed",
        flaw=["pinholes", "crazing"],
        surface="rim",
        severity="3",
        note="On the rim",
    )
    assert set(Flaw.objects.values_list("kind", "surface", "severity")) == {
        ("pinholes", "rim", 3),
        ("crazing", "rim", 3),
    }
    assert UnloadAnswer.objects.get().note == "On the rim"
    assert stage(piece) == "fired"  # the tutor decides what becomes of it


def test_sound_with_a_flaw_ticked_asks_which_it_is(ivo: Client, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    asked = answer(ivo, firing, piece, "sound", flaw=["crawling"])
    assert asked.status_code == 422
    assert f"Is {piece.mark} flawed?" in asked.content.decode()
    assert re.search(r'value="crawling"[^>]*checked', asked.content.decode())


@pytest.mark.parametrize(
    ("flaw", "job"), [("sharp-spur", "grind-spur"), ("stuck-to-stand", "knock-off-stand")]
)
def test_a_spur_or_a_stand_is_a_job_and_the_pot_is_sound(
    ivo: Client, firing: Firing, flaw: str, job: str
) -> None:
    piece = pieces_of(firing)[0]
    assert answer(ivo, firing, piece, "sound", flaw=[flaw]).status_code == 302
    assert FinishingJob.objects.get().kind == job
    assert Flaw.objects.count() == 0
    assert stage(piece) == "finishing"


def test_lost_asks_how_and_stands_on_no_shelf(ivo: Client, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    shelf = factories.shelf("Ready A")
    asked = answer(ivo, firing, piece, "lost", note="In two")
    assert asked.status_code == 422
    page = asked.content.decode()
    assert f"What happened to {piece.mark}?" in page
    assert 'value="In two"' in page
    answer(ivo, firing, piece, "lost", loss_cause="cracked", note="In two", shelf=shelf.code)
    found = UnloadAnswer.objects.get()
    assert (found.loss_cause, found.note, found.shelf) == ("cracked", "In two", None)
    assert stage(piece) == "lost"
    assert piece.shelf is None


@pytest.mark.parametrize(
    "words",
    [
        {"outcome": "splendid"},
        {"outcome": ""},
        {"outcome": "lost", "loss_cause": "stolen"},
        {"outcome": "flawed", "flaw": ["ugly"]},
        {"outcome": "sound", "job": ["polish"]},
        {"outcome": "flawed", "flaw": ["pinholes"], "severity": "9"},
        {"outcome": "sound", "note": "x" * 301},
    ],
    ids=str,
)
def test_what_no_button_says_saves_nothing(ivo: Client, firing: Firing, words: dict[str, object]) -> None:
    piece = pieces_of(firing)[0]
    got = ivo.post(url(firing), {"place": piece.code, "client_id": client_id(), **words})
    assert got.status_code == 422
    assert "Nothing was saved" in got.content.decode()
    assert stage(piece) == "glaze-firing"
    assert UnloadAnswer.objects.count() == 0


def test_a_retired_shelf_is_not_chosen(ivo: Client, firing: Firing) -> None:
    old = factories.shelf("Old", retired_at=factories.NOW)
    piece = pieces_of(firing)[0]
    assert answer(ivo, firing, piece, shelf=old.code).status_code == 422
    assert stage(piece) == "glaze-firing"


def test_sent_again_it_counts_once_and_a_second_word_is_refused(ivo: Client, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    number = client_id()
    for _ in range(3):
        assert answer(ivo, firing, piece, client_id=number).status_code == 302
    assert UnloadAnswer.objects.count() == 1
    got = answer(ivo, firing, piece, "lost", loss_cause="broken")
    page = ivo.get(got.url, follow=True).content.decode()
    assert "Ivo" in page  # who has answered it
    assert says_no(page)
    assert stage(piece) == "ready"
    assert UnloadAnswer.objects.count() == 1


def test_a_piece_of_another_load_is_not_answered_here(ivo: Client, firing: Firing) -> None:
    other = factories.firing("unloading", pieces=1)
    stranger = pieces_of(other)[0]
    got = answer(ivo, firing, stranger)
    assert "That piece is not in this load. Nothing was saved." in ivo.get(got.url).content.decode()
    assert UnloadAnswer.objects.count() == 0


# Undo, map and photos


def test_the_last_answer_is_undone(ivo: Client, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    answer(ivo, firing, piece, "lost", loss_cause="cracked")
    row = UnloadAnswer.objects.get()
    page = ivo.get(url(firing)).content.decode()
    undo = reverse("unload-undo", args=[firing.number, row.code])
    assert undo in page
    got = ivo.post(undo, {"client_id": client_id()})
    assert got.url == f"{url(firing)}?place={piece.code}"
    assert stage(piece) == "glaze-firing"
    row.refresh_from_db()
    assert row.undone_at is not None
    assert Event.objects.filter(kind="undone").count() == 1
    assert agrees(piece)
    ivo.post(undo, {"client_id": client_id()})  # pressed twice: undone once
    assert Event.objects.filter(kind="undone").count() == 1
    other = factories.firing("unloading", pieces=1)
    assert ivo.post(reverse("unload-undo", args=[other.number, row.code])).status_code == 404
    assert answer(ivo, firing, piece, "sound").status_code == 302


def test_an_answered_piece_shows_who_answered_it(ivo: Client, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    answer(ivo, firing, piece)
    page = ivo.get(url(firing), {"place": piece.code}).content.decode()
    assert f"{piece.mark} is answered: sound, by Ivo" in page


def test_the_map_leads_to_any_piece(ivo: Client, firing: Firing) -> None:
    pieces = pieces_of(firing)
    answer(ivo, firing, pieces[0])
    page = ivo.get(reverse("unload-map", args=[firing.number])).content.decode()
    for piece in pieces:
        assert piece.mark in page
        assert f"?place={piece.code}" in page
    assert shown(ivo.get(url(firing), {"place": pieces[2].code}).content.decode()) == pieces[2].mark


def test_a_place_that_never_was_leads_on(ivo: Client, firing: Firing) -> None:
    for code in ("NOTTHERE", "<b>"):
        got = ivo.get(url(firing), {"place": code})
        assert got.status_code in {200, 302}


def jpeg() -> SimpleUploadedFile:
    data = io.BytesIO()
    Image.new("RGB", (64, 48), "#8b7c6c").save(data, "JPEG")
    return SimpleUploadedFile("bowl.jpg", data.getvalue(), "image/jpeg")


def test_a_photo_is_kept_with_the_firing(ivo: Client, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    answer(ivo, firing, piece, photo=jpeg())
    photo = piece.photos.get()
    assert (photo.firing, photo.by.first_name) == (firing, "Ivo")


def test_what_is_no_photo_is_told_and_the_answer_stands(ivo: Client, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    broken = SimpleUploadedFile("bowl.jpg", b"no photo", "image/jpeg")
    got = answer(ivo, firing, piece, photo=broken)
    page = ivo.get(got.url).content.decode()
    assert "is answered, but its photo was not kept" in page
    assert stage(piece) == "ready"
    assert piece.photos.count() == 0


# Before and after


def test_the_kiln_was_not_opened_after_all(ivo: Client, firing: Firing) -> None:
    page = ivo.post(reverse("unload-shut", args=[firing.number]), follow=True).content.decode()
    assert "is shut again by the books" in page
    firing.refresh_from_db()
    assert firing.state == "cooling"


def test_with_an_answer_it_stays_open(ivo: Client, firing: Firing) -> None:
    answer(ivo, firing, pieces_of(firing)[0])
    page = ivo.post(reverse("unload-shut", args=[firing.number]), follow=True).content.decode()
    assert "Undo those first" in page
    firing.refresh_from_db()
    assert firing.state == "unloading"


@pytest.mark.parametrize("state", ["planned", "firing", "cooling", "cancelled"])
def test_only_an_open_kiln_is_unloaded(ivo: Client, state: str) -> None:
    firing = factories.firing(state, pieces=1)
    piece = firing.placements.get().piece
    before = stage(piece)
    assert ivo.get(url(firing)).status_code == 302
    page = ivo.get(answer(ivo, firing, piece).url, follow=True).content.decode()
    assert "Nothing was saved." in page
    assert stage(piece) == before


def test_numbers_methods_and_students(ivo: Client, firing: Firing) -> None:
    for name in ("unload", "unload-map"):
        assert ivo.get(reverse(name, args=[999])).status_code == 404
        assert signed_in(factories.student()).get(reverse(name, args=[firing.number])).status_code == 404
    assert ivo.get(reverse("unload-shut", args=[firing.number])).status_code == 405
    assert ivo.post(reverse("unload-map", args=[firing.number])).status_code == 405
    maker = pieces_of(firing)[0].maker
    assert answer(signed_in(maker), firing, pieces_of(firing)[0]).status_code == 404
