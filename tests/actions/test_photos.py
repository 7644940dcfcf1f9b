"""Photos: file first, row second; hostile bytes refused in words; orphans swept; removal undone."""

import contextlib
import io
import os
import random
import sqlite3
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from PIL import Image

from studio.actions import photos
from studio.actions.photos import add_photo, remove_photo, restore_photo, sweep_photos
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.imaging.photos import store_ready
from studio.models import Photo
from tests import factories

pytestmark = pytest.mark.django_db
NOW = factories.NOW


def jpeg(width: int = 640, height: int = 480, colour: str = "#8a6a4a") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), colour).save(out, "JPEG")
    return out.getvalue()


def stored() -> list[str]:
    return sorted(photos._stored())


def add(piece=None, **values: object) -> Photo:
    piece = piece or factories.piece()
    values = {"data": jpeg(), "by": factories.helper(), "client_id": factories.client_id(), **values}
    return add_photo(piece=piece, now=NOW, **values)


def test_a_photo_is_kept_re_encoded_with_its_small_one_at_the_piece_s_stage() -> None:
    photo = add(factories.piece(stage=Stage.BISQUED))
    assert (photo.stage, photo.width_px, photo.height_px) == (Stage.BISQUED, 640, 480)
    assert stored() == sorted([photo.file, photo.thumb])
    with default_storage.open(photo.thumb) as file:
        assert max(Image.open(file).size) == 400


def test_the_same_photo_sent_twice_is_one() -> None:
    piece, sent = factories.piece(), factories.client_id()
    assert add(piece, client_id=sent) == add(piece, client_id=sent)
    assert len(stored()) == 2
    with pytest.raises(Refused, match="sent before"):
        add(client_id=sent)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"%PDF-1.7 not a photo at all", "not a photo we can read"),
        (jpeg()[:700], "damaged|not a photo"),
        (b"\xff\xd8\xff" + random.Random(1).randbytes(4000), "not a photo|damaged"),
        (b"x" * (25 * 1024 * 1024 + 1), "larger than 25 MB"),
    ],
    ids=["empty", "a PDF", "cut short", "noise", "too large"],
)
def test_what_is_no_photo_is_refused_in_a_plain_sentence_and_nothing_is_kept(data: bytes, words: str) -> None:
    with pytest.raises(Refused, match=words):
        add(data=data)
    assert stored() == []
    assert not Photo.with_removed.exists()


def test_members_add_and_remove_photos_of_their_own_pieces_only() -> None:
    sam = factories.young_person()
    theirs = factories.piece(maker=sam)
    photo = add(theirs, by=sam.guardian)
    tobias = factories.student("Tobias")
    with pytest.raises(Refused, match="your own pieces"):
        add(theirs, by=tobias)
    with pytest.raises(Refused, match="added yourself"):
        remove_photo(photo=photo, by=tobias)
    assert remove_photo(photo=photo, by=sam.guardian, now=NOW).removed_at == NOW


def test_a_removed_photo_is_not_shown_and_can_be_put_back_for_a_month() -> None:
    tutor, photo = factories.tutor(), add()
    remove_photo(photo=photo, by=tutor, now=NOW)
    assert list(photo.piece.photos.all()) == []
    sweep_photos(now=NOW + timedelta(days=29))
    restore_photo(photo=photo, by=tutor)
    assert list(photo.piece.photos.all()) == [photo]
    remove_photo(photo=photo, by=tutor, now=NOW)
    later = max(NOW, photos.moment(None)) + timedelta(days=31)
    swept = sweep_photos(now=later)
    assert (swept.rows, swept.files, swept.without_file) == (1, 2, ())
    assert stored() == []
    with pytest.raises(Refused, match="too long ago"):
        restore_photo(photo=photo, by=tutor)


def test_times_ahead_and_too_many_photos_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    piece = factories.piece()
    with pytest.raises(Refused, match="in the future"):
        add(piece, taken_at=NOW + timedelta(days=2))
    monkeypatch.setattr(photos, "MOST_PHOTOS", 1)
    add(piece, taken_at=NOW - timedelta(hours=3))
    with pytest.raises(Refused, match="Remove one first"):
        add(piece)
    assert len(stored()) == 2


