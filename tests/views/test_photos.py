"""Photo files go to whoever may see their piece, and to nobody else."""

from __future__ import annotations

import io

import pytest
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse
from PIL import Image

from studio.actions.photos import add_photo
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def photo():
    piece = factories.piece(maker=factories.student())
    data = io.BytesIO()
    Image.new("RGB", (900, 600), "#8b7c6c").save(data, "PNG")
    return add_photo(piece=piece, data=data.getvalue(), by=piece.maker, client_id=factories.client_id())


def signed_in(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.mark.parametrize(("size", "longest"), [("full", 900), ("thumb", 400)])
def test_the_file_is_the_jpeg_we_made(photo, size: str, longest: int) -> None:
    answer = signed_in(photo.piece.maker).get(reverse("photo", args=[photo.code, size]))
    picture = Image.open(io.BytesIO(b"".join(answer.streaming_content)))
    assert (picture.format, max(picture.size)) == ("JPEG", longest)
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Cache-Control"].startswith("private")
    assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")


def test_who_gets_it(photo) -> None:
    url = reverse("photo", args=[photo.code, "full"])
    ruth = factories.guardian()
    assert signed_in(factories.tutor()).get(url).status_code == 200
    assert signed_in(factories.helper()).get(url).status_code == 200
    stranger = signed_in(factories.student("Tobias"))
    assert stranger.get(url).status_code == 404
    assert stranger.get(url).content == stranger.get(url.replace(photo.code, "ZZZZZZZZ")).content
    assert signed_in(ruth).get(url).status_code == 404
    photo.piece.maker.guardian = ruth
    photo.piece.maker.save()
    assert signed_in(ruth).get(url).status_code == 200
    assert Client().get(url).url.startswith(reverse("sign-in"))
    assert signed_in(photo.piece.maker).post(url).status_code == 405


def test_absent_sizes_codes_and_files_are_absent(photo) -> None:
    maud = signed_in(factories.tutor())
    for path in ("photos/../full.jpg", f"photos/{photo.code}/huge.jpg", f"photos/{photo.code}/full.png"):
        assert maud.get(f"/{path}").status_code == 404
    default_storage.delete(photo.file)
    assert maud.get(reverse("photo", args=[photo.code, "full"])).status_code == 404


def test_a_photo_taken_off_is_served_no_more(photo) -> None:
    maud = signed_in(factories.tutor())
    maud.post(reverse("photo-remove", args=[photo.code]))
    assert maud.get(reverse("photo", args=[photo.code, "full"])).status_code == 404
    for name in ("photo-remove", "photo-restore"):
        assert maud.get(reverse(name, args=[photo.code])).status_code == 405
        assert maud.post(reverse(name, args=["ZZZZZZZZ"])).status_code == 404
