"""The page of one glaze: its batches, what it goes over, its maker's sheets."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.actions import pieces_glaze
from studio.actions.glaze_shelf import MOST_SHEET_BYTES, MOST_SHEETS, batch_in_use
from studio.actions.undo import undo
from studio.models import DataSheet, Glaze, GlazeBatch, GlazeOnPiece, Layering, Person
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.7\n% a sheet\n"


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


@pytest.fixture
def client(maud: Person) -> Client:
    return signed_in(maud)


@pytest.fixture
def ember(maud: Person) -> Glaze:
    return factories.glaze("Ember Matte", recipe="A secret of mine\nand a second line", source="Kept here")


def page_of(client: Client, glaze: Glaze) -> str:
    return client.get(reverse("glaze", args=[glaze.code])).content.decode()


def test_the_page_says_what_it_is_and_how_to_handle_it(client: Client, ember: Glaze) -> None:
    page = page_of(client, ember)
    for words in ("Ember Matte", "Kept here", "A secret of mine<br>and a second line", "mask that fits"):
        assert words in page
    assert "local rules decide" in page


def test_a_batch_comes_and_is_used_up_and_is_not_after_all(client: Client, ember: Glaze) -> None:
    typed = {"name": "12", "made_on": "2026-01-05", "in_hand_g": "4500", "notes": "Sieved twice"}
    assert client.post(reverse("batch-new", args=[ember.code]), typed).status_code == 302
    batch = GlazeBatch.objects.get()
    page = page_of(client, ember)
    assert "4500 g in hand" in page
    assert "Sieved twice" in page
    url = reverse("batch-finish", args=[ember.code, batch.code])
    client.post(url)
    assert "Used up" in page_of(client, ember)
    assert batch_in_use(ember) is None
    client.post(url)
    assert batch_in_use(ember) == batch


@pytest.mark.parametrize(
    "wrong",
    [{"name": ""}, {"made_on": "x"}, {"in_hand_g": "-1"}, {"in_hand_g": "9999999"}, {"made_on": "ahead"}],
)
def test_a_bad_batch_is_refused_and_kept_in_the_form(client: Client, ember: Glaze, wrong: dict) -> None:
    if wrong == {"made_on": "ahead"}:
        wrong = {"made_on": (timezone.localdate() + timedelta(days=3)).isoformat()}
    typed = {"name": "12", "made_on": "2026-01-05", "in_hand_g": "", "notes": "Sieved twice", **wrong}
    answer = client.post(reverse("batch-new", args=[ember.code]), typed)
    assert answer.status_code == 422
    assert "Sieved twice" in answer.content.decode()
    assert not GlazeBatch.objects.exists()


def test_two_batches_of_one_name_are_refused(client: Client, ember: Glaze) -> None:
    typed = {"name": "12", "made_on": "2026-01-05"}
    client.post(reverse("batch-new", args=[ember.code]), typed)
    answer = client.post(reverse("batch-new", args=[ember.code]), typed)
    assert answer.status_code == 422
    assert "has a batch of that name already" in answer.content.decode()


def test_what_is_put_on_is_of_the_batch_in_use(maud: Person, ember: Glaze) -> None:
    old = GlazeBatch.objects.create(
        glaze=ember, name="1", made_on=date(2025, 1, 1), finished_on=date(2025, 6, 1)
    )
    new = GlazeBatch.objects.create(glaze=ember, name="2", made_on=date(2025, 5, 1))
    piece = factories.piece(stage="bisqued")
    coats = [pieces_glaze.Coat("inside", ember)]
    pieces_glaze.note_glazes(piece=piece, coats=coats, by=maud, client_id=factories.client_id())
    assert GlazeOnPiece.objects.get().batch == new
    assert old.coats.count() == 0


def test_the_batch_comes_back_with_an_undo(maud: Person, ember: Glaze) -> None:
    batch = GlazeBatch.objects.create(glaze=ember, name="2", made_on=date(2025, 5, 1))
    piece = factories.piece(stage="bisqued")
    coats = [pieces_glaze.Coat("inside", ember)]
    pieces_glaze.note_glazes(piece=piece, coats=coats, by=maud, client_id=factories.client_id())
    batch.finished_on = date(2025, 8, 1)
    batch.save()
    again = pieces_glaze.note_glazes(piece=piece, coats=[], by=maud, client_id=factories.client_id())
    assert not GlazeOnPiece.objects.exists()
    undo(event=again, by=maud, client_id=factories.client_id())
    assert GlazeOnPiece.objects.get().batch == batch


def test_what_it_goes_over_is_said_said_again_and_forgotten(client: Client, ember: Glaze) -> None:
    chalk = factories.glaze("Chalk Satin")
    url = reverse("layering-say", args=[ember.code])
    client.post(url, {"under": chalk.code, "word": "good", "note": ""})
    client.post(url, {"under": chalk.code, "word": "careful", "note": "Thin, or it runs."})
    row = Layering.objects.get()
    assert (row.word, row.note) == ("careful", "Thin, or it runs.")
    assert "Over Chalk Satin: goes over it with care" in page_of(client, ember)
    assert "Under" in page_of(client, chalk)
    assert client.post(url, {"under": ember.code, "word": "good"}).status_code == 422
    client.post(reverse("layering-forget", args=[ember.code, chalk.code]))
    assert not Layering.objects.exists()


def test_a_sheet_is_attached_downloaded_and_taken_off(client: Client, ember: Glaze) -> None:
    file = SimpleUploadedFile("Safety sheet.pdf", PDF, content_type="text/html")
    assert client.post(reverse("sheet-attach", args=[ember.code]), {"file": file}).status_code == 302
    sheet = DataSheet.objects.get()
    answer = client.get(reverse("data-sheet", args=[ember.code, sheet.code]))
    assert answer.content == PDF
    assert answer.headers["Content-Disposition"].startswith("attachment")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    client.post(reverse("sheet-off", args=[ember.code, sheet.code]))
    assert not DataSheet.objects.exists()


@pytest.mark.parametrize(
    ("content", "sentence"),
    [(b"<html>", "is no PDF"), (b"", "empty"), (PDF + b"x" * MOST_SHEET_BYTES, "more than 5 MB")],
)
def test_what_is_no_small_pdf_is_refused(client: Client, ember: Glaze, content: bytes, sentence: str) -> None:
    file = SimpleUploadedFile("sheet.pdf", content)
    answer = client.post(reverse("sheet-attach", args=[ember.code]), {"file": file})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_there_is_room_for_a_few_sheets(client: Client, ember: Glaze) -> None:
    for number in range(MOST_SHEETS):
        file = SimpleUploadedFile(f"{number}.pdf", PDF)
        client.post(reverse("sheet-attach", args=[ember.code]), {"file": file})
    answer = client.post(
        reverse("sheet-attach", args=[ember.code]), {"file": SimpleUploadedFile("one more.pdf", PDF)}
    )
    assert answer.status_code == 422
    assert DataSheet.objects.count() == MOST_SHEETS


def test_a_helper_keeps_batches_and_says_nothing_of_layers(ember: Glaze) -> None:
    ivo, chalk = signed_in(factories.helper()), factories.glaze("Chalk")
    kept = ivo.post(reverse("batch-new", args=[ember.code]), {"name": "1", "made_on": "2026-01-05"})
    assert kept.status_code == 302
    said = ivo.post(reverse("layering-say", args=[ember.code]), {"under": chalk.code, "word": "good"})
    assert said.status_code == 404
