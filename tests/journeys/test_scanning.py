"""Pointing a phone at paper: the shelf first, then piece after piece; and what a stranger gets to see."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from studio.models import Event, Tag
from tests import factories
from tests.journeys import paper, walk
from tests.support.browser import PHONE, sign_in_as


def test_shelf_first_then_piece_after_piece(
    phone: Any, open_page: Callable[..., Any], room: Any, live: Any
) -> None:
    mug, jug, bowl = (
        factories.piece(maker=room.ines, form=form, stage="leather-hard", shelf=room.pickup)
        for form in ("mug", "jug", "bowl")
    )
    before = Event.objects.count()

    # The tags on the wall are printed and read back from the paper.
    sign_in_as(phone, room.ivo)
    hand = walk.Hand(phone)
    phone.goto("/print/tags/")
    hand.button("Show the pages")
    walk.says(phone, "Shelf tags, 1 A4 page")
    on_the_wall = paper.codes_on_paper(phone)
    assert sorted(on_the_wall) == sorted(walk.tag_of(shelf) for shelf in (room.damp, room.pickup))

    # Ivo points his camera at the damp cupboard's tag, then at the slips of two pots.
    phone.goto(walk.tag_of(room.damp))
    assert walk.heading(phone) == "Damp cupboard"
    hand.button("Put pieces on Damp cupboard")
    walk.says(phone, "Now going on Damp cupboard")
    for pot in (mug, jug):
        phone.goto(walk.tag_of(pot))
        assert Event.objects.filter(piece=pot).count() == 1, "looking changes nothing"
        hand.button(f"Put {pot.mark} on Damp cupboard")
        walk.says(phone, f"{pot.mark}: on Damp cupboard")

    # The third with a hand scanner, which types the slip's address and presses Enter.
    phone.goto("/scan/")
    phone.keyboard.type(walk.tag_of(bowl))
    phone.keyboard.press("Enter")
    walk.says(phone, "Just put away")
    assert bowl.mark in phone.locator(".jobs li").first.inner_text()
    assert Event.objects.count() == before + 3

    phone.goto(walk.tag_of(room.damp))
    for pot in (mug, jug, bowl):
        walk.says(phone, pot.mark)

    # One was the wrong one.
    phone.goto("/scan/")
    hand.button("Undo", within=phone.locator(".jobs li").first)
    walk.says(phone, "on Shelf 2")
    bowl.refresh_from_db()
    assert bowl.shelf == room.pickup

    # A passer-by points their phone at the slip: the studio's name, and how to sign in. Nothing else.
    passer_by = open_page(PHONE, touch=True)
    known, unknown = [], []
    for address, seen in ((walk.tag_of(mug), known), (f"{live.url}/Q/ZZZZZZZZZZZZ", unknown)):
        answer = passer_by.goto(address)
        seen += [answer.status, walk.body(passer_by)]
    assert known == [200, "Skip to the page Quillmere Clay Room Quillmere Clay Room Sign in"]
    assert unknown == known, "a stranger cannot learn which codes there are"

    # Ines signs in from there and is on her mug's page at once.
    passer_by.goto(walk.tag_of(mug))
    walk.Hand(passer_by).link("Sign in")
    assert f"/Q/{Tag.objects.get(piece=mug).code}" in passer_by.locator("#id_next").get_attribute("value")
    sign_in_as(passer_by, room.ines)
    passer_by.reload()
    walk.says(passer_by, "Leather-hard since")
    assert mug.mark in passer_by.title()
