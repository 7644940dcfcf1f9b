"""One pot all the way: from wet clay through two firings to its maker's hands.

On a phone Maud, the tutor, does everything; on a desktop Ines enters her bowl herself and the story is short.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from studio.imaging.marks_drawn import strokes
from studio.models import Charge, Event, Firing, Notice, Piece, SignInCode
from studio.notifications import deliver
from tests import factories
from tests.journeys import paper, walk
from tests.support.browser import DESK, PHONE, sign_in_as, wait_until
from tests.support.smtp import SmtpSink


@pytest.fixture
def tobias_made_a_bowl(room: Any, clock: walk.Clock) -> Piece:
    """Another maker's pot, dry for weeks, that shares the kiln with this one."""
    clock.back(days=30)
    bowl = factories.piece(
        maker=room.tobias, stage="bone-dry", form="bowl", width_mm=160, depth_mm=160, height_mm=70
    )
    room.bowl = bowl
    return bowl


def test_one_pot_all_the_way_on_a_phone(
    phone: Any,
    open_page: Callable[..., Any],
    room: Any,
    clock: walk.Clock,
    smtp_sink: SmtpSink,
    live: Any,
    tobias_made_a_bowl: Piece,
    tmp_path: Path,
) -> None:
    bowl = tobias_made_a_bowl
    hand = walk.Hand(phone)

    # Wet: Maud enters Ines's mug on the evening it was thrown.
    clock.back(days=16)
    walk.signs_in_by_password(phone, room.maud)
    with hand.counting() as taps:
        hand.link("New piece")
        hand.choose("Ines Arkwell")
        hand.choose("Mug")
        phone.get_by_label("Across").fill("9.5")
        phone.get_by_label("Tall").fill("10,5")
        hand.button("Save and get its mark")
    assert taps[0] <= 4, "a new mug is four taps and the sizes"
    mark = walk.mark_shown(phone)
    walk.says(phone, "Mug by Ines Arkwell. 9.5 cm across, 10.5 cm tall, wet. Buff stoneware.")

    # Its slip: printed, and read back from the paper by the phone's own camera.
    hand.link("Print its slip")
    hand.button("Show the pages")
    walk.says(phone, "Slips, 1 A4 page")
    [printed] = paper.codes_on_paper(phone)
    assert "Mug, Ines A." in paper.words_on_paper(phone)
    drawn = {stroke.get_attribute("d") for stroke in phone.locator(".sheets__pages path").all()}
    assert {strokes(sign) for sign in mark} <= drawn, "the mark stands on it in huge letters"
    hand.button("It came out")
    walk.says(phone, "Written down as printed")
    phone.goto(printed)
    assert walk.heading(phone) == "Mug"
    assert mark in phone.title()
    code = walk.code_of(phone)

    # It dries on the shelf.
    hand.button("Leather-hard", exact=True)
    walk.says(phone, "Leather-hard since")
    clock.passes(days=3)
    walk.moves_on(phone, code, "Bone dry")

    # Bisque.
    clock.passes(days=1)
    bisque = walk.plans_a_firing(phone, "Bisque firing")
    walk.puts_in(phone, mark, bowl.mark)
    walk.lights(phone, "Bertha")
    clock.passes(hours=2)
    walk.notes_a_temperature(phone, 214)
    lit_at = Firing.objects.get(number=bisque).lit_at
    clock.passes(hours=9)
    walk.reads_in(
        phone, [(lit_at + timedelta(hours=hour), 90 * hour + 20) for hour in (3, 5, 7, 9)], name="bertha.csv"
    )
    walk.ends_the_firing(phone)

    # Too hot to open, and the page says why; the next evening it is cool enough.
    walk.notes_a_temperature(phone, 312)
    assert phone.get_by_role("button", name="Open and unload").count() == 0
    walk.says(phone, "It is opened at 50 °C or below: sudden cold cracks ware and shelves, and hands burn.")
    clock.passes(hours=20)
    phone.reload()
    walk.notes_a_temperature(phone, 38)
    walk.says(phone, "It may be opened")
    hand.button("Open and unload")

    # Unloaded: one tap for a sound pot, two with a photo. The pages go through the kiln by themselves.
    shown = []
    for _ in range(2):
        shown.append(walk.mark_at_hand(phone))
        photo = walk.picture() if shown[-1] == mark else None
        with hand.counting() as taps:
            walk.answers(hand, "Sound", photo=photo)
        assert taps[0] == (2 if photo else 1)
    assert sorted(shown) == sorted([mark, bowl.mark])
    walk.says(phone, "All 2 out of Bertha")
    walk.closes(phone, kwh="41.5")
    the_shares_add_up(phone)
    bisque_share = Charge.objects.get(person=room.ines).amount_minor

    # Glazed, and into the kiln again.
    clock.passes(days=4)
    for pot in (code, bowl.code):
        walk.notes_a_glaze(phone, pot, "Tin Lustre")
        walk.says(phone, "Glazed since")
    glaze = walk.plans_a_firing(phone, "Glaze firing")
    walk.puts_in(phone, mark, bowl.mark)
    walk.lights(phone, "Bertha")
    clock.passes(hours=8)
    walk.notes_a_temperature(phone, 1222)
    walk.ends_the_firing(phone)
    clock.passes(days=1, hours=6)
    phone.reload()
    walk.notes_a_temperature(phone, 44)

    # Maud points the phone at the tag of the ready shelf, then unloads onto it.
    phone.goto(walk.tag_of(room.pickup))
    hand.button("Put pieces on Shelf 2")
    walk.says(phone, "Now going on Shelf 2")
    phone.goto(f"/firings/{glaze}/")
    hand.button("Open and unload")
    for photo in (walk.picture("#e6e2d6"), walk.picture("#9fb0ae")):
        with hand.counting() as taps:
            walk.answers(hand, "Sound", photo=photo)
        assert taps[0] <= 3
    walk.closes(phone, kwh="63")
    the_shares_add_up(phone)
    owed = sum(Charge.objects.filter(person=room.ines).values_list("amount_minor", flat=True))
    assert owed > bisque_share > 0

    # The notice waits for Maud; she reads it and lets it go, a quarter of an hour passes, and it is mailed.
    phone.goto("/")
    hand.link("Read it (Ines Arkwell)")
    letter = phone.frame_locator("iframe").locator("body")
    assert mark in letter.inner_text()
    assert smtp_sink.mails == [], "nothing is sent until the tutor says so"
    hand.button("Let it go")
    walk.says(phone, "you have let these go")
    clock.today()
    with walk.mail_worker(smtp_sink, live.url, tmp_path):
        mail = walk.mail_to(smtp_sink, room.ines.email, "ready")
        for words in (mail.text, mail.html):
            assert mark in words
            assert "Shelf 2" in words
            assert "left of the door" in words
            assert owed == walk.pence(re.search(r"account stands at [^.]*\.\d\d", words)[0])
        assert [room.tobias.email] not in [list(sent.recipients) for sent in smtp_sink.mails]

        # Ines asks for a code on her own phone. A mail scanner opens the link in it first.
        theirs = open_page(PHONE, touch=True)
        walk.asks_for_a_code(theirs, room.ines.email)
        code_mail = walk.mail_to(smtp_sink, room.ines.email, "your way in")
        [link] = [url for url in walk.links_in(code_mail.text) if "/enter/" in url]
        scanner = open_page(PHONE)
        scanner.goto(link)
        scanner.goto("/")
        walk.says(scanner, "Sign in to see your pieces")
        assert not SignInCode.objects.filter(used_at__isnull=False).exists()
        walk.types_the_code(theirs, walk.code_in(code_mail))

    # She sees that it is ready, where it stands, both photos and what she owes.
    walk.says(theirs, "ready")
    walk.says(theirs, "Shelf 2, left of the door")
    walk.says(theirs, "Tuesdays and Thursdays, 10:00 to 20:00")
    her = walk.Hand(theirs)
    her.tap(theirs.locator(".stander", has_text=mark))
    walk.says(theirs, "Ready since")
    shown = theirs.locator(".strip img").evaluate_all("images => images.map(image => image.src)")
    assert len(set(shown)) == 2, "one of them after the bisque firing and before the glaze firing"
    loaded = "[...document.querySelectorAll('.strip img')].every(i => i.complete && i.naturalWidth > 0)"
    theirs.locator(".strip").last.scroll_into_view_if_needed()
    wait_until(theirs, loaded)
    walk.says(theirs, "Your share of the firings")
    theirs.goto("/my/account/")
    assert walk.pence(theirs.locator(".balance").inner_text()) == owed

    # She comes for it: Maud types the mark, hands it over, takes it back and hands it over again.
    phone.goto("/pickup/")
    phone.get_by_label("Scan a slip, or type marks").fill(mark.lower())
    hand.button("Add", exact=True)
    assert walk.pence(phone.get_by_text("Still owes").inner_text()) == owed
    hand.button("Hand over 1 piece")
    walk.says(phone, "Handed over: 1 piece")
    hand.button("Undo")
    walk.says(phone, "The hand-over is undone")
    assert Piece.objects.get(code=code).stage == "ready"
    phone.get_by_label("Scan a slip, or type marks").fill(mark)
    hand.button("Add", exact=True)
    hand.button("Hand over 1 piece")
    walk.says(phone, "Handed over: 1 piece")

    theirs.goto(f"/pieces/{code}/")
    walk.says(theirs, "Collected since")
    happened = " ".join(Event.objects.filter(piece__code=code).order_by("id").values_list("kind", flat=True))
    assert happened == ("made moved moved lit unloaded glazes lit unloaded collected undone collected"), (
        "each act is one event, and nothing is written over"
    )


