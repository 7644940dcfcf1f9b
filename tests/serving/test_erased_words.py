"""What SQLite keeps in its file: after somebody is erased, not a byte of their name in database or journal.

SQLite leaves deleted words in free pages until it uses them again, and old pages in its write-ahead log
until that is cut off (sqlite.org: "VACUUM", "Write-Ahead Logging"). PostgreSQL has no file of that kind.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connection, transaction
from django.urls import reverse

from studio.actions import erasing, retention
from studio.actions.enrolments import leave
from studio.models import Event, Person, Piece
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db(transaction=True)

FIRST, LAST, EMAIL = "Ysolde", "Quennebec", "ysolde.q@elsewhere.example"
#: What somebody wrote of her, long enough to fill pages of its own (4096 bytes each).
SAID = f"{FIRST} {LAST} likes the wheel by the window. " * 300


def files() -> Iterator[Path]:
    """The database's file and what SQLite keeps beside it."""
    main = Path(str(connection.settings_dict["NAME"]))
    yield from (path for path in main.parent.glob(f"{main.name}*") if path.is_file())


def left_over(*words: str) -> list[str]:
    """``file: word`` for each of these that stands anywhere in the bytes on the disk."""
    return [
        f"{path.name}: {word}"
        for path in files()
        for word in words
        if word.encode().lower() in path.read_bytes().lower()
    ]


def somebody_who_left() -> tuple[Person, Person]:
    """Maud, and Ysolde with pieces, notes, a class and a device, who has gone."""
    factories.studio()
    maud = factories.tutor()
    ysolde = factories.student(FIRST, last_name=LAST, email=EMAIL, notes=SAID[:500])
    row = factories.enrolment(ysolde, factories.course())
    signed_in(ysolde).get("/my/devices/")
    for number in range(30):
        piece = factories.piece(maker=ysolde, stage="collected", notes=SAID[:2000])
        Event.objects.filter(piece=piece).update(note=f"{FIRST} {LAST}, {number}")
    leave(enrolment=row, by=maud)
    Person.objects.filter(pk=ysolde.pk).update(left_at=factories.NOW)
    ysolde.refresh_from_db()
    return maud, ysolde


def test_the_words_are_on_the_disk_before_and_not_after(caplog: Any) -> None:
    maud, ysolde = somebody_who_left()
    words = (FIRST, LAST, EMAIL)
    assert {found.partition(": ")[2] for found in left_over(*words)} == set(words)
    browser = signed_in(maud)
    answer = browser.post(reverse("person-erase", args=[ysolde.code]), {"sure": "on"})
    assert answer.status_code == 302
    assert left_over(*words) == []
    assert Piece.objects.count() == 30
    for path in settings.VAR.rglob("*"):
        if path.is_file():
            assert LAST.encode() not in path.read_bytes(), path


def test_without_the_cleaning_they_would_still_be_there(monkeypatch: Any) -> None:
    """So that the test above can fail: deleting alone leaves the words in the file."""
    maud, ysolde = somebody_who_left()
    monkeypatch.setattr(erasing, "clean_database_file", lambda: None)
    erasing.erase_person(person=ysolde, by=maud)
    assert left_over(LAST)


def test_what_could_not_be_cleaned_at_once_is_by_the_next_daily_run() -> None:
    """Inside a larger transaction, as here, or while somebody else writes, SQLite can't rewrite its file."""
    maud, ysolde = somebody_who_left()
    with transaction.atomic():
        erasing.erase_person(person=ysolde, by=maud)
    assert left_over(LAST)
    retention.daily_run()
    assert left_over(FIRST, LAST, EMAIL) == []
