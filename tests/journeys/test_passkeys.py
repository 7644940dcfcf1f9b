"""In a real browser, with an authenticator that the browser plays (Web Authentication's own automation, W3C
Web Authentication level 3, section 11): a passkey is made, asked for at the door, and enough alone."""

from __future__ import annotations

import re
from typing import Any

import pytest

from studio.models import Passkey, RecoveryCode
from tests.journeys import walk
from tests.support.browser import DESK, check_accessible, check_fits

pytestmark = pytest.mark.django_db(transaction=True)

FIRST_PAGE = re.compile(r"^http://[^/]+/$")


def by_name(live: Any) -> str:
    """The same server by a name: a browser makes no passkey for a number."""
    return live.url.replace("127.0.0.1", "localhost")


def play_authenticator(page: Any) -> tuple[Any, str]:
    devtools = page.context.new_cdp_session(page)
    devtools.send("WebAuthn.enable")
    made = devtools.send(
        "WebAuthn.addVirtualAuthenticator",
        {
            "options": {
                "protocol": "ctap2",
                "transport": "internal",
                "hasResidentKey": True,
                "hasUserVerification": True,
                "isUserVerified": True,
                "automaticPresenceSimulation": True,
            }
        },
    )
    return devtools, made["authenticatorId"]


def with_password(page: Any, address: str, person: Any) -> None:
    page.goto(f"{address}/sign-in/password/")
    page.get_by_label("Your email address").fill(person.email)
    page.get_by_label("Your password").fill(walk.PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def sign_out(page: Any, address: str) -> None:
    page.goto(f"{address}/more/")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_load_state()


def test_a_passkey_is_made_asked_for_at_the_door_and_enough_alone(
    open_page: Any, live: Any, room: Any
) -> None:
    page, address = open_page(DESK), by_name(live)
    devtools, authenticator = play_authenticator(page)
    with_password(page, address, room.maud)
    page.wait_for_url(FIRST_PAGE)

    page.goto(f"{address}/my/second-step/")
    page.get_by_role("link", name="A passkey").click()
    check_fits(page)
    check_accessible(page)
    page.get_by_label("What is it on?").fill("The laptop in the office")
    page.get_by_role("button", name="Make the passkey").click()
    page.get_by_role("heading", name="Write these down now").wait_for()
    check_fits(page)
    check_accessible(page)
    row = Passkey.objects.get()
    assert (row.person_id, row.name) == (room.maud.pk, "The laptop in the office")
    assert RecoveryCode.objects.filter(person=room.maud).count() == 10
    page.get_by_role("link", name="I have them on paper").click()
    page.get_by_role("heading", name="The laptop in the office").wait_for()

    # The password alone leads to the second step, and the passkey through it.
    sign_out(page, address)
    with_password(page, address, room.maud)
    page.wait_for_url("**/sign-in/second/")
    check_fits(page)
    check_accessible(page)
    page.goto(f"{address}/more/")
    assert "/sign-in/" in page.url
    with_password(page, address, room.maud)
    page.get_by_role("button", name="Use the passkey").click()
    page.wait_for_url(FIRST_PAGE)
    row.refresh_from_db()
    assert row.used_at is not None

    # And alone.
    sign_out(page, address)
    page.goto(f"{address}/sign-in/password/")
    page.get_by_role("link", name="Use a passkey").click()
    check_fits(page)
    check_accessible(page)
    page.get_by_role("button", name="Use the passkey").click()
    page.wait_for_url(FIRST_PAGE)

    # A key with another's signature, or none, opens nothing; the page says so and stays.
    sign_out(page, address)
    devtools.send("WebAuthn.setUserVerified", {"authenticatorId": authenticator, "isUserVerified": False})
    page.goto(f"{address}/sign-in/passkey/")
    wrong = page.get_by_text("The passkey did not answer")
    assert not wrong.is_visible()
    page.get_by_role("button", name="Use the passkey").click()
    wrong.wait_for()


def test_an_answer_kept_and_sent_again_opens_nothing(open_page: Any, live: Any, room: Any) -> None:
    page, address = open_page(DESK), by_name(live)
    play_authenticator(page)
    with_password(page, address, room.ivo)
    page.goto(f"{address}/my/second-step/passkey/")
    page.get_by_role("button", name="Make the passkey").click()
    page.get_by_role("heading", name="Write these down now").wait_for()
    sign_out(page, address)

    kept: list[str] = []
    page.on("request", lambda sent: kept.append(sent.post_data or "") if sent.method == "POST" else None)
    page.goto(f"{address}/sign-in/passkey/")
    page.get_by_role("button", name="Use the passkey").click()
    page.wait_for_url(FIRST_PAGE)
    sign_out(page, address)

    answer = next(body for body in kept if "answer=" in body)
    page.goto(f"{address}/sign-in/passkey/")
    status = page.evaluate(
        """async answer => {
            const words = new URLSearchParams(answer);
            words.set("csrfmiddlewaretoken", document.querySelector("[name=csrfmiddlewaretoken]").value);
            return (await fetch("/sign-in/passkey/", {method: "POST", body: words})).status;
        }""",
        answer,
    )
    assert status == 422
    page.goto(f"{address}/my/devices/")
    assert "/sign-in/" in page.url
