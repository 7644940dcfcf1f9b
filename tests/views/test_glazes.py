"""Glazes and clays: entered, changed, taken out of use; everyone on the staff reads them."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import ClayBody, Glaze
from tests import factories
from tests.views.markup import says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.tutor())
    return client


def glaze(**more: object) -> dict[str, object]:
    return {
        "name": "Chalk Satin",
        "kind": "glaze",
        "colour": "#d8d4c8",
        "finish": "satin",
        "cone_from": "5",
        "cone_to": "6",
        "movement": "moves",
        "food_contact": "suitable",
        "notes": "Two dips.",
        **more,
    }


def clay(**more: object) -> dict[str, object]:
    return {
        "name": "Speckled stoneware",
        "colour": "#b39272",
        "cone": "6",
        "shrinkage_dry_pct": "6",
        "shrinkage_bisque_pct": "7",
        "shrinkage_fired_pct": "12.5",
        **more,
    }


def test_a_glaze_is_entered_and_can_be_chosen(maud: Client) -> None:
    page = maud.post(reverse("glaze-new"), glaze(), follow=True).content.decode()
    row = Glaze.objects.get()
    assert (row.name, row.cone_from, row.cone_to, row.movement) == ("Chalk Satin", "5", "6", "moves")
    assert "It can be chosen at the glaze table now" in page
    assert "Chalk Satin" in page
    piece = factories.piece(stage="bisqued")
    assert "Chalk Satin" in maud.get(reverse("piece-glazes", args=[piece.code])).content.decode()


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Please fill this in"),
        ({"name": "x" * 61}, "at most 60"),
        ({"colour": "red"}, "colour like #7a8c99"),
        ({"cone_from": "6", "cone_to": "04"}, "cone"),
        ({"cone_from": "99"}, "cone"),
        ({"movement": "jumps"}, "Choose one of those in the list"),
        ({"food_contact": "yes"}, "Choose one of those in the list"),
    ],
)
def test_a_bad_glaze_says_what_to_do_and_keeps_what_was_typed(
    maud: Client, changed: dict[str, str], sentence: str
) -> None:
    answer = maud.post(reverse("glaze-new"), glaze(**changed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "Two dips." in page
    assert 'value="satin"' in page
    assert Glaze.objects.count() == 0


def test_two_glazes_of_one_name_are_refused_until_one_is_out_of_use(maud: Client) -> None:
    maud.post(reverse("glaze-new"), glaze())
    answer = maud.post(reverse("glaze-new"), glaze(name="CHALK satin"))
    assert answer.status_code == 422
    assert says_no(answer.content.decode())
    old = Glaze.objects.get()
    page = maud.post(reverse("glaze-retire", args=[old.code]), follow=True).content.decode()
    assert "Pieces that carry it keep it" in page
    assert maud.post(reverse("glaze-new"), glaze(name="CHALK satin")).status_code == 302
    page = maud.post(reverse("glaze-retire", args=[old.code]), follow=True).content.decode()
    old.refresh_from_db()
    assert old.retired_at is not None  # its name is taken now
    assert "note--stop" in page


def test_a_glaze_is_changed(maud: Client) -> None:
    row = factories.glaze("Chalk Satin", notes="Old words")
    url, page = reverse("glaze-edit", args=[row.code]), reverse("glaze", args=[row.code])
    assert "Old words" in maud.get(url).content.decode()
    assert maud.post(url, glaze(notes="Three dips.", food_contact="unsuitable")).url == page
    row.refresh_from_db()
    assert (row.notes, row.food_contact) == ("Three dips.", "unsuitable")
    assert "Decorative only" in maud.get(reverse("glazes")).content.decode()


def test_out_of_use_a_glaze_stays_on_its_pots_and_is_offered_no_more(maud: Client) -> None:
    row, piece = factories.glaze("Tin Lustre"), factories.piece(stage="glazed")
    piece.glazes_on.create(surface="outside", glaze=row, put_on_at=factories.NOW)
    maud.post(reverse("glaze-retire", args=[row.code]))
    assert "Tin Lustre" in maud.get(reverse("piece", args=[piece.code])).content.decode()
    other = factories.piece(stage="bisqued")
    assert "Tin Lustre" not in maud.get(reverse("piece-glazes", args=[other.code])).content.decode()


def test_a_clay_is_entered_and_changed(maud: Client) -> None:
    page = maud.post(reverse("clay-new"), clay(), follow=True).content.decode()
    row = ClayBody.objects.get()
    assert str(row.shrinkage_fired_pct) == "12.5"
    assert "It can be chosen for new pieces now" in page
    assert "Speckled stoneware" in maud.get(reverse("piece-new")).content.decode()
    url = reverse("clay", args=[row.code])
    assert 'value="12.5"' in maud.get(url).content.decode()
    maud.post(url, clay(shrinkage_fired_pct="13"))
    row.refresh_from_db()
    assert row.shrinkage_fired_pct == 13


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Please fill this in"),
        ({"shrinkage_fired_pct": "twelve"}, "number"),
        ({"shrinkage_fired_pct": "-3"}, ""),
        ({"shrinkage_fired_pct": "80"}, ""),
        # Ware never grows again in the fire (common practice, no source).
        ({"shrinkage_dry_pct": "13"}, ""),
        ({"cone": "hot"}, "cone"),
    ],
)
def test_a_bad_clay_says_what_to_do_and_keeps_what_was_typed(
    maud: Client, changed: dict[str, str], sentence: str
) -> None:
    answer = maud.post(reverse("clay-new"), clay(**changed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert says_no(page)
    for value in changed.values():
        assert f'value="{value}"' in page or not value
    assert ClayBody.objects.count() == 0


def test_nothing_yet_says_what_to_do(maud: Client) -> None:
    for name in ("glazes", "clays"):
        page = maud.get(reverse(name)).content.decode()
        assert reverse("glaze-new" if name == "glazes" else "clay-new") in page


def test_a_helper_reads_and_students_do_not(maud: Client) -> None:
    row = factories.glaze("Chalk Satin")
    ivo = signed_in(factories.helper())
    assert "Chalk Satin" in ivo.get(reverse("glazes")).content.decode()
    assert ivo.get(reverse("clays")).status_code == 200
    assert ivo.get(reverse("glaze", args=[row.code])).status_code == 200
    for name, args in (
        ("glaze-edit", [row.code]),
        ("glaze-new", []),
        ("clay-new", []),
        ("clay", [factories.clay().code]),
    ):
        assert ivo.get(reverse(name, args=args)).status_code == 404
    assert signed_in(factories.student()).get(reverse("glazes")).status_code == 404
    assert maud.get(reverse("glaze", args=["NOTTHERE"])).status_code == 404
    assert maud.get(reverse("glaze-retire", args=[row.code])).status_code == 405
