"""Erasing somebody: what stands in the way, what goes from every table and file, what stays for the books."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.files.storage import default_storage
from django.db import IntegrityError, connection, models, transaction

from studio.actions import erasing, money, people
from studio.actions.enrolments import leave
from studio.domain.problems import Refused
from studio.models import Charge, Device, Notice, Payment, Person, Photo, Piece, Statement, StatementFile
from studio.queries import erasing as queries
from studio.queries import own_data, personal
from studio.queries.money import balance
from tests import factories
from tests.views import world as worlds
from tests.views.world import World, signed_in

pytestmark = pytest.mark.django_db

#: Kept as they were given out, name and address and all.
RETAINED = {"Statement", "StatementLine", "StatementFile"}
NAME, EMAIL, PHONE = "Ysolde Quennebec", "ysolde.q@elsewhere.example", "01632 960 417"


@pytest.fixture
def world(settings: Any, tmp_path: Path) -> World:
    settings.EMAIL_FILE_PATH = str(tmp_path)
    worlds.keep_a_mail(tmp_path)
    return worlds.build()


def rename(person: Person) -> Person:
    """A name and address that nothing else in the studio has."""
    first, last = NAME.split()
    Person.objects.filter(pk=person.pk).update(first_name=first, last_name=last, email=EMAIL, phone=PHONE)
    person.refresh_from_db()
    return person


def rows() -> Iterator[tuple[str, models.Model]]:
    for model in apps.get_models(include_auto_created=True):
        for row in model._base_manager.all():
            yield model.__name__, row


def cells(row: models.Model) -> Iterator[tuple[str, str]]:
    for field in row._meta.fields:
        value = getattr(row, field.attname)
        if isinstance(value, memoryview | bytes):
            yield field.name, bytes(value).decode("utf-8", "replace")
        else:
            yield field.name, json.dumps(value, default=str, ensure_ascii=False)


def hits(*words: str) -> set[str]:
    """``Table.column`` of every cell of the whole database that holds one of these words."""
    return {
        f"{name}.{column}"
        for name, row in rows()
        if name not in RETAINED
        for column, text in cells(row)
        if any(word.lower() in text.lower() for word in words)
    }


def write_everywhere(person: Person) -> set[str]:
    """Their name and address in every column of words that there is, as somebody might have written them;
    the columns written in."""
    written = set()
    words = f"{NAME}, {EMAIL}, {PHONE}"
    for model in apps.get_app_config("studio").get_models():
        if model is Person or model.__name__ in RETAINED:
            continue
        for field in model._meta.fields:
            plain = isinstance(field, models.TextField) or type(field) is models.CharField
            if not plain or field.choices or field.unique or field.primary_key:
                continue
            if field.name in {"file", "thumb"} or (field.max_length or 99) < len(NAME):
                continue
            row = model._base_manager.order_by("-pk").first()
            if row is None:
                continue
            fits = words if (field.max_length or 99) >= len(words) else NAME
            # A column that must be empty as things stand is empty.
            with suppress(IntegrityError), transaction.atomic():
                models.QuerySet(model).filter(pk=row.pk).update(**{field.name: fits})
                written.add(f"{model.__name__}.{field.name}")
    return written


def pay(person: Person, by: Person) -> None:
    if (owed := balance(person)) > 0:
        money.record_payment(
            person=person, amount_minor=owed, method="cash", by=by, client_id=factories.client_id()
        )


def settle(person: Person, by: Person) -> None:
    """Pieces handed over, sums paid, out of the class, gone."""
    Piece.objects.filter(maker=person).exclude(stage__in=["collected", "lost"]).update(stage="collected")
    pay(person, by)
    for enrolment in person.enrolments.filter(left_at=None):
        leave(enrolment=enrolment, by=by)
    people.person_leaves(person=person, by=by)


def test_nothing_of_an_erased_person_is_left_outside_retained_statements(
    world: World, tmp_path: Path, caplog: Any, django_capture_on_commit_callbacks: Any
) -> None:
    """Exported, then erased; then looked for in every table, photo, kept mail and log."""
    ines = rename(world.ines)
    browser = signed_in(ines)
    browser.get("/my/devices/")
    factories.studio()
    photo_files = [world.photo.file, world.photo.thumb, world.removed_photo.file]
    mail = tmp_path / "20251118-112000-2.log"
    mail.write_bytes(f"To: {EMAIL}\nSubject: One piece is ready\n\nDear {NAME}\n".encode())
    other_mail = tmp_path / f"{worlds.MAIL_NAME}.log"
    settle(ines, world.maud)
    statement = Statement.objects.get(person=ines)
    paper = bytes(StatementFile.objects.get(statement=statement).data)
    written = write_everywhere(ines)
    assert len(written) > 30
    assert written <= hits(NAME, EMAIL, PHONE, "Ysolde")
    sums = Charge.objects.count(), Payment.objects.count(), balance(ines)

    archive = zipfile.ZipFile(own_data.make_zip(ines, now=factories.NOW))
    assert EMAIL in archive.read("all.json").decode()

    caplog.clear()
    with django_capture_on_commit_callbacks(execute=True):
        row = erasing.erase_person(person=ines, by=world.maud)
    assert hits(NAME, EMAIL, PHONE, "Ysolde", "Quennebec") == set()
    assert not any(default_storage.exists(name) for name in photo_files)
    assert not Photo.with_removed.filter(piece__maker=ines).exists()
    assert NAME not in caplog.text
    assert EMAIL not in caplog.text
    assert not Device.objects.filter(person=ines).exists()
    assert browser.get("/my/devices/").status_code == 302

    # What stays for the books: every sum, and the statement as it was given out.
    assert (Charge.objects.count(), Payment.objects.count(), balance(ines)) == sums
    statement.refresh_from_db()
    assert bytes(StatementFile.objects.get(statement=statement).data) == paper
    assert row.full_name.startswith("Former member ")
    assert row.email is None
    assert not row.has_usable_password()
    assert not mail.exists()
    assert other_mail.exists()


def test_kept_mails_that_name_them_go_and_others_stay(
    world: World, tmp_path: Path, django_capture_on_commit_callbacks: Any
) -> None:
    ines = rename(world.ines)
    theirs = tmp_path / "20251118-112000-2.log"
    theirs.write_bytes(f"To: {EMAIL}\nSubject: One piece is ready\n\nIt is on the shelf.\n".encode())
    settle(ines, world.maud)
    with django_capture_on_commit_callbacks(execute=True):
        erasing.erase_person(person=ines, by=world.maud)
    assert not theirs.exists()
    assert (tmp_path / f"{worlds.MAIL_NAME}.log").exists()
    assert not default_storage.exists(world.photo.file)


def test_photos_stay_when_erasing_is_undone_by_an_error(world: World, monkeypatch: Any) -> None:
    ines = rename(world.ines)
    settle(ines, world.maud)
    monkeypatch.setattr(erasing, "scrub", lambda **_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        erasing.erase_person(person=ines, by=world.maud)
    assert default_storage.exists(world.photo.file)
    assert Photo.with_removed.filter(piece__maker=ines).exists()
    assert Person.objects.get(pk=ines.pk).email == EMAIL


def test_it_is_refused_with_what_to_do_while_something_is_open(world: World) -> None:
    with pytest.raises(Refused) as refused:
        erasing.erase_person(person=world.ines, by=world.maud)
    assert {problem.code for problem in refused.value.problems} == {
        "not-left",
        "has-pieces",
        "balance-open",
    }
    with pytest.raises(Refused, match="Only the tutor"):
        erasing.erase_person(person=world.pim, by=world.ivo)
    assert Person.objects.get(pk=world.ines.pk).first_name == "Ines"


def test_a_guardian_is_erased_after_the_young_people(world: World) -> None:
    settle(world.sam, world.maud)
    Person.objects.filter(pk=world.ruth.pk).update(left_at=factories.NOW)
    with pytest.raises(Refused, match="Ruth answers for Sam"):
        erasing.erase_person(person=world.ruth, by=world.maud)
    pay(world.ruth, world.maud)
    erasing.erase_person(person=world.sam, by=world.maud)
    row = erasing.erase_person(person=world.ruth, by=world.maud)
    assert row.erased_at
    assert Person.objects.get(pk=world.sam.pk).guardian_id is None


def test_a_mail_to_the_guardian_about_an_erased_young_person_loses_its_words(world: World) -> None:
    notice = Notice.objects.filter(pieces__maker=world.sam).first()
    assert notice
    assert notice.recipient == world.ruth
    Notice.objects.filter(pk=notice.pk).update(
        state="sent", sent_at=factories.NOW, sent_to=world.ruth.email, sent_text="Sam’s jar is ready."
    )
    settle(world.sam, world.maud)
    pay(world.ruth, world.maud)
    erasing.erase_person(person=world.sam, by=world.maud)
    notice.refresh_from_db()
    assert (notice.sent_text, notice.sent_to, notice.state) == ("", "", "sent")


def test_erased_twice_is_erased_once_and_nobody_comes_back(world: World) -> None:
    pim = world.pim
    first = erasing.erase_person(person=pim, by=world.maud)
    again = erasing.erase_person(person=pim, by=world.maud)
    assert (again.code, again.erased_at) == (first.code, first.erased_at)
    with pytest.raises(Refused, match="has been erased"):
        people.person_returns(person=pim, by=world.maud)
    with pytest.raises(Refused, match="has been erased"):
        people.save_person(person=pim, by=world.maud, first_name="Pim", email="pim@quillmere.example")


def test_others_with_the_same_first_name_keep_it(world: World) -> None:
    """Ines of the kiln shed is somebody else, and so is a glaze called Pim's Blue."""
    factories.glaze("Pim’s Blue")
    namesake = factories.student("Pim", last_name="Alder", notes="Pim Alder’s own wheel")
    erasing.erase_person(person=world.pim, by=world.maud)
    namesake.refresh_from_db()
    assert (namesake.first_name, namesake.notes) == ("Pim", "Pim Alder’s own wheel")
    assert apps.get_model("studio", "Glaze").objects.filter(name="Pim’s Blue").exists()


