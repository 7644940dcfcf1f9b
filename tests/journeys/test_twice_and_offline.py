"""Fingers that press twice, phones without a signal, two people at one kiln: one event each, nothing lost."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from studio.models import Event, Firing, Payment, Piece, UnloadAnswer
from tests import factories
from tests.journeys import walk
from tests.support.browser import DESK, PHONE, Watch, sign_in_as, wait_until


def test_pressing_twice_and_going_back_enters_one_pot(desk: Any, room: Any, live: Any) -> None:
    sign_in_as(desk, room.maud)
    desk.goto("/pieces/new/")
    hand = walk.Hand(desk)
    hand.choose("Ines Arkwell")
    hand.choose("Mug")
    desk.get_by_label("Across").fill("9")
    desk.get_by_label("Tall").fill("10")
    sent: list[Any] = []
    desk.on("request", lambda request: request.method == "POST" and sent.append(request))
    save = desk.get_by_role("button", name="Save and get its mark")
    save.dblclick(delay=5)
    mark = walk.mark_shown(desk)
    assert [pot.mark for pot in Piece.objects.all()] == [mark]

    # Back and pressed once more: the form is a new one, and says what it needs.
    desk.go_back()
    walk.says(desk, "New piece")
    assert desk.get_by_label("Across").input_value() == ""
    save.click()
    walk.says(desk, "Nothing has been saved yet")

    # The very same form sent a second time, as some browsers do when they are reopened: the same pot.
    again = desk.request.post(
        sent[0].url, data=sent[0].post_data_buffer, headers={"content-type": sent[0].headers["content-type"]}
    )
    assert again.url.endswith(f"/pieces/{Piece.objects.get().code}/made/")
    assert Piece.objects.count() == 1
    assert Event.objects.count() == 1

    # The same with what is done on a piece's page, and with money.
    pot = Piece.objects.get()
    desk.goto(f"/pieces/{pot.code}/")
    desk.get_by_role("button", name="Leather-hard", exact=True).dblclick(delay=5)
    walk.says(desk, "Leather-hard since")
    assert pot.events.filter(kind="moved").count() == 1
    desk.goto(f"/accounts/{room.ines.code}/")
    pay = desk.locator("section", has=desk.get_by_role("heading", name="Note a payment"))
    pay.get_by_label("Amount").fill("12.50")
    pay.get_by_role("button", name="Note it").dblclick(delay=5)
    walk.says(desk, "−£12.50")
    assert Payment.objects.count() == 1


def test_without_a_signal_nothing_typed_is_lost(phone: Any, room: Any, watch: Watch, live: Any) -> None:
    sign_in_as(phone, room.maud)
    phone.goto("/pieces/new/")
    hand = walk.Hand(phone)
    hand.choose("Ines Arkwell")
    hand.choose("Jug")
    phone.get_by_label("Across").fill("11,5")
    phone.get_by_label("Tall").fill("17")
    hand.opens("More about it")
    phone.get_by_label("Notes").fill("The handle was pulled twice.")
    phone.locator("#id_photo").set_input_files(walk.picture_file(walk.picture()))

    phone.context.set_offline(True)
    hand.button("Save and get its mark")
    walk.says(phone, "There is no signal. Nothing is lost")
    assert phone.get_by_label("Across").input_value() == "11,5"
    assert phone.get_by_label("Notes").input_value() == "The handle was pulled twice."
    hand.button("Save and get its mark")
    assert Piece.objects.count() == 0

    phone.context.set_offline(False)
    hand.button("Save and get its mark")
    mark = walk.mark_shown(phone)
    jug = Piece.objects.get()
    assert (jug.mark, jug.width_mm, jug.height_mm, jug.notes) == (
        mark,
        115,
        170,
        "The handle was pulled twice.",
    )
    assert (jug.events.count(), jug.photos.count()) == (1, 1)


def test_two_people_at_one_kiln(phone: Any, open_page: Callable[..., Any], room: Any, live: Any) -> None:
    firing = factories.firing(Firing.State.UNLOADING, kiln=room.kiln, pieces=3)
    theirs = open_page(PHONE, touch=True)
    for page, person in ((phone, room.maud), (theirs, room.ivo)):
        sign_in_as(page, person)
        page.goto(f"/firings/{firing.number}/unload/")
    mark = walk.mark_at_hand(phone)
    assert walk.mark_at_hand(theirs) == mark

    # Ivo answers; within seconds Maud sees it, and can't answer that piece a second time.
    ivo = walk.Hand(theirs)
    walk.answers(ivo, "Sound")
    walk.says(phone, f"{mark} is answered: sound, by Ivo at")
    assert not phone.locator(".verdict").is_visible()
    assert UnloadAnswer.objects.get().outcome == "sound"
    maud = walk.Hand(phone)
    maud.button("Go on", exact=True)

    # Both press at once, before either phone has heard of the other: the first stands, the second is told.
    second = walk.mark_at_hand(phone)
    assert second == walk.mark_at_hand(theirs) != mark
    phone.wait_for_timeout(walk.THUMB_RESTS_MS)
    theirs.route("**/deliver/", lambda route: route.abort())
    theirs.route("**/hello.json", lambda route: route.abort())
    ivo.button("Lost", within=theirs.locator(".verdict"), exact=True)
    ivo.button("Cracked", exact=True)
    walk.answers(maud, "Sound")
    theirs.unroute_all()
    theirs.evaluate("dispatchEvent(new Event('online'))")
    wait_until(theirs, "document.querySelector('main').dataset.needs === '1'")
    ivo.tap(theirs.locator("[data-part=kept-button]"))
    walk.says(theirs, f"Maud answered {second} at")
    walk.says(theirs, ": sound. Undo that first if it was wrong.")
    assert UnloadAnswer.objects.filter(undone_at__isnull=True).count() == 2
    ivo.button("Take it off")
    ivo.button("Really: it is given up")
    walk.all_sent(theirs)
    ivo.button("Go on unloading")
    walk.answers(ivo, "Sound")
    walk.says(theirs, "All 3 out of Bertha")

    # Maud closes it on two pages at once: one settlement.
    office = open_page(DESK)
    sign_in_as(office, room.maud)
    phone.goto(f"/firings/{firing.number}/reconcile/")
    office.goto(f"/firings/{firing.number}/reconcile/")
    walk.closes(office, kwh="60")
    phone.get_by_label("Or electricity used, kWh").fill("61")
    maud.button("Close it")
    phone.wait_for_url(re.compile("/shares/"))
    assert firing.settlements.count() == 1