def test_a_student_enters_their_own_on_a_desktop(
    desk: Any, open_page: Callable[..., Any], room: Any, clock: walk.Clock, smtp_sink: SmtpSink, live: Any
) -> None:
    # Ines has made a planter that will be bisque only, and enters it herself with a photo.
    clock.back(days=9)
    sign_in_as(desk, room.ines)
    desk.goto("/")
    hers = walk.Hand(desk)
    with hers.counting() as taps:
        hers.link("Enter a new piece")
        hers.choose("Planter")
        desk.get_by_label("Across").fill("14")
        desk.get_by_label("Tall").fill("12.5")
        desk.locator("#id_photo").set_input_files(walk.picture_file(walk.picture("#7a4b39")))
        hers.opens("More about it")
        hers.choose("Bisque only")
        hers.button("Save and get its mark")
    assert taps[0] == 5
    mark = walk.mark_shown(desk)
    hers.link("Its page")
    walk.says(desk, "Wet since")
    code = walk.code_of(desk)

    # Maud finds it by its mark, dries it, fires it and unloads it with a spur to grind.
    office = open_page(DESK)
    sign_in_as(office, room.maud)
    maud = walk.Hand(office)
    office.goto("/scan/")
    office.get_by_label("Scan, or type a mark").fill(mark)
    office.keyboard.press("Enter")
    walk.says(office, "Wet since")
    maud.button("Bone dry", exact=True)
    walk.says(office, "Bone dry since")
    clock.passes(days=2)
    number = walk.plans_a_firing(office, "Bisque firing")
    walk.puts_in(office, mark)
    walk.lights(office, "Bertha")
    clock.passes(hours=11)
    walk.notes_a_temperature(office, 1061)
    walk.ends_the_firing(office)
    clock.passes(days=1)
    office.reload()
    walk.notes_a_temperature(office, 41)
    maud.button("Open and unload")
    assert walk.mark_at_hand(office) == mark
    wait_until(office, "document.querySelector('.unload__photo img').naturalWidth > 0")
    maud.choose("Sharp spur")
    walk.answers(maud, "Sound")
    walk.closes(office, kwh="40")
    the_shares_add_up(office)
    assert not Notice.objects.exists(), "nobody is told before the spur is ground"

    # Ground, it is ready; all notices are let go at once, and the mail arrives.
    office.goto(f"/pieces/{code}/")
    walk.says(office, f"firing {number}")
    maud.button("Done", exact=True)
    walk.says(office, "Ready since")
    office.goto("/notices/")
    maud.button("Send it", exact=True)
    walk.says(office, "One notice is on the way")
    clock.today()
    deliver.deliver_due(worker="journey")
    assert mark in walk.mail_to(smtp_sink, room.ines.email, "ready").text

    # Ines comes for it, and both pages say so.
    desk.goto("/")
    walk.says(desk, mark)
    office.goto(f"/pieces/{code}/")
    maud.button("Hand it over")
    walk.says(office, "Still owes £")
    maud.button("Hand over 1 piece")
    walk.says(office, "Handed over: 1 piece")
    desk.goto(f"/pieces/{code}/")
    walk.says(desk, "Collected since")
    assert desk.locator(".strip img").count() == 1


def the_shares_add_up(page: Any) -> None:
    """What each pays, the studio with its part included, is the cost, to the penny."""
    cost = walk.pence(walk.heading(page))
    pays = page.locator("section", has=page.get_by_role("heading", name="Who pays what"))
    sums = pays.locator("tbody tr td:last-child").all_inner_texts()
    assert len(sums) >= 2
    assert sum(walk.pence(words) for words in sums) == cost
