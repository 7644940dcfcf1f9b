"""From the glazing table to the mail: a student's diary, what the load minds, a flaw, what is learnt."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from studio.models import DiaryNote, Notice, Photo, Piece
from studio.notifications import deliver
from tests import factories
from tests.journeys import walk
from tests.support.browser import DESK, check_accessible, check_fits, sign_in_as
from tests.support.smtp import SmtpSink


@pytest.fixture
def bowl(room: Any, clock: walk.Clock) -> Piece:
    """Ines's bowl out of the bisque, its slip beside it."""
    clock.back(days=12)
    factories.glaze("Ember Matte", movement="runs", food_contact="suitable", colour="#a5482f")
    return factories.piece(
        maker=room.ines,
        stage="bisqued",
        form="bowl",
        width_mm=160,
        depth_mm=160,
        height_mm=70,
        cone_wanted="6",
    )


def draws_a_line(page: Any) -> None:
    """With a finger or a pen over the sheet."""
    sheet = page.locator(".sketch__sheet")
    sheet.scroll_into_view_if_needed()
    box = sheet.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 4, box["y"] + box["height"] / 3)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, steps=4)
    page.mouse.up()


def test_from_the_diary_to_the_mail(
    phone: Any,
    open_page: Callable[..., Any],
    room: Any,
    clock: walk.Clock,
    smtp_sink: SmtpSink,
    live: Any,
    bowl: Piece,
) -> None:
    # At the glazing table Ines scans the slip and says what she puts on, two coats, with a note.
    sign_in_as(phone, room.ines)
    hers = walk.Hand(phone)
    phone.goto(walk.tag_of(bowl))
    hers.link("Say what you glaze it with")
    check_fits(phone)
    check_accessible(phone)
    for surface in ("Outside", "Inside"):
        walk.chooses_a_glaze(phone, "Ember Matte", surface)
    outside = phone.get_by_role("group", name="Outside")
    outside.get_by_label("Coats").first.fill("2")
    outside.get_by_label("Note").first.fill("Second coat to the shoulder")
    # What it does is said while she chooses.
    walk.says(phone, "Ember Matte runs. Put it on a stand.")
    hers.tap(phone.locator("#glaze-form .btn--save"))
    walk.says(phone, "glazes noted")
    assert Piece.objects.get(pk=bowl.pk).stage == "glazed"
    phone.goto(f"/pieces/{bowl.code}/glazes/")
    phone.locator("#id_words").fill("Dipped slowly. One coat less next time.")
    hers.button("Keep the note")
    walk.says(phone, "Your diary is written")
    draws_a_line(phone)
    hers.button("Keep the sketch")
    walk.says(phone, "The sketch is kept")
    assert Photo.sketches.get().piece == bowl

    # Maud sees at once what it will do, and again as she plans the load.
    office = open_page(DESK)
    sign_in_as(office, room.maud)
    maud = walk.Hand(office)
    office.goto("/glazing/")
    walk.says(office, "noted by Ines")
    walk.says(office, "Ember Matte runs. Put it on a stand.")
    walk.says(office, "keep it 10 mm off the foot")
    check_accessible(office)
    number = walk.plans_a_firing(office, "Glaze firing")
    maud.tap(office.locator(".waiting label", has_text=bowl.mark))
    maud.button("Put the ticked ones in")
    walk.says(office, "would stick to the kiln shelf. Ember Matte runs")
    office.get_by_label("On stands of").first.fill("10")
    maud.button("Put the ticked ones in")
    walk.says(office, "1 piece is in")
    walk.says(office, "Mind the glazes")
    walk.says(office, "on a stand of 10 mm")
    minds = office.locator(".minds").inner_text()
    assert "gathers in the bottom inside: thin it there" in minds
    walk.lights(office, "Bertha")
    clock.passes(hours=10)
    walk.notes_a_temperature(office, 1220)
    walk.ends_the_firing(office)
    clock.passes(days=1, hours=8)
    office.reload()
    walk.notes_a_temperature(office, 40)

    # It crazed: one tap and Flawed.
    maud.button("Open and unload")
    assert walk.mark_at_hand(office) == bowl.mark
    maud.choose("Crazing")
    walk.answers(maud, "Flawed")
    walk.closes(office, kwh="61")

    # The result is there for the next one who asks.
    office.goto("/glazes/")
    maud.link("How they turn out")
    office.get_by_label("Which results").fill("ember, cone 6, bowls")
    maud.button("Show")
    maud.link("Ember Matte")
    assert walk.heading(office) == "Ember Matte"
    walk.says(office, "Too few to say")
    walk.says(office, "0 of 1")
    assert "Crazing" in office.locator(".went").first.inner_text()
    check_accessible(office)
    maud.link("How glazes turn out")
    maud.link("Where in the kiln")
    walk.says(office, "1 of 1 pieces came out flawed or lost")
    check_accessible(office)

    # Maud lets her have it all the same; the mail says what it is good for, and why.
    office.goto(f"/pieces/{bowl.code}/")
    with office.expect_navigation():
        maud.button("Ready", exact=True)
    for kind in ("flaw", "ready"):
        notice = Notice.objects.get(kind=kind)
        office.goto(f"/notices/{notice.code}/")
        with office.expect_navigation():
            maud.button("Let it go")
    clock.today()
    deliver.deliver_due(worker="journey")
    mail = walk.mail_to(smtp_sink, room.ines.email, "ready")
    for words in (mail.text, mail.html):
        assert "decorative only" in words.lower()
        assert "craz" in words.lower()

    # In a year Ines finds it again: what she did, and how it came out.
    phone.goto("/")
    hers.link("Glaze diary")
    walk.says(phone, "Came out flawed")
    walk.says(phone, "Crazing")
    walk.says(phone, "One coat less next time.")
    walk.says(phone, "Second coat to the shoulder")
    assert phone.locator("img.page__sketch").count() == 1
    assert DiaryNote.objects.get().maker == room.ines
    assert number == 1
    check_fits(phone)
    check_accessible(phone)
