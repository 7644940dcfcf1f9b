"""What a phone delivers from its own store: each act once, with its own time, each told of by itself."""

from __future__ import annotations

import io
import json
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from studio.models import Event, FinishingJob, Firing, Person, Photo, Piece, UnloadAnswer
from tests import factories
from tests.factories import client_id

pytestmark = pytest.mark.django_db


@pytest.fixture
def ivo(client: Client) -> Person:
    factories.studio()
    person = factories.helper()
    client.force_login(person)
    return person


@pytest.fixture
def firing(ivo: Person) -> Firing:
    return factories.firing("unloading", pieces=3, layers=2)


def pieces_of(firing: Firing) -> list[Piece]:
    rows = firing.placements.order_by("-layer__number", "pk").select_related("piece")
    return [place.piece for place in rows]


def answer(
    piece: Piece, outcome: str = "sound", *, at: datetime | None = None, **more: Any
) -> dict[str, Any]:
    at = at or timezone.now()
    return {
        "id": client_id(),
        "kind": "answer",
        "place": piece.code,
        "at": at.isoformat(),
        "outcome": outcome,
        **more,
    }


def deliver(client: Client, firing: Firing, person: Person, *entries: Any, sent_at: Any = None) -> Any:
    body = {
        "person": person.code,
        "sent_at": (sent_at or timezone.now()).isoformat(),
        "entries": list(entries),
    }
    url = reverse("unload-deliver", args=[firing.number])
    return client.post(url, json.dumps(body), content_type="application/json")


def results(reply: Any) -> list[dict[str, Any]]:
    assert reply.status_code == 200
    return reply.json()["results"]


def test_acts_are_done_in_order_and_once(client: Client, ivo: Person, firing: Firing) -> None:
    first, second, third = pieces_of(firing)
    shelf = factories.shelf("Ready A", purpose="ready")
    given = answer(first, shelf=shelf.code)
    undone = answer(second, "lost", loss_cause="cracked")
    undo = {**answer(second), "kind": "undo", "undoes": undone["id"]}
    spur = answer(second, flaws=["sharp-spur"])
    flawed = answer(third, "flawed", flaws=["crawling"], surface="rim", severity=3, note="On the rim")
    sent = [given, undone, undo, spur, flawed]
    for _ in range(3):
        told = results(deliver(client, firing, ivo, *sent))
        assert [one["state"] for one in told] == ["done"] * 5
        assert [one["id"] for one in told] == [one["id"] for one in sent]
    assert UnloadAnswer.objects.count() == 4
    assert Event.objects.filter(kind="undone").count() == 1
    assert FinishingJob.objects.get().kind == "grind-spur"
    standing = UnloadAnswer.objects.filter(undone_at=None).order_by("pk")
    assert [one.outcome for one in standing] == ["sound", "sound", "flawed"]
    seen = standing.last().flaws.get()
    assert (seen.kind, seen.surface, seen.severity) == ("crawling", "rim", 3)
    first.refresh_from_db()
    assert first.shelf == shelf
    assert client.get(reverse("unload-load", args=[firing.number])).json()["shelf"] == shelf.code


def test_a_phone_whose_clock_is_two_hours_off(client: Client, ivo: Person, firing: Firing) -> None:
    now = timezone.now()
    off = timedelta(hours=2)
    fast, slow, told = pieces_of(firing)
    seen = now - timedelta(minutes=25)
    deliver(client, firing, ivo, answer(fast, at=seen + off), sent_at=now + off)
    deliver(client, firing, ivo, answer(slow, at=seen - off), sent_at=now - off)
    # The clock was put right between the answer and its delivery; the phone knew how far it was off.
    known = answer(told, at=seen + off, offset_ms=-2 * 3600 * 1000)
    deliver(client, firing, ivo, known, sent_at=now)
    for found in UnloadAnswer.objects.all():
        assert abs(found.at - seen) < timedelta(seconds=20)
        assert found.event.recorded_at >= now