def test_what_would_go_and_stay_is_counted_before(world: World) -> None:
    goes = {line.many: line.count for line in queries.goes(world.ines)}
    assert goes["photos of work"] == 2
    stays = {line.many: line for line in queries.stays(world.ines)}
    assert stays["statements"].count == 1
    assert all(line.why for line in stays.values())


def test_an_open_notice_is_dropped_and_a_new_person_may_have_the_address(world: World) -> None:
    settle(world.ines, world.maud)
    email = world.ines.email
    erasing.erase_person(person=world.ines, by=world.maud)
    assert not Notice.objects.filter(recipient=world.ines, state__in=["waiting", "held", "queued"]).exists()
    again = people.save_person(by=world.maud, first_name="Ines", email=email)
    assert again.pk != world.ines.pk


# The export


def test_the_export_holds_the_tables_as_json_and_csv_the_papers_and_the_photos(world: World) -> None:
    archive = zipfile.ZipFile(own_data.make_zip(world.ines, now=factories.NOW))
    assert archive.testzip() is None
    names = set(archive.namelist())
    assert {"READ ME.txt", "all.json", "you.csv", "pieces.csv", "charges.csv", "mails.csv"} <= names
    tables = json.loads(archive.read("all.json"))
    assert tables["you"][0]["email"] == world.ines.email
    marks = {piece.mark for piece in Piece.objects.filter(maker=world.ines)}
    assert {row["mark"] for row in tables["pieces"]} == marks
    photo = f"photos/{world.photo.piece.mark}-{world.photo.code}.jpg"
    with default_storage.open(world.photo.file) as stored:
        assert archive.read(photo) == stored.read()
    paper = bytes(StatementFile.objects.get(statement=world.statement).data)
    assert archive.read(f"statements/{world.statement.number}.pdf") == paper


