"""What scripts say is in the language that was chosen, with a signal and without one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from studio.models import Passkey, Person, Photo
from tests import factories
from tests.journeys import shed, walk
from tests.journeys.test_passkeys import by_name, play_authenticator
from tests.support.browser import DESK, Watch, check_accessible, check_fits, sign_in_as, wait_until
from tests.support.shed import Relay

pytestmark = pytest.mark.django_db(transaction=True)

NO_SIGNAL = r"ERR_|Failed to fetch|Failed to load|NetworkError"


@pytest.fixture
def relay(live: Any) -> Iterator[Relay]:
    relay = Relay(live.url)
    yield relay
    relay.close()


def speaks_german(person: Person) -> None:
    Person.objects.filter(pk=person.pk).update(language="de")


def test_the_sheet_for_a_sketch(phone: Any, room: Any) -> None:
    speaks_german(room.ines)
    bowl = factories.piece(maker=room.ines, stage="bisqued", cone_wanted="6")
    sign_in_as(phone, room.ines)
    phone.goto(f"/pieces/{bowl.code}/glazes/")
    sheet = phone.locator(".sketch__sheet")
    assert sheet.get_attribute("aria-label").startswith("Blatt zum Zeichnen.")
    assert phone.get_by_role("button", name="Leer wischen").is_visible()
    assert "Wipe" not in phone.content().replace('"Wipe it clean":', "")
    check_fits(phone)
    check_accessible(phone)
    # What is drawn goes as a picture, and is said in German too.
    sheet.scroll_into_view_if_needed()
    box = sheet.bounding_box()
    phone.mouse.move(box["x"] + 40, box["y"] + 40)
    phone.mouse.down()
    phone.mouse.move(box["x"] + 120, box["y"] + 90, steps=4)
    phone.mouse.up()
    with phone.expect_navigation():
        phone.locator("form[data-sketch] .btn--paper:not([type=button])").click()
    walk.says(phone, "Die Skizze ist aufgehoben.")
    assert Photo.sketches.get().piece == bowl


def test_without_its_words_a_script_speaks_english(phone: Any, room: Any) -> None:
    speaks_german(room.ines)
    bowl = factories.piece(maker=room.ines, stage="bisqued")
    sign_in_as(phone, room.ines)

    def without_words(route: Any) -> None:
        answer = route.fetch()
        route.fulfill(response=answer, body=answer.text().replace("data-words", "data-nothing"))

    phone.route("**/glazes/", without_words)
    phone.goto(f"/pieces/{bowl.code}/glazes/")
    assert phone.get_by_role("button", name="Wipe it clean").is_visible()


def test_the_scanner(phone: Any, room: Any, watch: Watch) -> None:
    speaks_german(room.ivo)
    watch.expect(NO_SIGNAL)
    jug = factories.piece(maker=room.ines, stage="bisqued")
    sign_in_as(phone, room.ivo)
    phone.goto("/scan/")
    phone.get_by_role("button", name="Mit der Kamera scannen").click()
    walk.says(phone, "Hier wurde keine Kamera gefunden.")
    phone.route("**/*", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    phone.locator("[data-scan]").fill(jug.mark)
    phone.locator("[data-scan]").press("Enter")
    walk.says(phone, "1 Scan ist nicht gesendet.")
    walk.says(phone, "Es ist kein Empfang da. Es wartet hier.")
    assert phone.locator("[data-said] li").first.inner_text().startswith("Nicht gesendet")
    check_fits(phone)
    check_accessible(phone)


def test_a_passkey(open_page: Callable[..., Any], live: Any, room: Any) -> None:
    speaks_german(room.maud)
    page, address = open_page(DESK), by_name(live)
    devtools, authenticator = play_authenticator(page)
    page.goto(f"{address}/sign-in/password/")
    page.get_by_label("Your email address").fill(room.maud.email)
    page.get_by_label("Your password").fill(walk.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{address}/")
    # The device says no, then yes.
    no = {"authenticatorId": authenticator, "isUserVerified": False}
    devtools.send("WebAuthn.setUserVerified", no)
    page.goto(f"{address}/my/second-step/passkey/")
    page.locator("form[data-passkey] input:not([type=hidden])").fill("Der Rechner im Büro")
    page.get_by_role("button", name="Passkey anlegen").click()
    walk.says(page, "Das Gerät hat keinen Passkey angelegt.")
    check_accessible(page)
    devtools.send("WebAuthn.setUserVerified", {"authenticatorId": authenticator, "isUserVerified": True})
    page.get_by_role("button", name="Passkey anlegen").click()
    page.get_by_role("heading", name="Schreib dir diese jetzt auf").wait_for()
    assert Passkey.objects.get().person_id == room.maud.pk


def test_unloading_without_a_signal(phone: Any, room: Any, relay: Relay, watch: Watch) -> None:
    watch.expect(NO_SIGNAL)
    speaks_german(room.ivo)
    firing = shed.a_load(room, pieces=2, photos_of=1)
    sign_in_as(phone, room.ivo)
    hand = shed.opens(phone, firing, at=relay.url)
    relay.cut()
    phone.goto(f"{relay.url}/firings/{firing.number}/unload/")
    mark = walk.mark_at_hand(phone)
    assert phone.locator("[data-part=count]").inner_text() == "Bertha, 0 von 2 heraus"
    with phone.expect_file_chooser() as camera:
        hand.tap(phone.locator(".photo-btn"))
    camera.value.set_files(walk.picture_file(walk.picture()))
    walk.says(phone, "1 gemacht")
    phone.wait_for_timeout(walk.THUMB_RESTS_MS)
    hand.button("Heil", within=phone.locator(".verdict"), exact=True)
    shed.waits(phone, 2)
    walk.says(phone, "Kein Empfang")
    walk.says(phone, "Hier aufgehoben: 2 warten")
    check_fits(phone)
    hand.tap(phone.locator(".trio [data-do=undo]"))
    walk.says(phone, f"{mark} ist wieder offen; es war: Heil.")
    relay.mend()
    wait_until(phone, "document.querySelector('main').dataset.kept === '0'", seconds=40)
