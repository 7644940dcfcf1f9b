"""Shelves: the list, what stands on each, changing them. Students see their own pots there and no others."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Shelf
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client):
    factories.studio()
    person = factories.tutor()
    client.force_login(person)
    return person


def test_the_list_counts_live_pieces(client: Client, maud) -> None:
    shelf = factories.shelf("Ready A", where="Left of the door")
    factories.piece(shelf=shelf, stage="ready")
    factories.piece(stage="wet")
    page = client.get(reverse("shelves")).content.decode()
    assert re.search(r'lines__when">1<small>piece</small>.*?Ready A', page, re.S)
    assert "1 piece on no shelf" in page


def test_a_shelf_shows_its_pots_to_scale_with_tags(client: Client, maud) -> None:
    shelf = factories.shelf("Ready A")
    small = factories.piece(shelf=shelf, stage="ready", form="mug", height_mm=90)
    tall = factories.piece(shelf=shelf, stage="ready", form="vase", height_mm=180, width_mm=90, depth_mm=90)
    gone = factories.piece(shelf=None, stage="collected")
    page = client.get(reverse("shelf", args=[shelf.code])).content.decode()
    assert small.mark in page
    assert tall.mark in page
    assert not re.search(rf"\b{gone.mark}\b", page)
    heights = [float(value) for value in re.findall(r'<svg class="sil"[^>]* height="([\d.]+)"', page)]
    # Drawn at one scale: twice as tall is drawn twice as tall, but for the margin of 2 + 2 units round each.
    assert max(heights) - 4 == pytest.approx(2 * (min(heights) - 4), rel=0.02)


def test_a_student_sees_their_own_pots_on_it(client: Client, maud) -> None:
    ines = factories.student()
    shelf = factories.shelf("Ready A")
    mine = factories.piece(maker=ines, shelf=shelf, stage="ready", mark="K7H")
    theirs = factories.piece(maker=factories.student("Tobias"), shelf=shelf, stage="ready", mark="R2X")
    client.force_login(ines)
    page = client.get(reverse("shelf", args=[shelf.code])).content.decode()
    assert mine.mark in page
    assert not re.search(rf"\b{theirs.mark}\b", page)
    assert "Tobias" not in page
    assert "Put pieces on" not in page
    for name in ("shelves", "shelf-new"):
        assert client.get(reverse(name)).status_code == 404
    for name in ("shelf-retire", "shelf-new-tag"):
        assert client.post(reverse(name, args=[shelf.code])).status_code == 404


def test_the_tutor_adds_changes_and_retires(client: Client, maud) -> None:
    url = reverse("shelf-new")
    assert client.get(url).status_code == 200
    client.post(url, {"name": "Drying rack", "where": "By the sinks", "purpose": "drying"})
    shelf = Shelf.objects.get()
    assert shelf.tags.count() == 1
    answer = client.post(url, {"name": "drying RACK", "where": "", "purpose": "other"})
    assert "a shelf of this name already" in answer.content.decode()
    edit = reverse("shelf-edit", args=[shelf.code])
    assert 'value="By the sinks"' in client.get(edit).content.decode()
    client.post(edit, {"name": "Drying rack 1", "where": "By the sinks", "purpose": "drying"})
    piece = factories.piece(shelf=shelf)
    retire = reverse("shelf-retire", args=[shelf.code])
    assert "Put them elsewhere first" in client.post(retire, follow=True).content.decode()
    piece.shelf = None
    piece.save()
    assert "not in use any more" in client.post(retire, follow=True).content.decode()
    client.post(retire)
    shelf.refresh_from_db()
    assert (shelf.name, shelf.retired_at) == ("Drying rack 1", None)
    old = shelf.tags.get(retired_at=None).code
    client.post(reverse("shelf-new-tag", args=[shelf.code]))
    assert shelf.tags.get(retired_at=None).code != old


def test_a_helper_looks_but_does_not_change_them(client: Client) -> None:
    shelf = factories.shelf()
    client.force_login(factories.helper())
    assert client.get(reverse("shelves")).status_code == 200
    assert client.get(reverse("shelf", args=[shelf.code])).status_code == 200
    assert client.get(reverse("shelf-edit", args=[shelf.code])).status_code == 404
    assert client.post(reverse("shelf-retire", args=[shelf.code])).status_code == 404


def test_bad_codes_methods_and_visitors(client: Client, maud) -> None:
    assert client.get(reverse("shelf", args=["NOTTHERE"])).status_code == 404
    shelf = factories.shelf()
    assert client.post(reverse("shelf", args=[shelf.code])).status_code == 405
    assert client.get(reverse("shelf-retire", args=[shelf.code])).status_code == 405
    assert Client().get(reverse("shelf", args=[shelf.code])).url.startswith(reverse("sign-in"))


def test_one_query_count_with_1_and_with_30(
    client: Client, maud, django_assert_num_queries, django_assert_max_num_queries
) -> None:
    shelf, satin = factories.shelf(), factories.glaze()

    def add() -> None:
        row = factories.piece(shelf=shelf, stage="ready")
        row.glazes_on.create(surface="outside", glaze=satin, put_on_at=factories.NOW)

    add()
    url = reverse("shelf", args=[shelf.code])
    with django_assert_max_num_queries(12) as one:
        client.get(url)
    one = len(one)
    for _ in range(29):
        add()
    with django_assert_num_queries(one):
        assert client.get(url).content.decode().count('<a class="stander') == 30
