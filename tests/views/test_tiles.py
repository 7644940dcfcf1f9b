"""Pages of test tiles: planned with everything kept when refused, the grid, and one tile with its photo."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from studio.models import Person, TileSeries
from tests import factories
from tests.journeys import walk
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


@pytest.fixture
def client(maud: Person) -> Client:
    return signed_in(maud)


def typed(**changed: object) -> dict[str, object]:
    return {
        "name": "Iron in Chalk",
        "kind": "addition",
        "bases": [factories.glaze("Chalk").code],
        "addition": "red iron oxide",
        "first": "0",
        "last": "2,5",
        "count": "3",
        "dry_g": "100",
        "clay": factories.clay().code,
        "cone": "6",
        "width_mm": "5",
        "depth_mm": "4",
        "height_mm": "8",
        "notes": "As thin as milk",
        "client_id": factories.client_id(),
        **changed,
    }


def test_a_series_is_planned_once_and_says_what_to_scratch_and_weigh(client: Client) -> None:
    given = typed()
    for _ in range(2):
        answer = client.post(reverse("tile-series-new"), given)
        assert answer.status_code == 302
    series = TileSeries.objects.get()
    page = client.get(answer.url).content.decode()
    for tile in series.tiles.select_related("piece"):
        assert tile.piece.mark in page
    for words in ("Chalk with 1.25 % red iron oxide", "2.5 %", "As thin as milk", "says nothing of food"):
        assert words in page
    assert "Iron in Chalk" in client.get(reverse("tiles")).content.decode()


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"addition": ""}, "Say what is added"),
        ({"kind": "blend"}, "Choose the glaze that it is blended with."),
        ({"last": "0"}, "The last step must be more than the first one."),
        ({"cone": "99"}, "There is no cone 99."),
        ({"count": "40"}, "field--wrong"),
        ({"bases": []}, "field--wrong"),
        ({"kind": "\x00"}, "field--wrong"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(
    client: Client, changed: dict[str, object], sentence: str
) -> None:
    answer = client.post(reverse("tile-series-new"), typed(**changed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "As thin as milk" in page
    assert not TileSeries.objects.exists()


def test_the_tiles_of_a_blend_run_from_one_colour_to_the_other(client: Client) -> None:
    fern, blue = factories.glaze("Fern"), factories.glaze("Mere")
    for glaze, colour in ((fern, "#5a8052"), (blue, "#44547e")):
        glaze.colour = colour
        glaze.save()
    given = typed(kind="blend", bases=[fern.code], blended_with=blue.code, addition="", last="100")
    grid = client.get(client.post(reverse("tile-series-new"), given).url).content.decode()
    assert re.findall(r'fill="(#[0-9a-f]{6})"', grid) == ["#5a8052", "#4f6a68", "#44547e"]


def test_a_tile_is_noted_with_its_photo_and_the_grid_shows_both(client: Client) -> None:
    series = factories.tile_series()
    url = reverse("test-tile", args=[series.code, 2])
    given = {
        "seen": "Breaks amber",
        "liked": "on",
        "photo": SimpleUploadedFile("tile.jpg", walk.picture()),
        "client_id": factories.client_id(),
    }
    assert client.post(url, given).status_code == 302
    photo = series.tiles.get(place=2).piece.photos.get()
    grid = client.get(reverse("tile-series", args=[series.code])).content.decode()
    for words in ("Breaks amber", "Go on with it", reverse("photo", args=[photo.code, "thumb"])):
        assert words in grid
    assert "Breaks amber" in client.get(url).content.decode()
    wrong = client.post(url, {**given, "photo": SimpleUploadedFile("x.jpg", b"<script>")})
    assert wrong.status_code == 422
    assert "Breaks amber" in wrong.content.decode()
    assert client.get(reverse("test-tile", args=[series.code, 9])).status_code == 404


def test_moved_on_together_or_told_why_not(client: Client) -> None:
    series = factories.tile_series()
    url = reverse("tile-series-move", args=[series.code])
    page = client.post(url, {"to": "bone-dry", "client_id": factories.client_id()}, follow=True)
    assert "3 tiles moved on." in page.content.decode()
    for to, sentence in (("bisqued", "No tile of this series"), ("\x00", "stage"), ("", "stage")):
        page = client.post(url, {"to": to, "client_id": factories.client_id()}, follow=True)
        assert sentence in page.content.decode()


def test_a_student_sees_no_tiles(maud: Person) -> None:
    series = factories.tile_series()
    ines, ivo = signed_in(factories.student()), signed_in(factories.helper())
    for name, args in (("tiles", []), ("tile-series", [series.code]), ("test-tile", [series.code, 1])):
        assert ines.get(reverse(name, args=args)).status_code == 404
        assert ivo.get(reverse(name, args=args)).status_code == 200
    assert ivo.post(reverse("tile-series-new"), typed()).status_code == 404


def test_few_tiles_or_many_ask_the_database_equally_often(
    client: Client, django_assert_max_num_queries: object
) -> None:
    few = factories.tile_series(count=2)
    many = factories.tile_series(
        bases=[factories.glaze() for _ in range(4)], count=8, random=None, name="Many"
    )
    client.get(reverse("tiles"))
    for series in (few, many):
        with django_assert_max_num_queries(18):
            client.get(reverse("tile-series", args=[series.code]))
        with django_assert_max_num_queries(20):
            client.get(reverse("test-tile", args=[series.code, 1]))


def test_a_slip_of_a_tile_is_printed_only_when_asked_for(client: Client) -> None:
    series = factories.tile_series()
    piece = series.tiles.first().piece
    assert piece.code not in client.get(reverse("slips")).content.decode()
    assert piece.code in client.get(reverse("slips"), {"p": piece.code}).content.decode()


def test_a_tiles_page_as_a_piece_leads_to_its_series(client: Client) -> None:
    series = factories.tile_series()
    tile = series.tiles.get(place=2)
    page = client.get(reverse("piece", args=[tile.piece.code])).content.decode()
    assert reverse("test-tile", args=[series.code, 2]) in page
    other = factories.piece(studios_own=True)
    assert "Test tile" not in client.get(reverse("piece", args=[other.code])).content.decode()
