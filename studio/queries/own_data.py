"""All that is kept about one person, as files to take along: tables as JSON and CSV, papers and photos."""

from __future__ import annotations

import json
import tempfile
import zipfile
from collections.abc import Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import IO, Any

from django.core.files.storage import default_storage
from django.db import models

from studio.domain.say import date_words, say
from studio.models import Person, Photo, Role, StatementFile, Studio

from . import csv_tables, personal

Row = dict[str, Any]

#: Columns that are keys and not about anybody.
_KEYS = ("secret", "token", "hash", "password", "session_key", "client_id", "sha256", "lease_", "public_key")
_NOT_SHOWN = {
    "id",
    "key",
    "message_id",
    "sent_html",
    "handed_over",
    "file",
    "thumb",
    "credential_id",
    "sign_count",
}
#: Kept in memory up to here, then in a file that goes when it is closed.
_IN_MEMORY = 2 * 1024 * 1024
_CHUNK = 256 * 1024


def sees_sums(person: Person) -> bool:
    """A helper sees no money anywhere, not even their own: the tutor tells them."""
    return person.role != Role.HELPER


def sections(person: Person) -> Iterator[tuple[str, list[Row]]]:
    """The tables of the export in order: name, rows. Empty ones are left out, sums from a helper's."""
    yield "you", [_shown(person, person)]
    found: dict[str, list[Row]] = {}
    for model, field, rule, of_piece in personal.rules():
        if not rule.section or (rule.money and not sees_sums(person)):
            continue
        linked = [each.name for each in model._meta.fields if each.is_relation]
        rows = personal.rows_of(model, field, person, of_piece).select_related(*linked).order_by("pk")
        found.setdefault(rule.section, []).extend(_shown(row, person) for row in rows)
    yield from ((name, rows) for name, rows in sorted(found.items()) if rows)


def _shown(row: models.Model, person: Person) -> Row:
    """A row as name and value; of other people only what they are to the studio."""
    shown: Row = {}
    for field in row._meta.fields:
        name = field.name
        if name in _NOT_SHOWN or any(part in name for part in _KEYS):
            continue
        if isinstance(field, models.BinaryField | models.JSONField):
            continue
        shown[name] = _value(getattr(row, name), person)
    return shown


def _value(value: object, person: Person) -> object:
    if isinstance(value, Person):
        return person.full_name if value.pk == person.pk else _somebody(value, person)
    if isinstance(value, models.Model):
        return _words_of(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="seconds")
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value


def _somebody(other: Person, person: Person) -> str:
    if other.pk == person.guardian_id:
        return say("your guardian")
    if other.guardian_id == person.pk:
        return other.first_name
    return {Role.TUTOR: say("the tutor"), Role.HELPER: say("a helper")}.get(
        Role(other.role), say("somebody else")
    )


def _words_of(row: models.Model) -> str:
    """What another row is called, without the names of the people in it."""
    if starts_at := getattr(row, "starts_at", None):
        return starts_at.astimezone(UTC).isoformat(timespec="minutes")
    for column in ("mark", "number", "name", "code"):
        if value := getattr(row, column, None):
            return str(value)
    return row._meta.verbose_name


def table_csv(rows: list[Row]) -> str:
    """One table for a spreadsheet, with a byte order mark; no cell is taken for a formula."""
    columns = list(dict.fromkeys(name for row in rows for name in row))
    cells = ([csv_tables.cell(row.get(name)) for name in columns] for row in rows)
    return f"\ufeff{csv_tables.written([columns, *cells])}"


def make_zip(person: Person, *, now: datetime) -> IO[bytes]:
    """The whole export, as an open file at its beginning; it is gone once closed.

    Names in it are plain: ``charges.json``, ``charges.csv``, ``photos/K7H-….jpg``, ``statements/12.pdf``.
    """
    out: IO[bytes] = tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115 - the answer closes it
    studio = Studio.the()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        tables = dict(sections(person))
        archive.writestr(say("READ ME.txt"), _read_me(person, studio, now, list(tables)))
        archive.writestr("all.json", json.dumps(tables, indent=1, ensure_ascii=False))
        for name, rows in tables.items():
            archive.writestr(f"{name}.csv", table_csv(rows))
        if sees_sums(person):
            for paper in StatementFile.objects.filter(statement__person=person).select_related("statement"):
                archive.writestr(f"statements/{paper.statement.number}.pdf", bytes(paper.data))
        for photo in Photo.with_removed.filter(piece__maker=person).select_related("piece"):
            _copy_photo(archive, photo)
    out.seek(0)
    return out


def _copy_photo(archive: zipfile.ZipFile, photo: Photo) -> None:
    try:
        stored = default_storage.open(photo.file)
    except FileNotFoundError:
        return
    # A JPEG does not shrink.
    entry = zipfile.ZipInfo(f"photos/{photo.piece.mark}-{photo.code}.jpg", (1980, 1, 1, 0, 0, 0))
    with stored, archive.open(entry, "w") as copy:
        while part := stored.read(_CHUNK):
            copy.write(part)


def _read_me(person: Person, studio: Studio, now: datetime, names: list[str]) -> str:
    sums = say("Sums are not in it: ask the tutor for yours.\n") if not sees_sums(person) else ""
    return (
        say(
            "What {name} keeps about {full_name}, {astimezone}.\n\nall.json holds every table, for "
            "a program. The CSV files hold the same, for a spreadsheet.\nphotos/ holds the photos "
            "of the pieces, statements/ the statements as they were given out.\nSums are whole "
            "pence, cents or the like; lengths are millimetres; times are UTC.\n{sums}Of other "
            "people only what they are to the studio is said. Copies in the studio's backups go "
            "when\nthose are overwritten.\n\nTables: ",
            name=studio.name,
            full_name=person.full_name,
            astimezone=date_words(now.astimezone(studio.zone), "j F Y"),
            sums=sums,
        )
        + ", ".join(names)
        + ".\n"
    )
