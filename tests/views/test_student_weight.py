"""A student's pages on a slow line: under 60 kB without photos, as the server packs them."""

from __future__ import annotations

import gzip
import re

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse

from tests import factories as make
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

MOST_BYTES = 60_000
#: Headers of one answer.
HEADERS = 500
_FETCHED = re.compile(r'(?:href|src)="/static/([^"]+\.(?:css|js|svg|png))"')
_IMPORTED = re.compile(r'(?:import|from)\s*["\']\./([^"\']+)["\']')


def weight(client: Client, address: str) -> int:
    """Bytes of the page and of all that it fetches but for photos."""
    answer = client.get(address, headers={"Accept-Encoding": "gzip"})
    assert answer.status_code == 200
    total = len(answer.content) + HEADERS
    waiting = set(_FETCHED.findall(gzip.decompress(answer.content).decode()))
    seen: set[str] = set()
    while waiting:
        name = waiting.pop()
        seen.add(name)
        found = finders.find(name)
        assert found, name
        with open(found, "rb") as file:
            body = file.read()
        if name.endswith(".js"):
            folder = name.rpartition("/")[0]
            waiting |= {f"{folder}/{each}" for each in _IMPORTED.findall(body.decode())} - seen
        total += min(len(body), len(gzip.compress(body, 9))) + HEADERS
    assert len(seen) >= 5
    return total


@pytest.mark.parametrize("pieces", [1, 30])
def test_the_first_page_and_that_of_a_piece(pieces: int) -> None:
    make.studio()
    ines = make.student()
    stages = ("ready", "bone-dry", "glazed", "collected")
    pots = [make.piece(maker=ines, stage=stages[number % 4]) for number in range(pieces)]
    client = signed_in(ines)
    assert weight(client, "/") < MOST_BYTES
    assert weight(client, reverse("piece", args=[pots[0].code])) < MOST_BYTES


def test_what_only_staff_need_is_not_sent_to_a_students_phone() -> None:
    make.studio()
    page = signed_in(make.student()).get("/").content.decode()
    assert "htmx" not in page.replace("htmx-config", "")
    assert "kiln_room.css" not in page
    assert "kiln_room.css" in signed_in(make.tutor()).get("/").content.decode()
