"""Small devices that post a kiln's temperature, over the very address they use."""

from __future__ import annotations

import json
import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.actions.kiln_devices import MOST_POSTS_A_MINUTE
from studio.models import Kiln, KilnDevice, Reading
from tests import factories
from tests.factories import client_id
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

URL = "/post/readings/"


@pytest.fixture
def maud() -> Client:
    factories.studio()
    return signed_in(factories.tutor())


@pytest.fixture
def kiln(maud: Client) -> Kiln:
    return factories.kiln("Big round")


@pytest.fixture
def token(maud: Client, kiln: Kiln) -> str:
    page = maud.post(
        reverse("kiln-devices", args=[kiln.code]), {"name": "Little board", "client_id": client_id()}
    ).content.decode()
    return re.search(r'<p class="token[^"]*"><code>([^<]+)</code>', page)[1]


def post(token: str, body: object, **more: object) -> tuple[int, dict]:
    """As a device posts: no session, no cookie, no token of a form."""
    client = Client(enforce_csrf_checks=True)
    data = body if isinstance(body, bytes | str) else json.dumps(body)
    answer = client.post(
        URL, data, content_type="application/json", headers={"Authorization": f"Bearer {token}"}, **more
    )
    return answer.status_code, answer.json()


def test_the_token_is_shown_once_with_a_line_to_try_it(maud: Client, kiln: Kiln, token: str) -> None:
    assert len(token) >= 32
    page = maud.get(reverse("kiln-devices", args=[kiln.code])).content.decode()
    assert token not in page
    assert "Little board" in page
    assert KilnDevice.objects.get().token_hash != token


def test_pressed_twice_makes_one_device(maud: Client, kiln: Kiln) -> None:
    words = {"name": "Board", "client_id": client_id()}
    url = reverse("kiln-devices", args=[kiln.code])
    maud.post(url, words)
    assert maud.post(url, words).status_code == 302
    assert KilnDevice.objects.count() == 1


def test_a_reading_goes_to_the_burning_firing_of_its_kiln(kiln: Kiln, token: str) -> None:
    firing = factories.firing("firing", kiln=kiln, lit_at=timezone.now() - timedelta(hours=2))
    status, said = post(token, {"temperature_c": 612.4})
    assert (status, said["kept"], said["firing"]) == (200, 1, firing.number)
    row = Reading.objects.get()
    assert (row.firing, float(row.temperature_c), row.source) == (firing, 612.4, "posted")


def test_a_form_does_too_as_curl_sends_it(kiln: Kiln, token: str) -> None:
    factories.firing("firing", kiln=kiln, lit_at=timezone.now() - timedelta(hours=2))
    client = Client(enforce_csrf_checks=True)
    headers = {"Authorization": f"Bearer {token}"}
    answer = client.post(URL, {"temperature_f": "212"}, headers=headers)
    assert answer.status_code == 200
    assert float(Reading.objects.get().temperature_c) == 100.0


def test_replays_and_readings_out_of_order_do_no_harm(kiln: Kiln, token: str) -> None:
    factories.firing("firing", kiln=kiln, lit_at=timezone.now() - timedelta(hours=2))
    many = {"readings": [{"temperature_c": 600 - n, "age_s": 60 * n} for n in range(10)]}
    now = timezone.now().replace(microsecond=0)
    timed = [
        {"temperature_c": 400 + n, "at": (now - timedelta(minutes=90 - n)).isoformat()} for n in (5, 3, 9, 1)
    ]
    assert post(token, {"readings": timed})[1]["kept"] == 4
    assert post(token, {"readings": timed[::-1]})[1] | {"words": ""} == {
        "kept": 0,
        "known": 4,
        "left_out": 0,
        "words": "",
        "firing": 1,
    }
    assert post(token, many)[1]["kept"] == 10
    assert Reading.objects.count() == 14


def test_with_no_kiln_burning_nothing_is_kept_and_that_is_said(kiln: Kiln, token: str) -> None:
    status, said = post(token, {"temperature_c": 20})
    assert (status, said["kept"], said["firing"]) == (202, 0, None)
    assert "nothing is kept" in said["words"]
    assert Reading.objects.count() == 0


def test_unknown_and_ended_tokens_are_answered_alike(maud: Client, kiln: Kiln, token: str) -> None:
    device = KilnDevice.objects.get()
    maud.post(reverse("kiln-device-end", args=[kiln.code, device.code]))
    answers = {str(post(each, {"temperature_c": 20})) for each in (token, "x" * 32, "", "ü")}
    assert len(answers) == 1
    assert post(token, {"temperature_c": 20})[0] == 401


@pytest.mark.parametrize(
    "body",
    [
        {},
        [],
        "no json",
        b"\xff\xfe",
        {"temperature_c": "hot"},
        {"temperature_c": 5000},
        {"temperature_c": True},
        {"temperature_c": 20, "at": "yesterday"},
        {"temperature_c": 20, "at": "2026-01-01T10:00"},
        {"temperature_c": 20, "age_s": -5},
        {"readings": "many"},
        {"readings": [1, 2]},
        '{"temperature_c": NaN}',
    ],
)
def test_nonsense_is_refused_in_a_sentence(kiln: Kiln, token: str, body: object) -> None:
    factories.firing("firing", kiln=kiln, lit_at=timezone.now() - timedelta(hours=2))
    status, said = post(token, body)
    assert status == 422
    assert said["error"].endswith(".")
    assert Reading.objects.count() == 0


def test_one_that_posts_without_end_is_held_down(kiln: Kiln, token: str) -> None:
    for _ in range(MOST_POSTS_A_MINUTE):
        assert post(token, {"temperature_c": 20})[0] == 202
    assert post(token, {"temperature_c": 20})[0] == 429


def test_helpers_make_no_devices(maud: Client, kiln: Kiln) -> None:
    ivo = signed_in(factories.helper())
    assert ivo.get(reverse("kiln-devices", args=[kiln.code])).status_code == 404
