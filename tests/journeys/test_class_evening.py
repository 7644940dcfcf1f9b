"""A class on a phone: its register, five pieces with a photo, the ware board, slips, two handed over."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from studio.models import Attendance, Event, Photo, Piece, Session
from tests import factories
from tests.journeys import walk
from tests.support.browser import PHONE, check_accessible, check_fits, sign_in_as


@pytest.fixture
def tonight(room: Any) -> Session:
    """Thursday evening began twenty minutes ago; Ines has two pots ready, Sam a health note."""
    now = timezone.now()
    course = factories.course("Thursday evening", teacher=room.maud)
    session = factories.session(course, starts_at=now - timedelta(minutes=20))
    for person in (room.ines, room.tobias, room.sam):
        factories.enrolment(person, course, enrolled_at=now - timedelta(days=30))
    room.sam.health_note = "Asthma: the inhaler is in the blue bag."
    room.sam.save()
    made_at = now - timedelta(days=20)
    for form in ("mug", "bowl"):
        factories.piece(maker=room.ines, stage="ready", form=form, shelf=room.pickup, made_at=made_at)
    factories.piece(maker=room.tobias, stage="ready", form="vase", shelf=room.pickup, made_at=made_at)
    return session


def looked_at(page: Any) -> None:
    check_fits(page)
    check_accessible(page)


def presses(hand: walk.Hand, name: str, word: str, heading: str) -> None:
    """One word for one person; the heading counts on without a new page."""
    row = hand.page.locator(".says__who", has_text=name)
    hand.button(word, within=row, exact=True)
    hand.page.locator("h1", has_text=heading).wait_for()


def test_an_evening_on_the_phone(phone: Any, room: Any, tonight: Session) -> None:
    hand = walk.Hand(phone)
    walk.signs_in_by_password(phone, room.maud)

    # The register: two taps for three people; then one is late, which was wrong and is taken back.
    hand.link("Register of Thursday evening")
    walk.says(phone, "Who is here?")
    looked_at(phone)
    with hand.counting() as taps:
        presses(hand, "Tobias", "Told us", "0 of 3 are here")
        hand.button("Everybody else is here")
        phone.locator("h1", has_text="2 of 3 are here").wait_for()
    assert taps[0] == 2
    presses(hand, "Sam", "Late", "2 of 3 are here")
    walk.says(phone, "1 late")
    words = dict(Attendance.objects.values_list("person__first_name", "word"))
    assert words == {"Ines": "here", "Sam": "late", "Tobias": "told-us"}
    hand.button("Undo", within=phone.locator(".says__who", has_text="Sam"))
    phone.locator("p", has_text="1 late").wait_for(state="hidden")
    assert Attendance.objects.get(person=room.sam).word == "here"
    looked_at(phone)

    # The health note is one tap away.
    hand.link("the emergency note of Sam")
    walk.says(phone, "Asthma: the inhaler is in the blue bag.")
    looked_at(phone)
    hand.link("Register", within=phone.locator("main"))

    # Five pieces: two mugs alike are two taps, a bowl is one.
    hand.link("New pieces")
    walk.says(phone, "What did they make?")
    looked_at(phone)
    hand.link("Ines", within=phone.locator("main"))
    with hand.counting() as taps:
        hand.choose("2", within=phone.locator(".seg"))
        hand.button("Mug")
        walk.says(phone, "Scratch these into the foot")
        hand.button("Bowl")
        phone.locator(".made-list > li:nth-child(3)").wait_for()
    assert taps[0] == 3, "three pieces in three taps"
    looked_at(phone)
    photographs(hand)
    hand.link("Sam", within=phone.locator("main"))
    walk.says(phone, "What did Sam")
    hand.choose("2", within=phone.locator(".seg"))
    hand.button("Figure")
    walk.says(phone, "Scratch these into the foot")
    pieces = Piece.objects.filter(session=tonight)
    made = sorted(pieces.values_list("maker__first_name", "form"))
    assert made == [("Ines", "bowl"), ("Ines", "mug"), ("Ines", "mug"), ("Sam", "figure"), ("Sam", "figure")]
    assert Photo.objects.filter(piece__maker=room.ines, piece__session=tonight).count() == 1

    # The ware board goes to its shelf by one press, and the slips of the class are printed together.
    hand.link("Thursday evening", within=phone.locator("main"))
    walk.says(phone, "5 new pieces")
    hand.button("Damp cupboard")
    walk.says(phone, "5 pieces put on Damp cupboard")
    assert set(pieces.values_list("shelf__name", flat=True)) == {"Damp cupboard"}
    looked_at(phone)
    hand.link("Print 5 slips of this class")
    phone.wait_for_url("**/print/slips/?meeting=*")
    assert phone.locator("main input[type=checkbox]:checked").count() == 5
    phone.go_back()
    walk.says(phone, "5 new pieces")

    # What goes home: Ines is here, Tobias is not.
    hand.link("Hand over", within=phone.get_by_label("This class"))
    walk.says(phone, "2 pieces can go home")
    assert "Tobias" not in walk.body(phone)
    looked_at(phone)
    hand.button("Hand over to Ines")
    walk.says(phone, "Handed over: 2 pieces")
    home = Piece.objects.filter(maker=room.ines, stage="collected")
    assert home.count() == 2
    assert Event.objects.filter(piece__in=home, kind=Event.Kind.COLLECTED, by=room.maud).count() == 2
    looked_at(phone)


def photographs(hand: walk.Hand) -> None:
    """The newest piece: one tap opens the camera, and the photo is kept without a second."""
    page = hand.page
    first = page.locator(".made-list > li").first
    with page.expect_file_chooser() as camera:
        hand.tap(first.locator(".made-photo label"))
    with page.expect_navigation():
        camera.value.set_files(walk.picture_file(walk.picture()))
    first.get_by_text("1 photo").wait_for()


def test_without_a_script_it_is_the_same_register(
    open_page: Callable[..., Any], room: Any, tonight: Session
) -> None:
    page = open_page(PHONE, java_script_enabled=False)
    sign_in_as(page, room.maud)
    page.goto(f"/meetings/{tonight.code}/")
    row = page.locator(".says__who", has_text="Ines")
    row.get_by_role("button", name="Here", exact=True).click()
    page.locator("h1", has_text="1 of 3 is here").wait_for()
    assert row.get_by_role("button", name="Here", exact=True).get_attribute("aria-pressed") == "true"
