"""What is sent to the site: a student's wishes for more change nothing, no form works without its secret, and
looking changes nothing at all.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from studio.models import Attempt, Device, Event, Person, Piece
from tests import factories
from tests.views import world as worlds
from tests.views.world import Page, World, signed_in

pytestmark = pytest.mark.django_db

Rows = dict[str, list[tuple[object, ...]]]


@pytest.fixture
def world(settings: Any, tmp_path: Path) -> World:
    settings.DEMO = True
    settings.EMAIL_FILE_PATH = str(tmp_path)
    worlds.keep_a_mail(tmp_path)
    return worlds.build()


def rows() -> Rows:
    """Every row of every table of the studio's, but tries at guessing and when a device was last seen."""
    return {
        model.__name__: sorted(model._base_manager.values_list(), key=str)
        for model in apps.get_app_config("studio").get_models(include_auto_created=True)
        if model not in {Attempt, Device}
    }


def changed(before: Rows, after: Rows) -> list[str]:
    return [name for name in before if before[name] != after[name]]


# A student asks for more


def wishes(world: World, *, numbered: bool) -> dict[str, object]:
    """Everything that somebody might try to slip in, by whatever name a form or table has for it."""
    own, other = world.ines, world.tobias
    wanted: dict[str, object] = {
        # of a piece
        "stage": "ready",
        "to": "ready",
        "to_stage": "ready",
        "measured_stage": "ready",
        "from_stage": "wet",
        "owner": other.code,
        "maker_id": other.pk,
        "from_maker": other.pk,
        "to_maker": other.pk,
        "studios_own": "on",
        "mark": "QQ9",
        "code": "HHHHHHHH",
        "shelf": world.shelf.code,
        "ended_at": "",
        "refire_free": "on",
        "studio_at_fault": "on",
        "kept": "kept",
        "cause": "broken",
        "outcome": "lost",
        "loss_cause": "missing",
        "override_reason": "Because I say so",
        "reason": "Again",
        # of money
        "fee": "0",
        "price": "0",
        "amount": "-5",
        "amount_minor": "-500",
        "charge": "0",
        "paid": "100",
        "labour_minor": "0",
        "energy_kwh": "0",
        "meter_end_kwh": "1",
        "balance_minor": "0",
        "payer": own.code,
        "tariff_minor_per_kwh": "0",
        "wear_minor_per_firing": "0",
        "smallest_charge_minor": "0",
        "method": "cash",
        "words": "Paid in full",
        "reverses": world.charge.pk,
        "share": "1",
        # of a person
        "role": "tutor",
        "guardian": own.pk,
        "guardian_id": own.pk,
        "is_staff": "on",
        "is_superuser": "on",
        "left_at": "",
        "email": "ines@elsewhere.example",
        "first_name": "Other",
        "person": own.pk,
        "gallery_consent": "on",
        "born_on": "1990-01-01",
        "password": "kiln shed by the mere",
        # of the studio
        "name": "Mine",
        "colour": "#112233",
        "opening_limit_c": "100",
        "currency": "XXX",
        "purpose": "other",
        "act": "approve",
        "why": "No",
        "what": "add",
        "layer": "1",
        "x_mm": "0",
        "y_mm": "0",
        "place": "",
        "piece": world.ready.code,
        "codes": world.ready.code,
        "p": world.ready.code,
        "text": world.ready.mark,
        "temperature_c": "40",
        "at": "2025-11-18T10:00",
        "where": "Here",
        "kind": "other",
        "by": world.maud.pk,
        "_method": "DELETE",
        "undone_at": "",
        "pk": "1",
        "id": "1",
        "created": "now",
        "seen": "x",
    }
    return {**wanted, **({"client_id": factories.client_id()} if numbered else {})}


#: What a student may do with their own pieces: these are looked at one by one below.
THEIRS = {
    *("piece-new", "piece-again", "piece-glazes", "piece-photo", "piece-undo"),
    *("photo-remove", "photo-restore"),
    # At the glazing table, see test_pieces_glazing; the hints look and keep nothing.
    *("piece-glaze-again", "piece-sketch", "piece-diary"),
    # To say "mine" of a piece on the wall, which the tutor has to confirm: see test_orphans.
    *("orphan-claim", "claim-withdraw"),
    # To ask something of the studio, which the tutor has to answer: see test_wishes.
    *("wish-ask", "wish-withdraw"),
    # To show finished work or not: see test_gallery.
    *("gallery-show", "gallery-end", "gallery-consent"),
    # An address for their own calendar program: see test_calendar_own.
    *("my-calendar-feed-new", "my-calendar-feed-end"),
    # Their own name and address put right, and asking to be erased: see test_own_data.
    *("my-data-correct", "my-data-erase", "my-consent"),
}


