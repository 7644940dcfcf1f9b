"""The phone's camera on the scan and pickup pages: printed paper before it, and no camera at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from studio.models import Event
from tests import factories
from tests.journeys import film, walk
from tests.support.browser import (
    FLAGS,
    PATIENCE_MS,
    PHONE,
    Watch,
    check_accessible,
    check_fits,
    find_browser,
    sign_in_as,
    wait_until,
)

#: What a browser with a reader of its own answers, by what the test says is in view.
OWN_READER = """
    window.inView = [];
    window.BarcodeDetector = class {
        static async getSupportedFormats() { return ['ean_13', 'qr_code']; }
        constructor({formats}) { if (formats.join() !== 'qr_code') throw new Error('QR only'); }
        async detect(video) {
            const [middle, y] = [video.videoWidth / 2, video.videoHeight / 2];
            const box = (part = 0.5) => ({x: 2 * middle * part, y, width: 0, height: 0});
            return window.inView.map(([rawValue, x]) => ({rawValue, boundingBox: box(x)}));
        }
    };
"""
#: Keeps what a person would hear, feel and see, in order.
SENSES = """
    window.felt = []; window.heard = []; window.shown = [];
    navigator.vibrate = pattern => window.felt.push(pattern);
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...at) {
        window.heard.push(this.frequency.value); start.apply(this, at);
    };
    document.addEventListener('DOMContentLoaded', () => {
        const screen = document.querySelector('[data-signal]');
        if (screen) new MutationObserver(() => {
            const words = screen.innerText.replace(/\\s+/g, ' ').trim();
            if (!screen.hidden) window.shown.push(screen.className.split('--')[1] + ' ' + words);
        }).observe(screen, {attributes: true, attributeFilter: ['hidden', 'class']});
    });
