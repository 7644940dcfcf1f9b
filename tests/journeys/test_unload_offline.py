"""In the kiln shed without a signal: nothing waits for it, nothing is lost, nothing is sent twice."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from studio.models import Event, Photo, UnloadAnswer
from tests import factories
from tests.journeys import shed, walk
from tests.support.browser import PHONE, Watch, sign_in_as, wait_until
from tests.support.shed import Relay

NO_SIGNAL = r"ERR_|Failed to fetch|Failed to load|NetworkError"


@pytest.fixture
def relay(live: Any) -> Iterator[Relay]:
    relay = Relay(live.url)
    yield relay
    relay.close()


def test_the_whole_load_without_a_signal(phone: Any, room: Any, relay: Relay, watch: Watch) -> None:
    watch.expect(NO_SIGNAL)
    firing = shed.a_load(room, pieces=6, photos_of=3)
    sign_in_as(phone, room.ivo)
    hand = shed.opens(phone, firing, at=relay.url)
    walk.unloads_onto(hand, "Shelf 2")
    phone.wait_for_timeout(500)  # the phone writes down what was chosen in its own time

    # Into the shed. The page is opened anew there, and is there, with its photos.
    relay.cut()
    phone.goto(f"{relay.url}/firings/{firing.number}/unload/")
    mark = walk.mark_at_hand(phone)
    wait_until(phone, "document.querySelector('.unload__photo img').naturalWidth > 0")
    walk.answers(hand, "Sound", photo=walk.picture(), sent=False)
    shed.waits(phone, 2)
    walk.says(phone, "No signal")
    walk.says(phone, "Kept here: 2 waiting")
    undone = walk.mark_at_hand(phone)
    walk.answers(hand, "Sound", sent=False)
    hand.button("Undo", within=phone.locator(".trio"))
    walk.says(phone, f"{undone} is open again; it was sound.")
    assert walk.mark_at_hand(phone) == undone
    hand.choose("Sharp spur")
    for _ in range(4):
        walk.answers(hand, "Sound", sent=False)
    phone.wait_for_timeout(walk.THUMB_RESTS_MS)
    hand.button("Lost", within=phone.locator(".verdict"))
    hand.button("Cracked", exact=True)
    walk.says(phone, "All 6 are out of Bertha")
    shed.waits(phone, 9)
    assert UnloadAnswer.objects.count() == 0

    # The phone is put away for a while and the page opened again: still all there.
    phone.goto(f"{relay.url}/firings/{firing.number}/unload/")
    walk.says(phone, "All 6 are out of Bertha")
    shed.waits(phone, 9)
    # And where no load is asked for, the way to it.
    phone.goto(f"{relay.url}/pieces/")
    walk.says(phone, "Kept here: 9 waiting")
    hand.link(f"Unload glaze firing {firing.number}")
    shed.waits(phone, 9)

    before = timezone.now()
    phone.wait_for_timeout(1500)
    relay.mend()
    shed.try_now(phone)
    walk.says(phone, "All 6 out of Bertha")  # on to the count by itself
    assert UnloadAnswer.objects.filter(undone_at=None).count() == 6
    assert UnloadAnswer.objects.count() == 7
    assert Event.objects.filter(kind="undone").count() == 1
    taken = Photo.objects.get(piece__mark=mark, firing=firing)
    assert taken.stage == "ready"
    assert max(taken.width_px, taken.height_px) <= 1600
    times = list(UnloadAnswer.objects.order_by("event__pk").values_list("at", flat=True))
    assert times == sorted(times), "in the order they were given"
    assert all(at <= before for at in times), "with their own times, not when they arrived"
    assert UnloadAnswer.objects.filter(undone_at=None).exclude(outcome="lost").count() == 5
    assert set(UnloadAnswer.objects.exclude(outcome="lost").values_list("shelf", flat=True)) == {
        room.pickup.pk
    }


def test_nothing_of_anybody_stays_on_the_phone(phone: Any, room: Any, relay: Relay) -> None:
    firing = shed.a_load(room, pieces=2, photos_of=1)
    sign_in_as(phone, room.ivo)
    hand = shed.opens(phone, firing, at=relay.url)
    walk.says(phone, room.ines.full_name)
    stored = json.dumps(shed.kept(phone))
    assert firing.placements.first().piece.mark in stored, "the load is there"
    for person in (room.ines, room.ivo, room.maud, room.tobias):
        for name in (person.first_name, person.last_name, person.email):
            assert f'"{name}"' not in stored
            assert f"{name} " not in stored, stored[max(0, stored.find(f"{name} ") - 80) :][:160]
    for _ in range(2):
        walk.answers(hand, "Sound")
    # Closed: the load and its photos leave the phone when it next has a look.
    is_closed(firing, room)
    phone.goto(f"{relay.url}/kilns/")
    wait_until(phone, "document.readyState === 'complete'")
    for _ in range(50):
        found = shed.kept(phone)["all"]
        if not found["loads"] and not found["photos"]:
            break
        phone.wait_for_timeout(100)
    assert (found["loads"], found["photos"], found["queue"]) == ([], [], [])


def is_closed(firing: Any, room: Any) -> None:
    from studio.actions import settling

    settling.close_firing(
        firing=firing, by=room.maud, client_id=factories.client_id(), energy_kwh="60", now=timezone.now()
    )


FAULTS = {
    "400": {"status": 400, "body": "no"},
    "404": {"status": 404, "content_type": "text/html", "body": "<h1>Not here</h1>"},
    "409": {"status": 409, "content_type": "application/json", "body": "{}"},
    "500": {"status": 500, "body": "broken"},
    "sign-in": {"status": 302, "headers": {"Location": "/sign-in/?next=/"}, "body": ""},
    "portal": {
        "status": 200,
        "content_type": "text/html",
        "body": "<h1>Welcome to the caf\u00e9\u2019s Wi-Fi</h1>",
    },
}


@pytest.mark.parametrize("fault", FAULTS)
def test_no_reply_makes_an_answer_disappear(
    phone: Any, room: Any, watch: Watch, live: Any, fault: str
) -> None:
    watch.expect(r"\b500 for POST|Failed to load")
    firing = shed.a_load(room, pieces=4)
    sign_in_as(phone, room.ivo)
    hand = shed.opens(phone, firing)
    phone.route("**/unload/deliver/", lambda route: route.fulfill(**FAULTS[fault]))
    for _ in range(3):
        walk.answers(hand, "Sound", sent=False)
    shed.waits(phone, 3)
    shed.needs(phone, 3)
    hand.tap(phone.locator("[data-part=kept-button]"))
    assert phone.locator(".need").count() == 3
    assert all(len(words) > 30 for words in phone.locator(".need [data-part=why]").all_inner_texts())
    assert UnloadAnswer.objects.count() == 0

    # Put right, each goes: by itself, or by a press where the studio had refused it.
    phone.unroute_all()
    while phone.locator(".need").count() and fault in {"400", "404", "409"}:
        left = phone.locator(".need").count()
        phone.locator(".need [data-do=again]").first.tap()
        wait_until(phone, f"document.querySelectorAll('.need').length < {left}")
    shed.try_now(phone)
    walk.all_sent(phone, seconds=30)
    assert UnloadAnswer.objects.count() == 3


def test_another_person_with_a_full_queue(phone: Any, room: Any, relay: Relay, watch: Watch) -> None:
    watch.expect(NO_SIGNAL)
    firing = shed.a_load(room, pieces=4)
    sign_in_as(phone, room.ivo)
    hand = shed.opens(phone, firing, at=relay.url)
    phone.route("**/unload/deliver/", lambda route: route.abort())
    for _ in range(2):
        walk.answers(hand, "Sound", sent=False)
    shed.waits(phone, 2)

    # Signing out says what it leaves behind, and leaves it.
    phone.goto(f"{relay.url}/more/")
    hand.button("Sign out")
    walk.says(phone, "2 answers on this phone have not been sent yet")
    hand.button("Sign out")
    walk.says(phone, "You are signed out")

    # Maud signs in on the same phone: Ivo's wait, and are not hers.
    phone.unroute_all()
    sign_in_as(phone, room.maud)
    hand = shed.opens(phone, firing, at=relay.url)
    hand.tap(phone.locator("[data-part=kept-button]"))
    walk.says(phone, "2 answers of somebody else’s wait on this phone")
    shed.try_now(phone)
    phone.wait_for_timeout(800)
    assert UnloadAnswer.objects.count() == 0
    hand.button("Go on unloading")
    hand.tap(phone.locator(".unload__map"))
    last = firing.placements.order_by("-layer__number", "pk").last().piece
    phone.locator(f".piece-row[value='{last.code}']").tap()
    walk.answers(hand, "Sound", sent=False)
    wait_until(phone, "document.querySelector('main').dataset.kept === '0'")
    assert UnloadAnswer.objects.get().by == room.maud

    # Ivo is back: his go, and are his.
    sign_in_as(phone, room.ivo)
    phone.goto(f"{relay.url}/kilns/")
    phone.wait_for_timeout(500)
    shed.try_now(phone)
    for _ in range(60):
        if UnloadAnswer.objects.count() == 3:
            break
        phone.wait_for_timeout(100)
    assert UnloadAnswer.objects.filter(by=room.ivo).count() == 2
    assert UnloadAnswer.objects.filter(by=room.maud).count() == 1


def test_two_tabs_send_once(phone: Any, room: Any, live: Any) -> None:
    firing = shed.a_load(room, pieces=12)
    sign_in_as(phone, room.ivo)
    hand = shed.opens(phone, firing)
    phone.context.route("**/hello.json", lambda route: route.abort())
    for _ in range(10):
        walk.answers(hand, "Sound", sent=False)
    other = phone.context.new_page()
    other.goto(f"/firings/{firing.number}/unload/")
    shed.waits(other, 10)
    sent: list[str] = []
    for page in (phone, other):
        page.on(
            "request",
            lambda request: (
                sent.extend(entry["id"] for entry in request.post_data_json["entries"])
                if request.url.endswith("/deliver/")
                else None
            ),
        )
    phone.context.unroute_all()
    phone.evaluate("dispatchEvent(new Event('online'))")
    other.evaluate("dispatchEvent(new Event('online'))")
    walk.all_sent(phone, seconds=30)
    walk.all_sent(other)
    assert UnloadAnswer.objects.count() == 10
    assert len(sent) == len(set(sent)) == 10


WRONG_CLOCK = """(() => {
    const Real = Date, off = 2 * 3600 * 1000;
    globalThis.Date = class extends Real {
        constructor(...given) { given.length ? super(...given) : super(Real.now() + off); }
        static now() { return Real.now() + off; }
    };
})()"""


def kill_browser(folder: str) -> None:
    """SIGKILL to the browser started with this folder and to its children, as when a battery dies."""
    import os
    import signal
    from contextlib import suppress
    from pathlib import Path

    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with suppress(OSError):
                if folder.encode() in (entry / "cmdline").read_bytes():
                    os.kill(int(entry.name), signal.SIGKILL)


@pytest.mark.parametrize(
    ("answers", "kills"),
    [pytest.param(12, 2, id="12"), pytest.param(200, 12, id="200", marks=pytest.mark.full)],
)
def test_killed_at_random_with_a_clock_two_hours_off(
    browser: Any, room: Any, relay: Relay, tmp_path: Any, answers: int, kills: int
) -> None:
    from playwright.sync_api import Error

    from tests.support.browser import FLAGS, find_browser

    dice = random.Random(answers)
    firing = shed.a_load(room, pieces=answers, layers=4)
    folder = str(tmp_path / "phone")
    posts: list[tuple[str, bytes, dict[str, str]]] = []

    def start() -> Any:
        context = browser.browser_type.launch_persistent_context(
            folder, executable_path=find_browser(), args=FLAGS, viewport=PHONE, locale="en-GB"
        )
        context.add_init_script(WRONG_CLOCK)
        page = context.pages[0]
        page.on(
            "request",
            lambda request: (
                posts.append((request.url, request.post_data_buffer, request.headers))
                if request.url.endswith("/deliver/")
                else None
            ),
        )
        sign_in_as(page, room.ivo)
        return page

    page = start()
    shed.opens(page, firing, at=relay.url)
    began = timezone.now()
    given: dict[str, float] = {}
    deaths = sorted(dice.sample(range(1, answers), kills))
    signals = set(dice.sample(range(answers), answers // 3))
    while len(given) < answers:
        done = len(given)
        relay.mend() if done in signals else relay.cut()
        try:
            if deaths and done >= deaths[0]:
                deaths.pop(0)
                # In the middle of a tap, a write or a delivery.
                page.evaluate("setTimeout(() => document.querySelector('.sound').click(), 0)")
                page.wait_for_timeout(dice.choice([0, 1, 3, 8, 20, 60]))
                kill_browser(folder)
                page.wait_for_timeout(50)
            mark = page.locator("#piece-h").inner_text().split(",")[0]
            page.wait_for_timeout(walk.THUMB_RESTS_MS)
            page.locator(".verdict .sound").click()
            given[mark] = timezone.now().timestamp()
            wait_until(
                page,
                "document.querySelector('main').dataset.open === 'out'"
                f" || !document.querySelector('#piece-h').textContent.startsWith('{mark},')",
                seconds=3,
            )
        except (Error, AssertionError):
            relay.mend()
            page = start()
            page.goto(f"{relay.url}/firings/{firing.number}/unload/")
            wait_until(page, "document.querySelector('main')?.dataset.ready === 'yes'", seconds=40)
            left = int(page.locator("main").get_attribute("data-left"))
            # What was tapped in the last moment may have been kept or not; the page knows which.
            while len(given) > answers - left:
                given.popitem()
            while len(given) < answers - left:
                given[f"?{len(given)}"] = timezone.now().timestamp()
            if not left:
                break
    relay.mend()
    shed.try_now(page)
    until = timezone.now() + timedelta(seconds=60)
    while UnloadAnswer.objects.count() < answers and timezone.now() < until:
        page.wait_for_timeout(200)
    ended = timezone.now()
    assert UnloadAnswer.objects.count() == answers
    assert Event.objects.filter(kind="unloaded").count() == answers
    times = list(UnloadAnswer.objects.order_by("at").values_list("at", flat=True))
    slack = timedelta(seconds=6)
    assert times[0] >= began - slack, "not two hours off"
    assert times[-1] <= ended
    assert len(set(times)) == answers, "each has its own time"

    # Everything that was ever sent, three times over in any order: nothing more comes of it.
    hello = page.request.get(f"{relay.url}/unload/hello.json").json()
    for _ in range(3):
        dice.shuffle(posts)
        for url, body, headers in posts:
            again = {
                **{key: headers[key] for key in ("content-type", "origin", "referer") if key in headers},
                "x-csrftoken": hello["secret"],
            }
            page.request.post(url, data=body, headers=again)
    assert Event.objects.filter(kind="unloaded").count() == answers
    assert UnloadAnswer.objects.count() == answers
    assert list(UnloadAnswer.objects.order_by("at").values_list("at", flat=True)) == times
    page.context.close()
