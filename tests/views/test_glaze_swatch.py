"""A swatch from a photo, and what is in hand of a glaze."""

from __future__ import annotations

import io

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from studio.actions.photos import add_photo, remove_photo
from studio.models import Glaze, GlazeBatch, Person, Photo
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


@pytest.fixture
def client(maud: Person) -> Client:
    return signed_in(maud)


@pytest.fixture
def chalk() -> Glaze:
    return factories.glaze("Chalk", colour="#ffffff")


def photo_of(glaze: Glaze, by: Person, colour: str = "#7a4c28", stage: str = "ready") -> Photo:
    piece = factories.piece(stage=stage)
    piece.glazes_on.create(surface="outside", glaze=glaze, put_on_at=factories.NOW)
    out = io.BytesIO()
    Image.new("RGB", (400, 300), colour).save(out, "JPEG", quality=92)
    return add_photo(piece=piece, data=out.getvalue(), by=by, client_id=factories.client_id())


def test_press_a_photo_where_the_glaze_shows(client: Client, maud: Person, chalk: Glaze) -> None:
    photo, raw = photo_of(chalk, maud), photo_of(chalk, maud, stage="glazed")
    url = reverse("glaze-swatch", args=[chalk.code])
    page = client.get(url).content.decode()
    assert photo.code in page
    assert raw.code not in page
    assert 'type="image"' in client.get(url, {"photo": photo.code}).content.decode()
    answer = client.post(url, {"photo": photo.code, "spot.x": "140", "spot.y": "105"})
    assert answer.status_code == 302
    chalk.refresh_from_db()
    assert (chalk.swatch, chalk.swatch_x_pct, chalk.swatch_y_pct) == (photo, 50, 50)
    assert all(
        abs(int(chalk.colour[at : at + 2], 16) - want) <= 4 for at, want in ((1, 122), (3, 76), (5, 40))
    )
    shown = reverse("photo", args=[photo.code, "thumb"])
    assert shown in client.get(reverse("glazes")).content.decode()
    assert shown in client.get(reverse("glaze", args=[chalk.code])).content.decode()
    remove_photo(photo=photo, by=maud)
    assert shown not in client.get(reverse("glazes")).content.decode()
    client.post(reverse("glaze-swatch-off", args=[chalk.code]))
    chalk.refresh_from_db()
    assert chalk.swatch is None


@pytest.mark.parametrize(
    "given",
    [{}, {"photo": "\x00"}, {"photo": "AAAAAAAA"}, {"spot.x": "a", "spot.y": "1"}, {"spot.x": "\x00"}],
)
def test_without_a_photo_or_a_spot_nothing_changes(
    client: Client, maud: Person, chalk: Glaze, given: dict[str, str]
) -> None:
    photo = photo_of(chalk, maud)
    given = given if "photo" in given or not given else {"photo": photo.code, **given}
    answer = client.post(reverse("glaze-swatch", args=[chalk.code]), given)
    assert answer.status_code == 422
    chalk.refresh_from_db()
    assert (chalk.swatch, chalk.colour) == (None, "#ffffff")


def test_pressed_by_a_key_or_beside_the_picture(client: Client, maud: Person, chalk: Glaze) -> None:
    photo = photo_of(chalk, maud)
    for x, y, found in (("0", "0", (50, 50)), ("9999", "-9", (100, 0))):
        client.post(
            reverse("glaze-swatch", args=[chalk.code]), {"photo": photo.code, "spot.x": x, "spot.y": y}
        )
        chalk.refresh_from_db()
        assert (chalk.swatch_x_pct, chalk.swatch_y_pct) == found


def test_what_is_in_hand_is_weighed_and_said_when_low(client: Client, chalk: Glaze) -> None:
    Glaze.objects.filter(pk=chalk.pk).update(low_at_g=500)
    batch = GlazeBatch.objects.create(glaze=chalk, name="11", made_on="2025-01-01", in_hand_g=900)
    GlazeBatch.objects.create(glaze=chalk, name="12", made_on="2025-02-01", in_hand_g=100)
    page = client.get(reverse("glazes")).content.decode()
    assert "1000 g in hand." in page
    assert "Running low" not in page
    url = reverse("batch-weigh", args=[chalk.code, batch.code])
    client.post(url, {"in_hand_g": "250"})
    page = client.get(reverse("glazes")).content.decode()
    assert "350 g in hand." in page
    assert "Running low" in page
    for wrong in ("much", "-1", "\x00", "99999999"):
        assert "whole grams" in client.post(url, {"in_hand_g": wrong}, follow=True).content.decode()
    batch.refresh_from_db()
    assert batch.in_hand_g == 250
    client.post(reverse("batch-finish", args=[chalk.code, batch.code]))
    assert "is used up" in client.post(url, {"in_hand_g": "3"}, follow=True).content.decode()


def test_students_and_helpers_take_no_swatch(maud: Person, chalk: Glaze) -> None:
    for person in (factories.helper(), factories.student()):
        assert signed_in(person).get(reverse("glaze-swatch", args=[chalk.code])).status_code == 404
