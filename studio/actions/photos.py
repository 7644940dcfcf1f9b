"""Photos of pieces: stored as a file first and a row second, so that no row is ever without its file."""

from __future__ import annotations

import errno
import logging
import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction

from studio.domain.say import say
from studio.domain.stages import Stage
from studio.imaging.photos import ReadyPhoto, store_ready
from studio.models import Firing, Person, Photo, Piece
from studio.models.base import public_code

from .common import answers_for, clean_client_id, happened_at, moment, refuse
from .pieces_events import hold_piece

logger = logging.getLogger(__name__)

MOST_PHOTOS = 60
#: A file younger than this may belong to a row that is being written.
_GRACE = timedelta(hours=1)
#: A removed photo can be put back for so long; then its file goes too.
KEPT_AFTER_REMOVAL = timedelta(days=30)


def add_photo(
    *,
    piece: Piece,
    data: bytes | ReadyPhoto,
    by: Person,
    client_id: str,
    taken_at: datetime | None = None,
    firing: Firing | None = None,
    is_sketch: bool = False,
    now: datetime | None = None,
) -> Photo:
    """Keep a photo of a piece at its present stage. ``data`` are the uploaded bytes, hostile until
    re-encoded.

    In order: who and what is checked; the photo is made safe, outside any lock; both files are written whole;
    then, with the piece held, the row. What breaks off leaves at most files without a row, which
    `sweep_photos` removes. The same client id again returns the first photo. A member adds photos of their
    own pieces. Raises `Refused` for anything that is no photo.
    """
    now = moment(now)
    client_id = clean_client_id(client_id)
    if not answers_for(by, piece.maker):
        refuse("not-yours", say("You can add photos of your own pieces."))
    if done := _repeated(client_id, piece):
        return done
    taken_at = happened_at(taken_at, now, label=say("time of the photo"))
    _check_room(piece)
    ready = data if isinstance(data, ReadyPhoto) else store_ready(data)
    code = public_code()
    written: list[str] = []
    try:
        for suffix, jpeg in (("", ready.full_jpeg), ("-small", ready.thumb_jpeg)):
            written.append(_write(f"{now:%Y/%m}/{code}{suffix}.jpg", jpeg))
        with transaction.atomic():
            held = hold_piece(piece)
            if done := _repeated(client_id, held):
                _delete(written)
                return done
            _check_room(held)
            return Photo.objects.create(
                code=code,
                piece=held,
                stage=held.stage,
                firing=firing,
                taken_at=taken_at,
                by=by,
                file=written[0],
                thumb=written[1],
                width_px=ready.width_px,
                height_px=ready.height_px,
                sha256=ready.sha256,
                client_id=client_id,
                is_sketch=is_sketch,
            )
    except BaseException:
        _delete(written)
        raise


@transaction.atomic
def remove_photo(*, photo: Photo, by: Person, now: datetime | None = None) -> Photo:
    """Show a photo no more; it can be put back for 30 days. Staff, and whoever added it."""
    now = moment(now)
    row = Photo.with_removed.select_for_update(no_key=True).get(pk=photo.pk)
    _check_may_change(row, by)
    if row.removed_at is None:
        row.removed_at = now
        row.save(update_fields=["removed_at"])
    return row


@transaction.atomic
def restore_photo(*, photo: Photo, by: Person, now: datetime | None = None) -> Photo:
    """Undo the removal of a photo."""
    row = Photo.with_removed.select_for_update(no_key=True).filter(pk=photo.pk).first()
    if row is None:
        refuse("photo-gone", say("This photo was removed too long ago to be put back."))
    _check_may_change(row, by)
    if row.removed_at is not None:
        _check_room(row.piece)
        row.removed_at = None
        row.save(update_fields=["removed_at"])
    return row


@dataclass(frozen=True, slots=True)
class Swept:
    """Removed rows deleted for good, files without a row deleted, and codes of photos without their file."""

    rows: int
    files: int
    without_file: tuple[str, ...]


def sweep_photos(*, now: datetime | None = None) -> Swept:
    """Delete for good what was removed 30 days ago, and files an hour old that no row names.

    Photos whose file is missing are reported, not touched: they are looked for in the backup.
    """
    now = moment(now)
    rows, _ = Photo.with_removed.filter(removed_at__lt=now - KEPT_AFTER_REMOVAL).delete()
    # Files are listed before rows: one written meanwhile is too young to go, one seen has its row by then.
    found = list(_stored())
    named = {
        name: code
        for code, file, thumb in Photo.with_removed.values_list("code", "file", "thumb")
        for name in (file, thumb)
    }
    deleted = 0
    for name in found:
        if name in named:
            continue
        with suppress(FileNotFoundError):
            if default_storage.get_modified_time(name) < now - _GRACE:
                default_storage.delete(name)
                deleted += 1
    missing = {code for name, code in named.items() if name not in found and not default_storage.exists(name)}
    return Swept(rows, deleted, tuple(sorted(missing)))


def _repeated(client_id: str, piece: Piece) -> Photo | None:
    done = Photo.with_removed.filter(client_id=client_id).first()
    if done is not None and done.piece_id != piece.pk:
        refuse("page-used", say("This page has been sent before, for something else. Load it again first."))
    return done


def _check_room(piece: Piece) -> None:
    if Stage(piece.stage) == Stage.WITHDRAWN:
        refuse(
            "ended",
            say("{mark} was entered by mistake. Enter it anew first.", mark=piece.mark),
            about=piece.mark,
        )
    if Photo.with_removed.filter(piece=piece, removed_at__isnull=True).count() >= MOST_PHOTOS:
        refuse(
            "too-many-photos",
            say(
                "{mark} has {most_photos} photos, as many as one piece can have. Remove one first.",
                mark=piece.mark,
                most_photos=MOST_PHOTOS,
            ),
            about=piece.mark,
        )


def _check_may_change(photo: Photo, by: Person) -> None:
    if not by.is_staff_member and photo.by_id != by.pk:
        refuse("not-yours", say("You can remove the photos that you added yourself."))


def _write(name: str, jpeg: bytes) -> str:
    try:
        return _write_whole(name, jpeg)
    except OSError as error:
        logger.error("A photo could not be written: %s", error)
        full = say("is full") if error.errno in {errno.ENOSPC, errno.EDQUOT} else say("does not take it")
        refuse(
            "photo-not-kept",
            say(
                "The disk of the studio's computer {full}, so no photo can be kept. Go on without a "
                "photo, and tell whoever looks after the computer.",
                full=full,
            ),
        )


def _write_whole(name: str, jpeg: bytes) -> str:
    name = default_storage.save(name, ContentFile(jpeg))
    with suppress(NotImplementedError):  # storage elsewhere has no path, and keeps what it has taken
        handle = os.open(default_storage.path(name), os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    return name


def _delete(names: list[str]) -> None:
    for name in names:
        default_storage.delete(name)


def _stored(folder: str = "") -> Iterator[str]:
    try:
        folders, files = default_storage.listdir(folder)
    except FileNotFoundError:
        return
    for name in files:
        yield f"{folder}/{name}" if folder else name
    for name in folders:
        yield from _stored(f"{folder}/{name}" if folder else name)
