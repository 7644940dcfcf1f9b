"""The pages on which the machine fills a kiln: begun, watched, stopped, compared, taken; and the queue's."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.messages import get_messages
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.actions import proposals_work
from studio.models import Firing, Piece, Proposal
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def client_of(client):
    factories.studio()
    maud = factories.tutor()
    client.force_login(maud)
    return client


@pytest.fixture
def worked_out(monkeypatch, django_capture_on_commit_callbacks):
    """Presses a button and works out at once what would be worked on beside the pages."""

    def press(client: Client, address: str, **words) -> Proposal:
        begun = []
        monkeypatch.setattr(proposals_work, "start", lambda proposal, jobs: begun.append((proposal, jobs)))
        with django_capture_on_commit_callbacks(execute=True):
            answer = client.post(address, {"client_id": factories.client_id(), **words})
        assert answer.status_code == 302
        for proposal, jobs in begun:
            for job in jobs:
                job["seconds"] = job["each_s"] = 0.1
            proposals_work.work_on(proposal.pk, jobs)
        return Proposal.objects.order_by("pk").last()

    return press


def fill(firing: Firing) -> str:
    return reverse("load-propose", args=[firing.number])


def said(answer) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def test_filling_comparing_and_taking(client_of, worked_out):
    firing = factories.firing(pieces=[])
    ware = [factories.piece(stage="glazed") for _ in range(5)]
    bare = factories.piece(stage="bisqued")
    row = worked_out(client_of, fill(firing))
    page = client_of.get(reverse("proposal", args=[row.code])).content.decode()
    assert "2 ways to fill" in page
    assert "Oldest first" in page
    assert "Fullest" in page
    assert "No load of these pieces can take more than" in page
    assert all(piece.mark in page for piece in (*ware, bare))
    assert "Glaze it and note the glazes" in page
    assert "http-equiv" not in page

    take = reverse("proposal-take", args=[row.code])
    answer = client_of.post(take, {"way": "oldest", "client_id": factories.client_id()})
    assert answer.status_code == 302
    assert answer.url == reverse("load", args=[firing.number])
    assert firing.placements.filter(taken_out_at=None).count() == 5
    load = client_of.get(answer.url).content.decode()
    assert "Filled, oldest first: 5 pieces" in load
    assert "One of these was taken" in client_of.get(reverse("proposal", args=[row.code])).content.decode()


def test_it_is_watched_without_a_script_and_with_one(client_of):
    firing = factories.firing(pieces=[])
    factories.piece(stage="glazed")
    client_of.post(fill(firing), {"client_id": factories.client_id()})
    row = Proposal.objects.get()
    Proposal.objects.filter(pk=row.pk).update(percent=40)
    address = reverse("proposal", args=[row.code])
    page = client_of.get(address).content.decode()
    assert '<noscript><meta http-equiv="refresh" content="1"></noscript>' in page
    assert '<progress id="far" max="100" value="40">' in page
    part = client_of.get(address, headers={"HX-Request": "true"}).content.decode()
    assert 'value="40"' in part
    assert "<html" not in part

    answer = client_of.post(reverse("proposal-stop", args=[row.code]))
    assert "Nothing in the load was changed" in said(answer)
    assert "Stopped" in client_of.get(address).content.decode()


def test_a_server_started_anew_offers_it_again(client_of):
    firing = factories.firing(pieces=[])
    factories.piece(stage="glazed")
    client_of.post(fill(firing), {"client_id": factories.client_id()})
    Proposal.objects.update(beat_at=timezone.now() - timedelta(minutes=2))
    page = client_of.get(reverse("proposal", args=[Proposal.objects.get().code])).content.decode()
    assert "started anew" in page
    assert "Work it out again" in page
    assert "http-equiv" not in page


def test_refusals_are_told_where_one_goes_on(client_of, worked_out):
    firing = factories.firing(pieces=[])
    answer = client_of.post(fill(firing), {"client_id": factories.client_id()})
    assert answer.url == reverse("load", args=[firing.number])
    assert "No piece waits" in said(answer)
    pots = [factories.piece(stage="glazed") for _ in range(3)]
    row = worked_out(client_of, fill(firing))
    Piece.objects.filter(pk=pots[1].pk).update(height_mm=150)
    take = reverse("proposal-take", args=[row.code])
    answer = client_of.post(take, {"way": "oldest", "client_id": factories.client_id()})
    assert answer.url == reverse("proposal", args=[row.code])
    assert f"{pots[1].mark} has been measured again" in said(answer)
    assert "Work it out again" in said(answer)
    assert not firing.placements.exists()
    for words in ({"way": "sideways", "client_id": factories.client_id()}, {"way": "oldest"}, {}):
        assert client_of.post(take, words).status_code == 302
    assert not firing.placements.exists()
    assert client_of.get(reverse("proposal", args=["NOSUCH"])).status_code == 404


def test_a_firing_is_filled_as_it_is_planned(client_of, worked_out):
    kiln = factories.kiln()
    factories.piece(stage="glazed")
    words = {"kiln": kiln.code, "kind": "glaze", "cone": "6", "fill": "1"}
    row = worked_out(client_of, reverse("firing-new"), **words)
    assert row.firing.cone == "6"
    assert row.state == Proposal.State.READY
    factories.piece(stage="glazed")
    again = client_of.post(
        reverse("firing-new"), {**words, "kind": "bisque", "cone": "04", "client_id": factories.client_id()}
    )
    assert again.url == reverse("load", args=[Firing.objects.latest("number").number])
    assert "No piece waits" in said(again)


def test_the_queue_is_counted(client_of, worked_out):
    kiln = factories.kiln("Bertha")
    empty = client_of.get(reverse("queue")).content.decode()
    assert "Count them" in empty
    answer = client_of.post(reverse("queue"), {"client_id": factories.client_id()})
    assert "Nothing waits" in said(answer)
    dry = [factories.piece(stage="bone-dry") for _ in range(3)]
    wet = factories.piece(stage="wet")
    worked_out(client_of, reverse("queue"))
    page = client_of.get(reverse("queue")).content.decode()
    assert "What waits makes 1 firing" in page
    assert "Bisque firing, cone 04" in page
    assert kiln.name in page
    assert "guesses" in page
    assert "too few firings on record" in page
    assert all(piece.mark in page for piece in (*dry, wet))
    row = Proposal.objects.get()
    assert client_of.get(reverse("proposal", args=[row.code])).url == reverse("queue")


@pytest.mark.parametrize("name", ["proposal", "queue"])
def test_one_piece_or_thirty_ask_equally_often(client_of, worked_out, name):
    glaze = factories.glaze()
    firing = factories.firing(pieces=[])

    def count(more: int) -> int:
        for _ in range(more):
            piece = factories.piece(stage="glazed", maker=factories.student())
            piece.glazes_on.create(surface="outside", glaze=glaze, put_on_at=factories.NOW)
            factories.piece(stage="bisqued")
        row = worked_out(client_of, fill(firing) if name == "proposal" else reverse("queue"))
        address = reverse("proposal", args=[row.code]) if name == "proposal" else reverse("queue")
        client_of.get(address)
        with CaptureQueriesContext(connection) as asked:
            assert client_of.get(address).status_code == 200
        return len(asked)

    assert count(1) == count(30)


def test_asking_and_taking_ask_equally_often_for_one_piece_or_thirty(client_of, worked_out):
    counts = []
    for more in (1, 29):
        firing = factories.firing(pieces=[])
        for _ in range(more):
            factories.piece(stage="glazed")
        with CaptureQueriesContext(connection) as asked:
            row = worked_out(client_of, fill(firing))
        with CaptureQueriesContext(connection) as taken:
            client_of.post(
                reverse("proposal-take", args=[row.code]),
                {"way": "oldest", "client_id": factories.client_id()},
            )
        assert firing.placements.count() == more
        beats = sum('"beat_at"' in q["sql"] and q["sql"].startswith("UPDATE") for q in asked.captured_queries)
        # Each layer that is added is a row of its own; kilns have a dozen at most.
        layers = firing.layers.count() - 1
        counts.append((len(asked) - beats, len(taken) - layers))
    assert counts[0] == counts[1]
