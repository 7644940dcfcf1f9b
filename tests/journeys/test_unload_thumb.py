"""One thumb, dusty: few taps, nothing small, and the next piece before the finger has left the glass."""

from __future__ import annotations

import statistics
from typing import Any

import pytest

from studio.models import FinishingJob, Flaw, Photo, UnloadAnswer
from tests.journeys import shed, walk
from tests.support.browser import check_accessible, check_fits, sign_in_as, wait_until

LEAST_PX = 60
TOO_SMALL = """() => [...document.querySelectorAll('main :is(a, button, input, select, summary)')]
    .map(e => [e, e.matches('[type=checkbox], [type=radio], [type=file]') ? e.closest('label') : e])
    .filter(([e, target]) => target.checkVisibility() && target.getClientRects().length)
    .map(([e, target]) => [target, target.getBoundingClientRect()])
    .filter(([target, box]) => box.width < LEAST || box.height < LEAST)
    .map(([target, box]) => `${target.textContent.trim().slice(0, 20)} ${target.className}`
        + ` ${box.width.toFixed(1)} × ${box.height.toFixed(1)}`)""".replace("LEAST", str(LEAST_PX - 0.2))


def test_taps_are_counted(phone: Any, room: Any, live: Any) -> None:
    firing = shed.a_load(room, pieces=6, photos_of=6)
    sign_in_as(phone, room.ivo)
    hand = shed.opens(phone, firing)
    with hand.counting() as shelf:
        walk.unloads_onto(hand, "Shelf 2")
    assert shelf[0] == 2, "once; it stays chosen"
    for photo, most in ((None, 1), (walk.picture(), 3)):
        with hand.counting() as taps:
            walk.answers(hand, "Sound", photo=photo)
        assert taps[0] <= most
    # A flaw is one tap and Flawed another; a finishing job one tap and Sound another; a loss and its cause.
    with hand.counting() as taps:
        hand.choose("Crawling")
        walk.answers(hand, "Flawed")
    assert taps[0] == 2
    with hand.counting() as taps:
        hand.choose("Sand the foot")
        walk.answers(hand, "Sound")
    assert taps[0] == 2
    phone.wait_for_timeout(walk.THUMB_RESTS_MS)
    with hand.counting() as taps:
        hand.button("Lost", within=phone.locator(".verdict"))
        hand.button("Cracked", exact=True)
        walk.all_sent(phone)
    assert taps[0] == 2
    assert Photo.objects.filter(firing=firing).count() == 1
    assert Flaw.objects.get().kind == "crawling"
    assert FinishingJob.objects.get().kind == "sand-foot"
    shelves = UnloadAnswer.objects.exclude(outcome="lost").values_list("shelf__name", flat=True)
    assert set(shelves) == {"Shelf 2"}


def test_a_bouncing_thumb_answers_one_piece(phone: Any, room: Any, live: Any) -> None:
    firing = shed.a_load(room, pieces=3)
    sign_in_as(phone, room.ivo)
    shed.opens(phone, firing)
    phone.wait_for_timeout(walk.THUMB_RESTS_MS)
    phone.evaluate("for (let n = 0; n < 4; n += 1) document.querySelector('.verdict .sound').click()")
    phone.wait_for_timeout(100)
    phone.evaluate("document.querySelector('.verdict .sound').click()")
    walk.all_sent(phone)
    assert UnloadAnswer.objects.count() == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_is_small_and_all_can_be_read(phone: Any, room: Any, live: Any, scheme: str) -> None:
    firing = shed.a_load(room, pieces=4, photos_of=1)
    sign_in_as(phone, room.ivo)
    phone.emulate_media(color_scheme=scheme)
    hand = shed.opens(phone, firing)
    # One that needs somebody, so that the list of those is looked at too.
    phone.route("**/unload/deliver/", lambda route: route.fulfill(status=400, body="no"))
    walk.answers(hand, "Sound", sent=False)
    shed.needs(phone, 1)

    def look() -> None:
        for width in (390, 320):
            phone.set_viewport_size({"width": width, "height": 844})
            assert phone.evaluate(TOO_SMALL) == [], phone.locator("main").get_attribute("data-open")
            check_fits(phone)
        phone.set_viewport_size({"width": 390, "height": 844})
        check_accessible(phone)

    look()
    for opens, closes in (
        ("[data-do=other]", None),
        ("[data-do=shelf]", "[data-drawer=shelf] [data-do=shut]"),
        (".unload__map", "[data-drawer=pieces] [data-do=shut]"),
        (".verdict .lost", "[data-drawer=lost] [data-do=shut]"),
        ("[data-part=kept-button]", "[data-drawer=kept] [data-do=shut]"),
    ):
        phone.wait_for_timeout(walk.THUMB_RESTS_MS)
        phone.locator(opens).first.tap()
        look()
        if closes:
            phone.locator(closes).tap()
    phone.unroute_all()
    phone.locator("[data-part=kept-button]").tap()
    phone.locator(".need [data-do=again]").tap()
    walk.all_sent(phone)
    phone.locator("[data-drawer=kept] [data-do=shut]").tap()
    phone.locator(".unload__map").tap()
    phone.locator(".piece-row", has_text="sound").tap()
    look()


#: Latency and throughput of the usual profile for a slow mobile line: 2 s and 400 kbit/s.
SLOW = {"offline": False, "latency": 2000, "downloadThroughput": 50_000, "uploadThroughput": 50_000}

MEASURE = """() => {
    const main = document.querySelector('main');
    const mark = () => document.querySelector('#piece-h').textContent;
    window.taken = [];
    document.querySelector('.verdict .sound').addEventListener('click', () => {
        const began = performance.now(), before = mark();
        const look = () => {
            const next = mark() !== before || main.dataset.open === 'out';
            if (next) window.taken.push(performance.now() - began);
            else requestAnimationFrame(look);
        };
        requestAnimationFrame(look);
    }, {capture: true});
}"""


@pytest.mark.parametrize("pieces", [10, pytest.param(40, marks=pytest.mark.full)])
def test_the_next_piece_waits_for_no_network(phone: Any, room: Any, live: Any, pieces: int) -> None:
    firing = shed.a_load(room, pieces=pieces, photos_of=pieces // 2, layers=4)
    sign_in_as(phone, room.ivo)
    shed.opens(phone, firing)
    phone.context.new_cdp_session(phone).send("Network.emulateNetworkConditions", SLOW)
    phone.evaluate(MEASURE)
    for number in range(pieces):
        phone.wait_for_timeout(walk.THUMB_RESTS_MS)
        phone.locator(".verdict .sound").tap()
        # A thumb that comes down before the next piece has stood there for a moment counts for nothing.
        wait_until(phone, f"window.taken.length === {number + 1}")
    taken = phone.evaluate("window.taken")
    middle = statistics.median(taken)
    print(f"{pieces} pieces: from tap to next piece {middle:.0f} ms (median), {max(taken):.0f} ms (longest)")
    assert middle < 100
    walk.says(phone, f"All {pieces}")
    until = 0
    while UnloadAnswer.objects.count() < pieces and until < 300:
        phone.wait_for_timeout(200)
        until += 1
    assert UnloadAnswer.objects.count() == pieces
