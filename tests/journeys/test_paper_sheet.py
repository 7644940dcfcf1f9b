"""The load on one sheet of paper, ticked in the shed without a phone, typed in at the desk by keyboard."""

from __future__ import annotations

from typing import Any

import pypdfium2

from studio.models import Piece, UnloadAnswer
from tests import factories
from tests.journeys import paper, walk
from tests.support.browser import check_accessible, check_fits, sign_in_as


def test_forty_pieces_on_one_sheet_typed_in_by_keyboard_alone(desk: Any, room: Any) -> None:
    pieces = [factories.piece(maker=room.ines, stage="glazed") for _ in range(40)]
    load = factories.firing("unloading", kiln=room.kiln, pieces=pieces, layers=4)
    sign_in_as(desk, room.maud)
    desk.goto(f"/firings/{load.number}/")
    hand = walk.Hand(desk)
    hand.link("A sheet to tick")
    walk.says(desk, "All go on shelf")
    check_accessible(desk)
    sheets = pypdfium2.PdfDocument(desk.pdf(prefer_css_page_size=True, print_background=True))
    assert len(sheets) == 1
    assert [round(side) for side in sheets[0].get_size()] == [595, 842], "A4 in points"
    words = paper.words_on_paper(desk)
    assert all(piece.mark in words for piece in pieces)
    assert "Okafor" not in words
    assert "Props out".lower() in words.lower()

    hand.link("Type it in")
    walk.says(desk, "40 to go")
    check_accessible(desk)
    first, second, third = (piece.mark for piece in pieces[:3])
    keys = desk.keyboard
    desk.get_by_label("All go on").focus()
    keys.type("Shelf 2")
    for mark, seen, letters in ((first, "s", ""), (second, "f", "A"), (third[:2] + "?", "l", "2")):
        keys.press("Tab")
        keys.type(mark.lower())
        keys.press("Tab")
        keys.type(seen)
        keys.press("Tab")
        keys.type(letters)
        keys.press("Tab")  # past the shelf
        keys.press("Tab")  # past the note
    keys.press("Enter")
    # The third was misread: nothing is saved, and all of it still stands there.
    walk.says(desk, "No piece in this load is marked")
    assert not UnloadAnswer.objects.exists()
    check_accessible(desk)
    desk.locator("#id_line2-mark").fill(third)
    keys.press("Enter")
    walk.says(desk, "3 places are answered")
    assert {one.outcome for one in UnloadAnswer.objects.all()} == {"sound", "flawed", "lost"}
    assert Piece.objects.get(mark=first).shelf == room.pickup
    assert Piece.objects.get(mark=third).stage == "lost"
    hand.button(f"Undo {second}")
    walk.says(desk, f"{second} is open again")
    for width in (390, 320):
        desk.set_viewport_size({"width": width, "height": 844})
        check_fits(desk)
    desk.goto(f"/firings/{load.number}/unload/paper/")
    check_fits(desk)
