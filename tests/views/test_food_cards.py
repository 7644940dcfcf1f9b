"""Cards about food to print: a sheet of them, one for its maker, none for a stranger."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from studio.models import Piece
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


def ready(**values: object) -> Piece:
    piece = factories.piece(stage="ready", **values)
    glaze = factories.glaze("Tin Lustre", metallic=True)
    piece.glazes_on.create(surface="rim", glaze=glaze, put_on_at=timezone.now())
    return piece


def test_a_sheet_of_cards_for_what_is_ready() -> None:
    factories.studio()
    client = signed_in(factories.helper())
    piece = ready(maker=factories.student())
    wet = factories.piece(stage="wet")
    series = factories.tile_series(by=factories.tutor())
    tile = series.tiles.first().piece
    Piece.objects.filter(pk=tile.pk).update(stage="ready")
    page = client.get(reverse("food-cards"), {"p": wet.code}).content.decode()
    assert piece.mark in page
    assert "Decorative only" in page
    assert wet.code not in page
    assert tile.code not in page
    sheet = client.get(reverse("food-cards-sheet"), {"p": piece.code})
    words = sheet.content.decode()
    for each in (
        "Decorative only",
        "Tin Lustre is on the rim",
        "This is advice, not a promise.",
        "sheet-svg",
    ):
        assert each in words
    assert "Ines" not in words.split("<main")[1]
    assert "sheet_cards" in sheet.cookies


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [({}, "Nothing was chosen"), ({"rows": 12}, "A card that can be read needs 62 × 45 mm.")],
)
def test_what_cannot_be_printed_says_why(asked: dict[str, object], sentence: str) -> None:
    client = signed_in(factories.tutor())
    piece = ready()
    answer = client.get(reverse("food-cards-sheet"), asked and {"p": piece.code, **asked})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_the_card_of_ones_own_piece() -> None:
    factories.studio()
    ines = factories.student()
    piece, unfired = ready(maker=ines), factories.piece(maker=ines, stage="glazed")
    mine, stranger = signed_in(ines), signed_in(factories.student("Tobias"))
    assert "Decorative only" in mine.get(reverse("piece-card", args=[piece.code])).content.decode()
    assert (
        reverse("piece-card", args=[piece.code])
        in mine.get(reverse("piece", args=[piece.code])).content.decode()
    )
    assert mine.get(reverse("piece-card", args=[unfired.code])).status_code == 404
    assert stranger.get(reverse("piece-card", args=[piece.code])).status_code == 404


def test_the_students_page_says_it_with_the_reason() -> None:
    factories.studio()
    ines = factories.student()
    ready(maker=ines)
    page = signed_in(ines).get(reverse("home")).content.decode()
    assert "decorative only" in page
    assert "Tin Lustre is on the rim" in page
    assert "a laboratory" in page


def test_one_card_or_thirty_ask_the_database_equally_often(django_assert_max_num_queries: object) -> None:
    client = signed_in(factories.tutor())
    glaze = factories.glaze("Chalk")
    pieces = [factories.piece(stage="ready") for _ in range(30)]
    for piece in pieces:
        piece.glazes_on.create(surface="rim", glaze=glaze, put_on_at=timezone.now())
    client.get(reverse("food-cards"))
    for codes in ([pieces[0].code], [piece.code for piece in pieces]):
        with django_assert_max_num_queries(22):
            assert client.get(reverse("food-cards-sheet"), {"p": codes}).status_code == 200