"""


@pytest.fixture
def phone_with(browser: Any, live: Any, watch: Watch) -> Iterator[Callable[..., Any]]:
    """A phone with a camera: ``phone_with(film)`` shows a film, without one the browser's test picture;
    ``camera=False`` has none, ``allowed=False`` refuses it, ``own_reader`` reads codes itself."""
    opened: list[Any] = []

    def make(
        shows: Path | None = None, *, camera: bool = True, allowed: bool = True, own_reader: bool = False
    ) -> Any:
        flags = [*FLAGS]
        if camera:
            flags.append("--use-fake-device-for-media-stream")
        if shows:
            flags.append(f"--use-file-for-fake-video-capture={shows}")
        running = browser.browser_type.launch(executable_path=find_browser(), args=flags)
        opened.append(running)
        context = running.new_context(
            viewport=PHONE, base_url=live.url, locale="en-GB", has_touch=True, is_mobile=True,
            reduced_motion="reduce", permissions=["camera"] if allowed else [],
        )  # fmt: skip
        context.set_default_timeout(PATIENCE_MS)
        context.on("page", watch.over)
        page = context.new_page()
        page.add_init_script(SENSES)
        if own_reader:
            page.add_init_script(OWN_READER)
        return page

    yield make
    for running in opened:
        running.close()
    assert not watch.faults, "The browser complained:\n" + "\n".join(watch.faults)


def starts_the_camera(page: Any, *, engine: str) -> None:
    walk.Hand(page).button("Scan with the camera")
    wait_until(page, "document.querySelector('[data-camera]').dataset.engine")
    assert page.locator("[data-camera]").get_attribute("data-engine") == engine


def holds(page: Any, *things: Any) -> None:
    """For a browser with its own reader: what is before the camera, by text or [text, how far right]."""
    page.evaluate("codes => { window.inView = codes; }", [[t] if isinstance(t, str) else t for t in things])


def holds_nothing(page: Any) -> None:
    holds(page)
    page.wait_for_timeout(2200)


def said(page: Any) -> list[str]:
    return [" ".join(line.split()) for line in page.locator("[data-said] li").all_inner_texts()]


def test_printed_slips_and_tags_are_read_by_the_vendored_reader(
    phone_with: Callable[..., Any], desk: Any, room: Any, tmp_path: Path
) -> None:
    """Printed by Chromium as a PDF, looked at as paper, filmed, and read by the page’s own reader."""
    bowl, jug = (factories.piece(maker=room.ines, form=form, stage="bisqued") for form in ("bowl", "jug"))
    sign_in_as(desk, room.maud)
    labels: dict[str, Any] = {}
    for kind in ("tags", "slips"):
        desk.goto(f"/print/{kind}/")
        walk.Hand(desk).button("Show the pages")
        walk.says(desk, "A4 page")
        labels |= film.labels_on(desk)
    tag, first, second = (labels[walk.tag_of(thing)] for thing in (room.pickup, bowl, jug))
    shows = film.make(
        tmp_path / "bench.y4m",
        [(None, 1.5), (tag, 3), (None, 2.6), (first, 6), (None, 2.6), (second, 3), (None, 2.6)],
    )
    before = Event.objects.count()
    page = phone_with(shows)
    sign_in_as(page, room.ivo)
    page.goto("/scan/")
    starts_the_camera(page, engine="wasm")
    walk.says(page, "Now going on Shelf 2")
    wait_until(page, f"document.body.innerText.includes('{jug.mark} is on Shelf 2')", seconds=40)
    for pot in (bowl, jug):
        pot.refresh_from_db()
        assert pot.shelf == room.pickup
    # Six seconds before the camera, thirty readings: one event, and one line.
    assert Event.objects.count() == before + 2
    assert sum(f"{bowl.mark} is on" in line for line in said(page)) == 1
    assert page.evaluate("window.shown")[:3] == [
        "taken Shelf 2",
        f"taken Taken {bowl.mark}",
        f"taken Taken {jug.mark}",
    ]
    assert bowl.mark in page.locator("#scan-done").inner_text()
    check_accessible(page)


def test_each_outcome_is_heard_felt_and_seen(phone_with: Callable[..., Any], room: Any, live: Any) -> None:
    jug, in_the_kiln = factories.piece(maker=room.ines, stage="bisqued"), factories.piece(stage="glazed")
    factories.firing("firing", kiln=room.kiln, pieces=[in_the_kiln])
    page = phone_with(own_reader=True)
    sign_in_as(page, room.ivo)
    page.goto("/scan/")
    starts_the_camera(page, engine="browser")
    before = Event.objects.count()

    # Without a shelf a piece is only found, and the camera goes on.
    holds(page, walk.tag_of(jug))
    walk.says(page, f"Found {jug.mark}")
    assert page.locator("[data-said] a").first.get_attribute("href") == f"/pieces/{jug.code}/"
    holds_nothing(page)
    assert Event.objects.count() == before

    holds(page, walk.tag_of(room.damp))
    walk.says(page, "Now going on Damp cupboard")
    holds_nothing(page)
    holds(page, walk.tag_of(jug))
    walk.says(page, f"{jug.mark} is on Damp cupboard")
    page.wait_for_timeout(2500)  # it stays in view
    assert Event.objects.count() == before + 1
    holds_nothing(page)
    holds(page, walk.tag_of(jug))
    walk.says(page, f"{jug.mark} is on Damp cupboard already")
    assert Event.objects.count() == before + 1
    holds_nothing(page)
    holds(page, walk.tag_of(in_the_kiln))
    walk.says(page, "Unload the firing first")
    check_accessible(page)
    holds_nothing(page)
    holds(page, "WIFI:T:WPA;S:Clay Room;P:kiln1222;;")
    walk.says(page, "the code for a Wi-Fi network")
    holds_nothing(page)
    assert Event.objects.count() == before + 1

    shown = [one.split()[0] for one in page.evaluate("window.shown")]
    assert shown == ["taken", "taken", "taken", "taken", "refused", "unknown"]
    felt = page.evaluate("window.felt")
    assert len(felt) == 6
    assert felt[0] != felt[4] != felt[5]
    heard = page.evaluate("window.heard")
    assert heard[:4] == [heard[0]] * 4
    assert len(set(heard)) >= 4, "each outcome has its own tones"
    kept = said(page)
    assert len(kept) == 6, "what was said stays"
    check_fits(page)


def test_of_several_codes_in_view_the_one_in_the_middle_counts(
    phone_with: Callable[..., Any], room: Any
) -> None:
    bowl, jug = (factories.piece(maker=room.ines, stage="bisqued") for _ in range(2))
    page = phone_with(own_reader=True)
    sign_in_as(page, room.ivo)
    page.goto("/scan/")
    starts_the_camera(page, engine="browser")
    holds(page, [walk.tag_of(bowl), 0.1], [walk.tag_of(jug), 0.4])
    walk.says(page, f"Found {jug.mark}")
    page.wait_for_timeout(1500)
    assert len(said(page)) == 1
    holds(page, [walk.tag_of(bowl), 0.5], [walk.tag_of(jug), 0.9])
    walk.says(page, f"Found {bowl.mark}")
    assert len(said(page)) == 2


def test_without_a_signal_nothing_is_called_taken_and_all_is_sent_in_order(
    phone_with: Callable[..., Any], room: Any
) -> None:
    bowl, jug = (factories.piece(maker=room.ines, stage="bisqued") for _ in range(2))
    page = phone_with(own_reader=True)
    sign_in_as(page, room.ivo)
    page.goto("/scan/")
    starts_the_camera(page, engine="browser")
    before = Event.objects.count()
    page.context.set_offline(True)
    for thing in (room.damp, bowl, jug):
        holds(page, walk.tag_of(thing))
        page.wait_for_timeout(600)
        holds_nothing(page)
    walk.says(page, "3 scans are not sent")
    assert {one.split()[0] for one in page.evaluate("window.shown")} == {"not-sent"}
    assert Event.objects.count() == before
    check_accessible(page)
    page.context.set_offline(False)
    walk.says(page, f"{jug.mark} is on Damp cupboard")
    wait_until(page, "document.querySelector('[data-waiting]').hidden")
    for pot in (bowl, jug):
        pot.refresh_from_db()
        assert pot.shelf == room.damp
    assert Event.objects.count() == before + 2


def test_an_answer_that_is_no_answer_is_never_green(
    phone_with: Callable[..., Any], room: Any, watch: Watch
) -> None:
    """Signed out meanwhile, or the studio in trouble: the scan waits and says so."""
    watch.expect("500 for POST")
    bowl = factories.piece(maker=room.ines, stage="bisqued")
    page = phone_with(own_reader=True)
    sign_in_as(page, room.ivo)
    page.goto("/scan/")
    starts_the_camera(page, engine="browser")
    page.route(
        "**/scan/",
        lambda route: (
            route.fulfill(status=500, body="broken") if route.request.method == "POST" else route.continue_()
        ),
    )
    holds(page, walk.tag_of(bowl))
    walk.says(page, "The studio has trouble. It waits here.")
    page.unroute("**/scan/")
    cookies = page.context.cookies()
    page.context.clear_cookies()
    walk.Hand(page).button("Send again")
    walk.says(page, "sign in again in another tab")
    assert "taken" not in {one.split()[0] for one in page.evaluate("window.shown")}
    page.context.add_cookies(cookies)
    walk.Hand(page).button("Send again")
    walk.says(page, f"Found {bowl.mark}")


def test_the_basket_fills_by_camera(phone_with: Callable[..., Any], room: Any) -> None:
    ready = [factories.piece(maker=room.ines, stage="ready", shelf=room.pickup) for _ in range(2)]
    wet = factories.piece(maker=room.ines, stage="wet")
    page = phone_with(own_reader=True)
    sign_in_as(page, room.ivo)
    page.goto("/pickup/")
    starts_the_camera(page, engine="browser")
    for number, pot in enumerate(ready, start=1):
        holds(page, walk.tag_of(pot))
        walk.says(page, f"{pot.mark} is in the list, {number} in all")
    holds(page, walk.tag_of(wet))
    walk.says(page, "not ready, so it stays here")
    walk.says(page, "Hand over 2 pieces?")
    check_accessible(page)
    check_fits(page)
    walk.Hand(page).button("Hand over 2 pieces", within=page.locator(".handover"))
    walk.says(page, "Handed over: 2 pieces")
    # The camera was wanted, so it is there again; nobody pressed anything.
    wait_until(page, "document.querySelector('[data-camera]').dataset.state === 'on'")


def test_the_camera_stops_when_the_page_is_hidden_and_when_asked(
    phone_with: Callable[..., Any], room: Any
) -> None:
    page = phone_with(own_reader=True)
    sign_in_as(page, room.ivo)
    page.goto("/scan/")
    starts_the_camera(page, engine="browser")
    live = "document.querySelector('[data-camera-video]').srcObject?.active === true"
    assert wait_until(page, live)
    hide = """hidden => {
        Object.defineProperty(document, 'hidden', {value: hidden, configurable: true});
        document.dispatchEvent(new Event('visibilitychange'));
    }"""
    page.evaluate(hide, True)
    assert wait_until(page, f"!({live})")
    page.evaluate(hide, False)
    assert wait_until(page, live)
    walk.Hand(page).button("Stop the camera")
    assert wait_until(page, f"!({live})")
    page.reload()
    assert page.get_by_role("button", name="Scan with the camera").is_visible()
    assert page.evaluate("[sessionStorage.camera ?? null, localStorage.length]") == [None, 0]


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"allowed": False}, "The camera was refused. Allow it for this site"),
        ({"camera": False}, "No camera was found here"),
        ({"insecure": True}, "only to addresses that begin with https"),
    ],
)
def test_without_a_camera_the_page_says_what_to_do_and_typing_works(
    phone_with: Callable[..., Any], room: Any, how: dict[str, bool], words: str
) -> None:
    insecure = how.pop("insecure", False)
    bowl = factories.piece(maker=room.ines, stage="bisqued")
    page = phone_with(**how)
    if insecure:
        page.add_init_script("Object.defineProperty(window, 'isSecureContext', {value: false})")
    sign_in_as(page, room.ivo)
    page.goto("/scan/")
    walk.Hand(page).button("Scan with the camera")
    walk.says(page, words)
    check_accessible(page)
    check_fits(page)
    # A hand scanner types, wherever the cursor is.
    page.evaluate("document.activeElement.blur()")
    page.keyboard.type(walk.tag_of(room.damp))
    page.keyboard.press("Enter")
    walk.says(page, "Now going on Damp cupboard")
    page.get_by_label("Next piece").fill(bowl.mark.lower())
    walk.Hand(page).button("Put it there")
    walk.says(page, f"{bowl.mark} is on Damp cupboard")
    bowl.refresh_from_db()
    assert bowl.shelf == room.damp


def test_the_light_is_offered_where_the_camera_has_one(phone_with: Callable[..., Any], room: Any) -> None:
    page = phone_with(own_reader=True)
    page.add_init_script("""
        window.torch = [];
        const track = MediaStreamTrack.prototype, real = track.getCapabilities;
        track.getCapabilities = function () { return {...real.call(this), torch: true}; };
        track.applyConstraints = async ({advanced: [asked]}) => {
            if ("torch" in asked) window.torch.push(asked.torch);
        };
    """)
    sign_in_as(page, room.ivo)
    page.goto("/scan/")
    starts_the_camera(page, engine="browser")
    light = page.get_by_role("button", name="Light")
    light.tap()
    wait_until(page, "window.torch.length === 1")
    assert light.get_attribute("aria-pressed") == "true"
    light.tap()
    wait_until(page, "window.torch.length === 2")
    assert page.evaluate("window.torch") == [True, False]


def test_a_mark_typed_nearly_right_is_asked_about(phone_with: Callable[..., Any], room: Any) -> None:
    bowl = factories.piece(maker=room.ines, stage="bisqued", mark="K7H")
    page = phone_with(own_reader=True)
    sign_in_as(page, room.ivo)
    page.goto("/scan/")
    starts_the_camera(page, engine="browser")
    page.get_by_label("Scan, or type a mark").fill("K7A")
    page.keyboard.press("Enter")
    walk.says(page, "Did you mean one of these?")
    walk.Hand(page).button("K7H")
    walk.says(page, bowl.get_stage_display())
    assert walk.code_of(page) == bowl.code