class Broken(BaseException):
    """Whatever stops a process at one step."""


@pytest.mark.parametrize("step", ["before the files", "between the files", "before the row", "after the row"])
def test_stopped_at_any_step_no_row_is_without_its_file(step: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stop that runs no clean-up: deleting what was written is switched off too."""
    monkeypatch.setattr(photos, "_delete", lambda names: None)
    write, hold = photos._write, photos.hold_piece
    written = []

    def stop_write(name: str, data: bytes) -> str:
        if (step, len(written)) in {("before the files", 0), ("between the files", 1)}:
            raise Broken
        written.append(write(name, data))
        return written[-1]

    def stop_hold(piece):
        if step == "before the row":
            raise Broken
        return hold(piece)

    monkeypatch.setattr(photos, "_write", stop_write)
    monkeypatch.setattr(photos, "hold_piece", stop_hold)
    if step == "after the row":
        create = Photo.objects.create

        def stop_create(**values: object) -> None:
            create(**values)
            raise Broken

        monkeypatch.setattr(Photo.objects, "create", stop_create)
    with pytest.raises(Broken):
        add()
    assert not Photo.with_removed.exists()
    files = len(stored())
    assert files == {"before the files": 0, "between the files": 1}.get(step, 2)
    assert sweep_photos(now=photos.moment(None)).files == 0, "a file just written may belong to a row to come"
    swept = sweep_photos(now=photos.moment(None) + timedelta(hours=2))
    assert (swept.files, swept.without_file, stored()) == (files, (), [])


def test_the_sweep_leaves_what_has_a_row_and_names_what_has_lost_its_file() -> None:
    kept, lost = add(), add()
    default_storage.delete(lost.file)
    later = photos.moment(None) + timedelta(hours=2)
    assert sweep_photos(now=later).without_file == (lost.code,)
    assert set(stored()) == {kept.file, kept.thumb, lost.thumb}
    with pytest.raises(CommandError, match=f"1 photos have no file: {lost.code}"):
        call_command("sweep_photos")


_STORES_FOREVER = """
import sys, uuid, django
django.setup()
from studio.actions.photos import add_photo
from studio.imaging.photos import ReadyPhoto
from studio.models import Person, Piece
data = open(sys.argv[1], "rb").read()
ready = ReadyPhoto(data, data[: len(data) // 3], 1200, 900, "0" * 64)
tutor, pieces = Person.objects.get(), list(Piece.objects.all())
print("on", flush=True)
while True:
    for piece in pieces:
        add_photo(piece=piece, data=ready, by=tutor, client_id=str(uuid.uuid4()))
"""

_PREPARES = """
import django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from tests import factories
factories.tutor()
for _ in range(20):
    factories.piece(nobodys=True)
"""


def test_a_process_killed_at_random_leaves_no_row_without_both_files(tmp_path: Path) -> None:
    """SIGKILL to processes that store photos in a studio of their own; then rows and files are compared."""
    env = {
        **{name: value for name, value in os.environ.items() if not name.startswith("WAREBOARD_")},
        "WAREBOARD_VAR": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "PYTHONPATH": str(Path(__file__).parents[2]),
    }
    (tmp_path / "photo.jpg").write_bytes(store_ready(jpeg(1200, 900)).full_jpeg * 20)
    subprocess.run([sys.executable, "-c", _PREPARES], env=env, check=True)
    chance = random.Random(22)
    for _ in range(5):
        child = subprocess.Popen(
            [sys.executable, "-c", _STORES_FOREVER, str(tmp_path / "photo.jpg")],
            env=env,
            stdout=subprocess.PIPE,
        )
        assert child.stdout.readline() == b"on\n"
        time.sleep(chance.uniform(0.01, 0.25))
        child.kill()
        child.wait()
        child.stdout.close()
    with contextlib.closing(sqlite3.connect(tmp_path / "wareboard.sqlite3")) as database:
        rows = database.execute("SELECT file, thumb FROM studio_photo").fetchall()
    size = (tmp_path / "photo.jpg").stat().st_size
    assert rows
    for file, thumb in rows:
        assert (tmp_path / "photos" / file).stat().st_size == size
        assert (tmp_path / "photos" / thumb).stat().st_size == size // 3