#: Of those, what is about nobody's piece.
THEIR_OWN = {"my-calendar-feed-new", "my-calendar-feed-end", "my-data-correct", "my-data-erase", "my-consent"}


@pytest.mark.parametrize("who", ["ines", "tobias", "ruth"])
@pytest.mark.parametrize("numbered", [True, False], ids=["with a number", "without"])
def test_wishes_sent_to_every_address_change_nothing(world: World, who: str, numbered: bool) -> None:
    client = signed_in(getattr(world, who))
    client.raise_request_exception = False
    asked = [page for page in worlds.pages(world) if page.name not in {*THEIRS, "sign-out"}]
    before = rows()
    for page in asked:
        answer = client.post(page.url, wishes(world, numbered=numbered))
        assert answer.status_code < 500, page.name
    after = rows()
    assert changed(before, after) == []
    assert len(asked) > 95


def test_wishes_sent_by_a_visitor_change_nothing_but_the_asking_for_codes(world: World) -> None:
    client = Client()
    client.raise_request_exception = False
    before = rows()
    for page in worlds.pages(world):
        if page.name != "sign-in":
            assert client.post(page.url, wishes(world, numbered=True)).status_code < 500, page.name
    assert changed(before, rows()) == []


def test_a_helper_changes_nothing_of_the_tutors(world: World) -> None:
    client = signed_in(world.ivo)
    before = rows()
    tutors = [page for page in worlds.pages(world) if page.level in {"tutor", "own-money"}]
    for page in tutors:
        assert client.post(page.url, wishes(world, numbered=True)).status_code in {404, 405}, page.name
    assert changed(before, rows()) == []
    assert len(tutors) > 30


@pytest.mark.parametrize("who", ["tobias", "ruth", "pim"])
def test_others_do_nothing_with_a_piece_that_is_not_theirs(world: World, who: str) -> None:
    client = signed_in(getattr(world, who))
    before = rows()
    for page in worlds.pages(world):
        # What hangs on the wall is nobody's yet: any of them may say that it is theirs.
        if page.name in THEIRS - {"piece-new", "orphan-claim", "claim-withdraw", *THEIR_OWN}:
            client.post(
                page.url, {**wishes(world, numbered=True), "photo": photo(), "inside_1_glaze": "bare"}
            )
    assert changed(before, rows()) == []


def photo() -> SimpleUploadedFile:
    data = io.BytesIO()
    Image.new("RGB", (64, 48), "#8b7c6c").save(data, "JPEG")
    return SimpleUploadedFile("bowl.jpg", data.getvalue(), "image/jpeg")


def intake(world: World, **more: object) -> dict[str, object]:
    return {
        "client_id": factories.client_id(),
        "maker": world.ines.code,
        "form": "mug",
        "technique": "thrown",
        "clay": world.ready.clay_id,
        "footprint": "round",
        "width": "9",
        "height": "10",
        "measured_stage": "wet",
        "use": "food",
        "route": "bisque-then-glaze",
        **more,
    }


#: Tables that an intake adds to, and nothing else.
OF_AN_INTAKE = {"Piece", "Event", "Tag"}


def test_a_student_enters_a_piece_and_gets_no_more_than_that(world: World) -> None:
    client = signed_in(world.ines)
    before = rows()
    sent = {**wishes(world, numbered=True), **intake(world)}
    answer = client.post(reverse("piece-new"), sent)
    assert answer.status_code == 302
    piece = Piece.objects.order_by("-pk").first()
    assert (piece.stage, piece.maker, piece.studios_own, piece.shelf) == ("wet", world.ines, False, None)
    assert piece.mark != "QQ9"
    assert piece.code != "HHHHHHHH"
    assert set(changed(before, rows())) == OF_AN_INTAKE
    event = piece.events.get()
    assert (event.by, event.to_stage, event.to_maker) == (world.ines, "wet", world.ines)


@pytest.mark.parametrize("stage", ["bone-dry", "bisqued", "glazed", "fired", "ready", "collected"])
def test_a_student_does_not_enter_a_later_stage(world: World, stage: str) -> None:
    ines = signed_in(world.ines)
    before = rows()
    answer = ines.post(reverse("piece-new"), intake(world, measured_stage=stage))
    assert answer.status_code == 422
    assert changed(before, rows()) == []