def test_no_answer_is_from_the_future(client: Client, ivo: Person, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    deliver(client, firing, ivo, answer(piece, at=timezone.now() + timedelta(minutes=1)))
    assert UnloadAnswer.objects.get().at <= timezone.now()


def test_what_is_refused_says_why_and_the_rest_is_done(client: Client, ivo: Person, firing: Firing) -> None:
    first, second, third = pieces_of(firing)
    elsewhere = factories.piece(stage="glazed")
    gone = factories.shelf("Gone", retired_at=timezone.now())
    maud = factories.tutor()
    place = firing.placements.get(piece=first)
    factories.unload_one(place, by=maud)
    sent = [
        answer(first),
        answer(elsewhere),
        answer(second, shelf=gone.code),
        answer(second, "lost"),
        answer(second, "flawed"),
        {**answer(second), "at": "yesterday"},
        {**answer(second), "kind": "undo", "undoes": client_id()},
        answer(second, note="a\x00b"),
        answer(third),
    ]
    told = results(deliver(client, firing, ivo, *sent))
    assert [one["state"] for one in told] == ["refused"] * 8 + ["done"]
    assert f"Maud answered {first.mark}" in told[0]["words"]
    assert [one["why"] for one in told[:7]] == [
        "answered",
        "not-in-load",
        "shelf-gone",
        "say-more",
        "say-more",
        "time",
        "no-answer",
    ]
    assert all(len(one["words"]) > 30 for one in told[:8])
    assert UnloadAnswer.objects.count() == 2


def test_answers_of_somebody_else_are_not_taken(client: Client, ivo: Person, firing: Firing) -> None:
    maud = factories.tutor()
    reply = deliver(client, firing, maud, answer(pieces_of(firing)[0]))
    assert reply.status_code == 409
    assert reply.json()["refused"] == "somebody-else"
    assert UnloadAnswer.objects.count() == 0


NONSENSE = [
    b"",
    b"{",
    b"[]",
    b"7",
    b"null",
    b"\xff\xfe",
    b'{"entries": []}',
    b'{"entries": {}}',
    b'{"entries": [1]}',
    json.dumps({"entries": [{}] * 26}).encode(),
    b'{"entries": [{"note": "' + b"x" * 140_000 + b'"}]}',
    b"[" * 60_000,
]


@pytest.mark.parametrize("body", NONSENSE, ids=range(len(NONSENSE)))
def test_nonsense_is_refused_whole(client: Client, ivo: Person, firing: Firing, body: bytes) -> None:
    url = reverse("unload-deliver", args=[firing.number])
    assert client.post(url, body, content_type="application/json").status_code == 400


@pytest.mark.parametrize(
    "value", [None, 7, True, [], {}, ["x"], "\x00", "\ud800", "x" * 500, 1e400, -(10**20)]
)
@pytest.mark.parametrize(
    "name",
    ["id", "kind", "place", "at", "outcome", "flaws", "jobs", "severity", "shelf", "note", "offset_ms"],
)
def test_a_value_of_another_kind_harms_nothing(
    client: Client, ivo: Person, firing: Firing, name: str, value: Any
) -> None:
    told = results(deliver(client, firing, ivo, {**answer(pieces_of(firing)[0]), name: value}))
    assert len(told) == 1
    assert told[0]["state"] in {"done", "refused"}


def photo_file() -> io.BytesIO:
    data = io.BytesIO()
    Image.new("RGB", (60, 40), "#8d6f58").save(data, "JPEG")
    data.seek(0)
    data.name = "photo.jpg"
    return data


def test_a_photo_is_kept_once_with_its_own_time(client: Client, ivo: Person, firing: Firing) -> None:
    piece = pieces_of(firing)[0]
    taken = timezone.now() - timedelta(minutes=40)
    url = reverse("unload-photo", args=[firing.number])
    sent = {"id": client_id(), "place": piece.code, "person": ivo.code, "at": taken.isoformat()}
    for _ in range(3):
        assert results(client.post(url, {**sent, "photo": photo_file()}))[0]["state"] == "done"
    kept = Photo.objects.get()
    assert (kept.piece, kept.firing, kept.by, kept.taken_at) == (piece, firing, ivo, taken)
    for wrong in ({"photo": io.BytesIO(b"none")}, {}, {"place": "NONE", "photo": photo_file()}):
        told = results(client.post(url, {**sent, "id": client_id(), **wrong}))
        assert told[0]["state"] == "refused"
        assert len(told[0]["words"]) > 30
    assert client.post(url, {**sent, "person": "ELSE", "photo": photo_file()}).status_code == 409
    assert Photo.objects.count() == 1


def test_the_load_to_keep_and_when_there_is_none(client: Client, ivo: Person, firing: Firing) -> None:
    load = client.get(reverse("unload-load", args=[firing.number])).json()
    pieces = pieces_of(firing)
    assert [code for layer in load["layers"] for code in layer["places"]] == [one.code for one in pieces]
    assert load["places"][pieces[0].code]["tag"] == pieces[0].tags.get().code.upper()
    planned = factories.firing("planned", kiln=factories.kiln("Another"))
    assert "places" not in client.get(reverse("unload-load", args=[planned.number])).json()
    hello = client.get(reverse("unload-hello")).json()
    assert (hello["person"], hello["loads"]) == (ivo.code, [firing.number])


def test_only_staff(client: Client, firing: Firing) -> None:
    client.force_login(factories.student())
    for name in ("unload-load", "unload-state", "unload-deliver", "unload-photo"):
        assert client.get(reverse(name, args=[firing.number])).status_code == 404
    assert client.get(reverse("unload-hello")).status_code == 404


def test_the_frame_worker_and_manifest_know_nobody(client: Client, ivo: Person) -> None:
    frame = client.get(reverse("unload-kept")).content.decode()
    assert ivo.first_name not in frame
    worker = client.get(reverse("unload-worker"))
    assert worker.headers["Content-Type"].startswith("text/javascript")
    assert worker.headers["Service-Worker-Allowed"] == "/"
    manifest = Client().get(reverse("manifest"))
    assert manifest.headers["Content-Type"] == "application/manifest+json"
    told = manifest.json()
    assert told["lang"] == "en-GB"
    # What browsers ask of an app before they offer to install it. (W3C Web Application Manifest)
    assert told["name"]
    assert told["start_url"] == "/"
    assert told["display"] == "standalone"
    assert {icon["sizes"] for icon in told["icons"]} == {"192x192", "512x512"}
    assert "maskable" in {icon.get("purpose") for icon in told["icons"]}
    for icon in told["icons"]:
        size = int(icon["sizes"].split("x")[0])
        assert Image.open(finders.find(icon["src"].removeprefix("/static/"))).size == (size, size)