def test_the_export_says_nothing_of_others_and_holds_no_keys(world: World) -> None:
    archive = zipfile.ZipFile(own_data.make_zip(world.ines, now=factories.NOW))
    text = "\n".join(archive.read(name).decode("utf-8", "replace") for name in archive.namelist())
    for other in (world.tobias, world.ruth, world.sam, world.ivo, world.maud):
        assert other.last_name not in text.replace(world.ines.last_name, "") or other is world.maud
        assert not other.email or other.email not in text
    for key in ("password", "session_key", "client_id", "secret"):
        assert key not in text


def test_an_export_of_a_helper_has_no_sums(world: World) -> None:
    money.add_charge(
        person=world.ivo,
        amount_minor=500,
        words="Clay",
        kind="clay",
        by=world.maud,
        client_id=factories.client_id(),
    )
    names = zipfile.ZipFile(own_data.make_zip(world.ivo, now=factories.NOW)).namelist()
    assert "charges.csv" not in names
    assert "you.csv" in names


def test_every_section_of_the_rules_is_in_the_export_once_there_are_rows(world: World) -> None:
    """So that a rule cannot name a file that the export then leaves out."""
    shown = {name for name, _ in own_data.sections(world.ines)}
    for model, field, rule, of_piece in personal.rules():
        if rule.section and personal.rows_of(model, field, world.ines, of_piece).exists():
            assert rule.section in shown


def test_formulas_in_the_csv_are_words(world: World) -> None:
    Piece.objects.filter(pk=world.wet.pk).update(notes='=HYPERLINK("//elsewhere.example")')
    archive = zipfile.ZipFile(own_data.make_zip(world.ines, now=factories.NOW))
    assert "\n=HYPERLINK" not in archive.read("pieces.csv").decode()
    assert ",=HYPERLINK" not in archive.read("pieces.csv").decode()


def test_a_missing_photo_file_does_not_keep_the_rest_back(world: World) -> None:
    default_storage.delete(world.photo.file)
    assert "all.json" in zipfile.ZipFile(own_data.make_zip(world.ines, now=factories.NOW)).namelist()


@pytest.mark.parametrize("count", [1, 30])
def test_the_export_asks_the_database_equally_often(world: World, count: int) -> None:
    from django.test.utils import CaptureQueriesContext

    tobias = world.tobias
    for _ in range(count):
        factories.piece(maker=tobias, stage="ready")
    with CaptureQueriesContext(
        connection,
    ) as asked:
        own_data.make_zip(tobias, now=factories.NOW)
    assert len(asked) < 90
    _ASKED.append(len(asked))
    assert len(set(_ASKED)) == 1


_ASKED: list[int] = []