def test_a_student_enters_nothing_for_others(world: World) -> None:
    ines = signed_in(world.ines)
    before = rows()
    for maker in (
        world.tobias.code,
        world.sam.code,
        world.maud.code,
        "studio",
        "nobody",
        str(world.tobias.pk),
    ):
        answer = ines.post(reverse("piece-new"), intake(world, maker=maker))
        assert answer.status_code == 422, maker
    assert changed(before, rows()) == []


def test_a_guardian_enters_for_their_young_person_and_not_for_ines(world: World) -> None:
    ruth = signed_in(world.ruth)
    assert ruth.post(reverse("piece-new"), intake(world, maker=world.sam.code)).status_code == 302
    assert Piece.objects.order_by("-pk").first().maker == world.sam
    assert ruth.post(reverse("piece-new"), intake(world)).status_code == 422


def protected(piece: Piece) -> tuple[object, ...]:
    piece.refresh_from_db()
    return (piece.mark, piece.maker_id, piece.studios_own, piece.shelf_id, piece.route, piece.width_mm)


def test_another_one_like_it_is_the_students_own_and_wet(world: World) -> None:
    world.ready.low_firings_wanted = 0
    client = signed_in(world.ines)
    before = rows()
    client.post(reverse("piece-again", args=[world.ready.code]), wishes(world, numbered=True))
    piece = Piece.objects.order_by("-pk").first()
    assert piece.pk != world.ready.pk
    assert (piece.stage, piece.maker, piece.studios_own, piece.shelf) == ("wet", world.ines, False, None)
    assert set(changed(before, rows())) == OF_AN_INTAKE


def test_noting_glazes_and_adding_a_photo_move_nothing_else(world: World) -> None:
    client = signed_in(world.ines)
    piece = factories.piece(maker=world.ines, stage="bisqued")
    before = protected(piece)
    glazes = {"inside_1_glaze": world.glaze.code, "inside_1_coats": "2"}
    answer = client.post(
        reverse("piece-glazes", args=[piece.code]), {**wishes(world, numbered=True), **glazes}
    )
    assert answer.status_code == 302
    assert protected(piece) == before
    assert piece.stage == "glazed"  # what noting a glaze means, and no further
    client.post(
        reverse("piece-photo", args=[piece.code]),
        {**wishes(world, numbered=True), "photo": photo(), "taken_at": "1999-01-01", "stage": "ready"},
    )
    kept = piece.photos.get()
    assert (kept.by, kept.stage, kept.taken_at.year > 2000) == (world.ines, "glazed", True)
    assert protected(piece) == before
    assert piece.stage == "glazed"


def test_a_student_undoes_only_what_they_did_themselves(world: World) -> None:
    from studio.actions.pieces import move_piece

    client = signed_in(world.ines)
    piece = factories.piece(maker=world.ines, stage="finishing")
    event = move_piece(piece=piece, to="ready", by=world.maud, client_id=factories.client_id())
    before = rows()
    url = reverse("piece-undo", args=[piece.code, event.code])
    assert client.post(url, {"client_id": factories.client_id()}).status_code == 422
    other = world.sams.events.first()
    for code in (other.code, world.wet.events.first().code):
        url = reverse("piece-undo", args=[piece.code, code])
        assert client.post(url, {"client_id": factories.client_id()}).status_code == 404
    assert changed(before, rows()) == []


def test_another_persons_photo_stays(world: World) -> None:
    """Ines may take off what she took; a photo of her piece that the tutor took is not hers to take off."""
    of_maud = worlds.photo_of(world.ready, world.maud)
    client = signed_in(world.ines)
    client.post(reverse("photo-remove", args=[of_maud.code]))
    of_maud.refresh_from_db()
    assert of_maud.removed_at is None


def test_nobody_becomes_tutor_by_posting(world: World) -> None:
    for who in ("ines", "ruth", "ivo"):
        client = signed_in(getattr(world, who))
        for name in ("person-edit", "person-new"):
            args = [getattr(world, who).code] if name == "person-edit" else []
            answer = client.post(reverse(name, args=args), {"first_name": "Me", "role": "tutor"})
            assert answer.status_code == 404
    assert list(Person.objects.filter(role="tutor")) == [world.maud]


# No form without its secret


