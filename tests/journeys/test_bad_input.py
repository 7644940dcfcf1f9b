"""What people mistype, mistake and send by accident: a plain sentence each, and all that was typed stays."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from studio.models import Event, Firing, Photo, Piece, Reading, UnloadAnswer
from tests import factories
from tests.journeys import walk
from tests.support.browser import check_accessible, check_fits, sign_in_as, wait_until

MB = 1024 * 1024


@pytest.fixture
def intake(phone: Any, room: Any, live: Any) -> Any:
    """Maud has nearly entered a jug, with everything that can be said about it."""
    sign_in_as(phone, room.maud)
    phone.goto("/pieces/new/")
    hand = walk.Hand(phone)
    hand.choose("Ines Arkwell")
    hand.choose("Jug")
    phone.get_by_label("Across").fill("11.5")
    phone.get_by_label("Tall").fill("17")
    hand.choose("Coiled")
    hand.opens("More about it")
    hand.choose("Single fired")
    phone.get_by_label("Notes").fill("Handle pulled twice; “S” crack <3 mm & watch it.")
    return phone


def refused(page: Any, *sentences: str) -> None:
    """Saved and refused: each sentence is there, nothing was saved, and what had been typed still stands."""
    walk.Hand(page).button("Save and get its mark")
    for sentence in sentences:
        walk.says(page, sentence)
    assert not Piece.objects.exists()
    assert page.locator("input[name=maker]:checked + span").inner_text().startswith("Ines Arkwell")
    assert page.locator("input[name=form]:checked").input_value() == "jug"
    assert page.locator("input[name=technique]:checked").input_value() == "coiled"
    assert page.locator("input[name=route]:checked").input_value() == "single-fired"
    assert page.locator("#id_notes").input_value() == "Handle pulled twice; “S” crack <3 mm & watch it."
    check_fits(page)


def test_sizes_that_no_pot_has(intake: Any) -> None:
    for wrong in ("0", "10 m", "1000", "-4", "a hand", "12.5.1", "9" * 12):
        intake.get_by_label("Across").fill(wrong)
        expected = (
            "can't be the width of a piece" if wrong in {"0", "10 m", "1000"} else "width in centimetres"
        )
        refused(intake, expected)
        assert intake.get_by_label("Across").input_value() == wrong
        assert intake.get_by_label("Tall").input_value() == "17"
    check_accessible(intake)
    intake.get_by_label("Across").fill("11,5")
    walk.Hand(intake).button("Save and get its mark")
    walk.mark_shown(intake)
    assert Piece.objects.get().width_mm == 115


def test_days_gone_by_and_cones_there_are_not(intake: Any) -> None:
    yesterday = timezone.localdate() - timedelta(days=1)
    intake.get_by_label("Wanted by").fill(yesterday.isoformat())
    refused(intake, f"{yesterday:%-d %B %Y} has passed. Choose a day from today on, or leave it empty.")
    assert intake.get_by_label("Wanted by").input_value() == yesterday.isoformat()
    intake.get_by_label("Wanted by").fill("")
    intake.get_by_label("Glaze firing to cone").fill("66")
    refused(intake, "There is no cone 66.")
    check_accessible(intake)


def test_photos_that_are_none(intake: Any, tmp_path: Path) -> None:
    photo = intake.locator("#id_photo")
    photo.set_input_files(walk.picture_file(b"Dear diary, today I threw a jug.", "jug.jpg"))
    refused(intake, "photo")
    photo.set_input_files(walk.picture_file(walk.picture()[:3000], "half.jpg"))
    refused(intake, "photo")
    photo.set_input_files(walk.picture_file(b"%PDF-1.7 a bill", "bill.pdf", "application/pdf"))
    refused(intake, "photo")
    huge = tmp_path / "huge.jpg"
    huge.write_bytes(b"\xff\xd8\xff\xe0" + bytes(26 * MB))
    photo.set_input_files(huge)
    refused(intake, "This photo has 26 MB. At most 25 MB can be taken; make it smaller first.")
    assert not Photo.objects.exists()
    photo.set_input_files(walk.picture_file(walk.picture()))
    walk.Hand(intake).button("Save and get its mark")
    walk.mark_shown(intake)
    assert Photo.objects.count() == 1


def test_marks_that_are_not_there_and_one_read_wrongly(phone: Any, room: Any, live: Any) -> None:
    mug = factories.piece(maker=room.ines, mark="K7H", stage="ready", form="mug", shelf=room.pickup)
    sign_in_as(phone, room.maud)
    hand = walk.Hand(phone)
    before = Event.objects.count()
    for typed, said in (("XXW", "XXW"), ("K7N", "Did you mean one of these?"), ("!!", "mark")):
        phone.goto("/scan/")
        phone.get_by_label("Scan, or type a mark").fill(typed)
        hand.button("Go", exact=True)
        walk.says(phone, said)
        kept = phone.get_by_label("Scan, or type a mark")
        expect(kept).to_have_value(typed)  # once the studio has answered
        told = phone.get_by_role("alert").count() + phone.locator("[data-said] li").count()
        assert told == 1
    check_accessible(phone)

    # At pickup two marks, one of them misread: the good one is kept, the other is asked about.
    phone.goto("/pickup/")
    other = factories.piece(maker=room.ines, mark="3PW", stage="ready", form="bowl")
    phone.get_by_label("Scan a slip, or type marks").fill("3pw k7n")
    hand.button("Add", exact=True)
    walk.says(phone, "Hand over 1 piece?")
    walk.says(phone, "No piece is marked K7N. Did you mean one of these?")
    hand.tap(phone.get_by_role("alert").locator(".nears button", has_text="K7H"))
    walk.says(phone, "Hand over 2 pieces?")
    assert Event.objects.count() == before + 1
    assert {mug.stage, other.stage} == {"ready"}

    # A shelf's tag instead of a slip, and an address of somebody else's.
    for text, said in (
        (walk.tag_of(room.damp), "That is the tag of a shelf, Damp cupboard."),
        ("https://elsewhere.example/Q/ABCDEFGHJKLM", "elsewhere"),
    ):
        phone.get_by_label("Scan a slip, or type marks").fill(text)
        hand.button("Add", exact=True)
        walk.says(phone, said)
        walk.says(phone, "Hand over 2 pieces?")
    check_fits(phone)


def test_temperatures_and_files_of_them(
    phone: Any, open_page: Callable[..., Any], room: Any, live: Any
) -> None:
    firing = factories.firing(
        Firing.State.FIRING, kiln=room.kiln, lit_at=timezone.now() - timedelta(hours=5), pieces=1
    )
    sign_in_as(phone, room.maud)
    phone.goto(f"/firings/{firing.number}/")
    hand = walk.Hand(phone)
    begun = timezone.localtime(firing.lit_at)
    good = [f"{begun + timedelta(hours=n):%Y-%m-%d %H:%M},{100 * n + 20}" for n in range(4)]
    for data, said in (
        (b"\x00\x01\x02 not text", "That is no text file. Save the readings as CSV and try again."),
        (b"", "empty"),
        (b"time,temperature\n", "no readings in this file"),
        (b"x" * (12 * MB + 1), "The file is larger than 12 MB."),
        ("\n".join([*good, "yesterday,300"]).encode(), "Line 5: “yesterday” is no time."),
        ("\n".join([*good, good[0].replace(",20", ",90")]).encode(), "for the same time"),
        (walk.picture(), "That is no text file."),
    ):
        if not phone.get_by_label("The controller's file").is_visible():
            hand.opens("Read in a controller’s file")
        phone.get_by_label("The controller's file").set_input_files(
            walk.picture_file(data, "bertha.csv", "text/csv")
        )
        hand.button("Look at it")
        walk.says(phone, said)
        if "/file/" in phone.url:
            phone.go_back()
        assert not Reading.objects.exists(), "the whole file or nothing of it"
    for typed in ("hot", "9999"):
        phone.get_by_label("Temperature, °C").fill(typed)
        hand.button("Note it", exact=True)
        walk.says(phone, "Enter a number" if typed == "hot" else "less than or equal to 1450")
        assert phone.get_by_label("Temperature, °C").input_value() == typed
    assert not Reading.objects.exists()


def test_an_answer_with_a_photo_that_is_none_is_kept_without_it(phone: Any, room: Any, live: Any) -> None:
    firing = factories.firing(Firing.State.UNLOADING, kiln=room.kiln, pieces=2)
    sign_in_as(phone, room.ivo)
    phone.goto(f"/firings/{firing.number}/unload/")
    hand = walk.Hand(phone)
    mark = walk.mark_at_hand(phone)
    phone.locator("[data-part=camera]").set_input_files(walk.picture_file(b"no photo", "IMG_1.jpg"))
    walk.says(phone, "1 taken")
    walk.answers(hand, "Sound", sent=False)
    # The answer stands; the photo is on the list of what needs somebody, with the studio's word on it.
    wait_until(phone, "document.querySelector('main').dataset.needs === '1'")
    hand.tap(phone.locator("[data-part=kept-button]"))
    walk.says(phone, "That file is not a photo we can read")
    assert phone.locator(".need .mk").inner_text() == mark
    hand.button("Take it off")
    hand.button("Really: it is given up")
    walk.all_sent(phone)
    hand.button("Go on unloading")

    # Flawed, with nothing said of the flaw: the page asks. A note says enough.
    mark = walk.mark_at_hand(phone)
    phone.wait_for_timeout(walk.THUMB_RESTS_MS)
    hand.button("Flawed", within=phone.locator(".verdict"), exact=True)
    walk.says(phone, f"What is wrong with {mark}?")
    check_accessible(phone)
    check_fits(phone)
    phone.get_by_label("A note", exact=True).fill("a hair-line by the handle")
    hand.button("Flawed", within=phone.locator(".verdict"), exact=True)
    walk.says(phone, "All 2 out of Bertha")
    assert [answer.note for answer in UnloadAnswer.objects.order_by("id")] == [
        "",
        "a hair-line by the handle",
    ]
    assert not Photo.objects.exists()
