"""When something under the studio breaks: an honest page, and a word for whoever watches the machine."""

from __future__ import annotations

import errno
import io
import re
from collections import namedtuple
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.storage import FileSystemStorage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError, connections
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from studio.models import Event, Photo, Piece, UnloadAnswer, WorkerBeat
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

SILENT = "The mail worker is silent"


@pytest.fixture
def maud() -> Client:
    factories.studio()
    client = signed_in(factories.tutor())
    client.raise_request_exception = False
    return client


def beat(minutes_ago: float) -> None:
    WorkerBeat.objects.update_or_create(
        name="mail:1", defaults={"at": timezone.now() - timedelta(minutes=minutes_ago)}
    )


def health() -> tuple[int, dict[str, Any]]:
    answer = Client().get("/health/")
    return answer.status_code, answer.json()


# The database gone


@pytest.fixture
def database_gone(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    def gone(*args: object, **named: object) -> None:
        raise OperationalError("could not connect to server: Connection refused")

    for name in ("cursor", "chunked_cursor"):
        monkeypatch.setattr(connections["default"], name, gone)
    return monkeypatch


@pytest.mark.parametrize("path", ["/", "/sign-in/", "/pieces/", "/never/was/", "/q/ABCDEFGHJK"])
@pytest.mark.parametrize("method", ["get", "post"])
def test_without_a_database_every_page_says_so_honestly(
    maud: Client, database_gone: pytest.MonkeyPatch, path: str, method: str
) -> None:
    answer = getattr(maud, method)(path)
    page = answer.content.decode()
    assert answer.status_code == 500
    assert "Something is broken here" in page
    assert "not your doing" in page
    assert "was not saved" in page
    assert page.rstrip().endswith("</html>")
    # The page tells nothing of what it runs on.
    assert not re.search(r"refused|Operational|Traceback|django|sql", page, re.IGNORECASE)


def test_the_page_for_what_is_broken_needs_nothing_else(maud: Client, database_gone: Any) -> None:
    """Its styles are files, its link leads to the first page; no picture of somebody's work, no name."""
    page = maud.get("/").content.decode()
    assert set(re.findall(r'(?:href|src)="([^"]+)"', page)) == {
        "/static/css/tokens.css",
        "/static/css/base.css",
        "/static/css/components.css",
        "/",
    }


def test_once_it_is_back_all_goes_on(maud: Client, database_gone: pytest.MonkeyPatch) -> None:
    assert maud.get("/").status_code == 500
    database_gone.undo()
    assert maud.get("/").status_code == 200


def test_health_says_that_the_database_is_gone(maud: Client, database_gone: Any) -> None:
    status, told = health()
    assert status == 503
    assert told["well"] is False
    assert "The database does not answer." in told["troubles"]


def test_health_says_that_tables_are_missing(maud: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(*args: object) -> None:
        raise OperationalError("no such table: studio_workerbeat")

    monkeypatch.setattr(WorkerBeat.objects, "order_by", missing)
    assert health()[0] == 503


# The mail worker dead


def test_all_is_well(maud: Client) -> None:
    beat(minutes_ago=1)
    status, told = health()
    assert (status, told["well"], told["troubles"]) == (200, True, [])
    assert told["database"].split()[0] in {"sqlite", "postgresql"}
    assert SILENT not in maud.get("/").content.decode()


@pytest.mark.parametrize("minutes_ago", [6, None], ids=["silent", "never started"])
def test_a_dead_worker_is_told_by_health_and_by_today(maud: Client, minutes_ago: float | None) -> None:
    if minutes_ago:
        beat(minutes_ago)
    status, told = health()
    assert status == 503
    assert told["troubles"] == ["No mail worker has reported for five minutes."]
    page = maud.get("/").content.decode()
    assert "No mail is going out" in page
    assert SILENT in page


def test_one_of_two_workers_is_enough(maud: Client) -> None:
    WorkerBeat.objects.create(name="mail:2", at=timezone.now() - timedelta(days=3))
    beat(minutes_ago=2)
    assert health()[0] == 200
    assert SILENT not in maud.get("/").content.decode()


def test_health_tells_no_names_and_no_counts(maud: Client) -> None:
    factories.piece()
    assert set(health()[1]) == {"well", "troubles", "database"}
    answer = Client().get("/health/")
    assert "no-store" in answer.headers["Cache-Control"]
    assert Client().head("/health/").status_code in {200, 503}
    assert Client().post("/health/").status_code == 405


# The disk full


def test_health_says_when_the_disk_is_nearly_full(maud: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    beat(minutes_ago=1)
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr("shutil.disk_usage", lambda path: usage(10**11, 10**11, 150 * 1024 * 1024))
    status, told = health()
    assert (status, told["troubles"]) == (503, ["The disk is nearly full."])


def photo() -> SimpleUploadedFile:
    data = io.BytesIO()
    Image.new("RGB", (64, 48), "#8b7c6c").save(data, "JPEG")
    return SimpleUploadedFile("bowl.jpg", data.getvalue(), "image/jpeg")


@pytest.fixture(params=[errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES], ids=errno.errorcode.get)
def disk(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """What the page says of a disk that takes nothing."""

    def save(self: object, name: str, content: object, **named: object) -> str:
        raise OSError(request.param, "of the disk")

    monkeypatch.setattr(FileSystemStorage, "_save", save)
    return "is full" if request.param in {errno.ENOSPC, errno.EDQUOT} else "does not take it"


def test_a_photo_that_finds_no_room_is_refused_in_a_sentence(maud: Client, disk: str) -> None:
    piece = factories.piece()
    url = reverse("piece-photo", args=[piece.code])
    answer = maud.post(url, {"photo": photo(), "client_id": factories.client_id()})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert f"disk of the studio’s computer {disk}" in page.replace("&#x27;", "’").replace("'", "’")
    assert Photo.with_removed.count() == 0


def test_a_new_piece_is_refused_whole_and_can_be_entered_without_its_photo(maud: Client, disk: str) -> None:
    words = {
        "client_id": factories.client_id(),
        "maker": "nobody",
        "form": "mug",
        "technique": "thrown",
        "clay": factories.clay().pk,
        "footprint": "round",
        "width": "9",
        "height": "10.5",
        "measured_stage": "wet",
        "use": "food",
        "route": "bisque-then-glaze",
        "notes": "A mug for the window",
    }
    answer = maud.post(reverse("piece-new"), {**words, "photo": photo()})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Go on without a photo" in page
    assert "A mug for the window" in page
    assert 'value="10.5"' in page
    assert Piece.objects.count() == 0
    assert maud.post(reverse("piece-new"), words).status_code == 302
    assert Piece.objects.count() == 1


def test_at_the_kiln_the_answer_stands_and_the_photo_is_spoken_of(maud: Client, disk: str) -> None:
    firing = factories.firing("unloading", pieces=2)
    place = firing.placements.first()
    answer = maud.post(
        reverse("unload", args=[firing.number]),
        {
            "place": place.piece.code,
            "outcome": "sound",
            "client_id": factories.client_id(),
            "photo": photo(),
        },
        follow=True,
    )
    page = answer.content.decode()
    assert "its photo was not kept" in page
    assert UnloadAnswer.objects.get().placement == place
    assert Event.objects.filter(kind="unloaded").count() == 1
    assert Photo.objects.count() == 0