def test_no_form_works_without_the_secret_of_its_page(world: World) -> None:
    maud = Client(enforce_csrf_checks=True)
    maud.force_login(world.maud)
    visitor = Client(enforce_csrf_checks=True)
    before = rows()
    for page in worlds.pages(world):
        if page.name == "health":  # takes nothing, and must answer without a database
            assert visitor.post(page.url).status_code == 405
            continue
        if page.name == "device-readings":  # its secret is the token in the header, and no session counts
            assert maud.post(page.url, {"temperature_c": "20"}).status_code == 401
            continue
        if page.name == "mail-off":  # its secret is in its address: a mail reader presses it without a page
            assert visitor.post(page.url).status_code == 422
            continue
        for client in (maud, visitor):
            for sent in ({}, {"csrfmiddlewaretoken": "x" * 64}, {"csrfmiddlewaretoken": ""}):
                answer = client.post(page.url, {**page.words, **sent})
                assert answer.status_code == 403, page.name
                assert "This page had gone stale" in answer.content.decode()
    assert changed(before, rows()) == []
    assert "_auth_user_id" in maud.session  # nor is anybody signed out by another site


def test_a_form_from_another_site_is_refused(world: World) -> None:
    maud = Client(enforce_csrf_checks=True)
    maud.force_login(world.maud)
    page = maud.get(reverse("glaze-new")).content.decode()
    secret = re.search(r'csrfmiddlewaretoken" value="([^"]+)"', page)[1]
    sent = {
        "csrfmiddlewaretoken": secret,
        "name": "Sea",
        "kind": "glaze",
        "colour": "#223344",
        "cone_from": "6",
        "cone_to": "6",
        "movement": "still",
        "food_contact": "unstated",
    }
    elsewhere = {"HTTP_ORIGIN": "https://elsewhere.example"}
    assert maud.post(reverse("glaze-new"), sent, **elsewhere).status_code == 403
    assert maud.post(reverse("glaze-new"), sent).status_code == 302


def test_every_form_carries_its_secret(world: World) -> None:
    """On every page that a tutor, a student or a visitor is shown."""
    for client in (signed_in(world.maud), signed_in(world.ines), Client()):
        for page in worlds.pages(world):
            answer = client.get(page.url)
            if answer.streaming or answer.status_code != 200 or "text/html" not in answer["Content-Type"]:
                continue
            for form in re.findall(r"<form\b.*?</form>", answer.content.decode(), re.DOTALL):
                if re.match(r"<form[^>]*method=\"post\"", form, re.IGNORECASE):
                    assert "csrfmiddlewaretoken" in form, (page.name, form[:200])
                else:
                    assert "csrfmiddlewaretoken" not in form, (page.name, form[:200])


# Looking changes nothing

#: What looking may write: who looked, and for how long they are known; and when a calendar was last read.
_SESSION = re.compile(r'"(django_session|studio_attempt|studio_calendarfeed)"')
_WRITES = re.compile(r"\s*(INSERT|UPDATE|DELETE|REPLACE|ALTER|DROP|CREATE)\b", re.IGNORECASE)


def writes(client: Client, method: str, page: Page) -> list[str]:
    with CaptureQueriesContext(connection) as asked:
        answer = client.generic(method, page.url)
        if answer.streaming:
            b"".join(answer.streaming_content)
    return [
        f"{method} {page.name}: {query['sql'][:160]}"
        for query in asked.captured_queries
        if _WRITES.match(query["sql"]) and not _SESSION.search(query["sql"])
    ]


@pytest.mark.parametrize("who", ["maud", "ivo", "ines", "ruth", "visitor"])
def test_looking_changes_nothing(world: World, who: str) -> None:
    client = Client() if who == "visitor" else signed_in(getattr(world, who))
    client.get(reverse("more"))  # the device is noted as it is first seen
    before, found = rows(), []
    for page in worlds.pages(world):
        for method in ("GET", "HEAD", "OPTIONS"):
            found += writes(client, method, page)
    assert found == []
    assert set(changed(before, rows())) <= {"CalendarFeed"}
    if who != "visitor":
        assert client.get(reverse("more")).status_code == 200  # still signed in


def test_looking_with_things_asked_for_changes_nothing(world: World) -> None:
    """Wishes in the address count for nothing either."""
    client = signed_in(world.maud)
    before = rows()
    for page in worlds.pages(world):
        client.get(page.url, wishes(world, numbered=True))
    assert set(changed(before, rows())) <= {"CalendarFeed"}


def test_the_watch_on_rows_sees_a_change(world: World) -> None:
    before = rows()
    Event.objects.filter(pk=Event.objects.first().pk).update(note="Changed")
    assert changed(before, rows()) == ["Event"]
