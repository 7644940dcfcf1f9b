"""The pages on how glazes turn out."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from studio.models import Combination, CombinationLayer, GlazeResult, Person
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


def combination(*names: str, sound: int = 0, flawed: int = 0, lost: int = 0) -> Combination:
    """A combination with so many results, from the clay up."""
    glazes = [factories.glaze(name) for name in names]
    row = Combination.objects.create(key=">".join(str(glaze.pk) for glaze in glazes))
    for order, glaze in enumerate(glazes, start=1):
        CombinationLayer.objects.create(combination=row, order=order, glaze=glaze)
    outcomes = ["sound"] * sound + ["flawed"] * flawed + ["lost"] * lost
    if not outcomes:
        return row
    firing = factories.firing(
        "unloading", kiln=factories.kiln(), pieces=[factories.piece(stage="glazed") for _ in outcomes]
    )
    for place, outcome in zip(firing.placements.select_related("piece"), outcomes, strict=True):
        answer = factories.unload_one(place, outcome)
        GlazeResult.objects.create(
            combination=row,
            answer=answer,
            piece=place.piece,
            firing=firing,
            kiln=firing.kiln,
            clay=place.piece.clay,
            cone=firing.cone,
            surfaces="inside outside",
            layer_number=1,
            layer_count=1,
            outcome=outcome,
            at=answer.at,
        )
    return row


def test_an_empty_studio_is_told_how_results_come(maud: Person) -> None:
    page = signed_in(maud).get("/results/").content.decode()
    assert "There are no results yet" in page


def test_the_list_says_what_may_be_said(maud: Person) -> None:
    combination("Iron Red", "White Satin", sound=11)
    combination("Ash", sound=2)
    page = signed_in(maud).get("/results/").content.decode()
    assert "White Satin over Iron Red" in page
    assert "Reliable here" in page
    assert "2 pieces say little: it takes ten." in page


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        ({"q": "satin white over iron, cone 6, bowls"}, True),
        ({"q": "iron over satin white"}, False),
        ({"said": "reliable here"}, True),
        ({"said": "take care"}, False),
        ({"said": "nonsense"}, True),
        ({"kiln": "nonsense"}, True),
        ({"q": "\x00"}, True),
        ({"q": "x" * 5000}, True),
    ],
)
def test_one_line_finds_them_and_nonsense_breaks_nothing(maud: Person, asked: dict, shown: bool) -> None:
    combination("Iron Red", "White Satin", sound=11)
    answer = signed_in(maud).get("/results/", asked)
    assert answer.status_code == 200
    assert ("White Satin over Iron Red" in answer.content.decode()) is shown


def test_one_combination_with_its_rates_and_where_it_sat(maud: Person) -> None:
    row = combination("Ember Matte", sound=8, flawed=2, lost=1)
    page = signed_in(maud).get(reverse("combination", args=[row.code])).content.decode()
    # Wilson's interval of 8 in 11, by hand from the formula in Wilson 1927: 0.4344 to 0.9025.
    assert "8 of 11" in page
    assert "43 to 90 %" in page
    assert "Bottom shelf" in page or "Top shelf" in page
    assert "Pinholes" in page


@pytest.mark.parametrize(
    ("sound", "flawed", "sign", "row"),
    [
        (24, 0, "sign mt-3 sign--sound", "ci__row--reliable"),
        (30, 30, "sign mt-3 sign--flawed", "ci__row--care"),
        (4, 0, "sign mt-3", "ci__row--too_few"),
    ],
)
def test_what_needs_care_has_a_sign_and_a_colour_of_its_own(
    maud: Person, sound: int, flawed: int, sign: str, row: str
) -> None:
    judged = combination("Ember Matte", sound=sound, flawed=flawed)
    every_other = [result.pk for result in GlazeResult.objects.order_by("pk")][::2]
    GlazeResult.objects.filter(pk__in=every_other).update(cone="5")
    page = signed_in(maud).get(reverse("combination", args=[judged.code])).content.decode()
    assert f'class="{sign}"' in page
    assert re.findall(r"ci__row--(?:reliable|care|too_few)", page) == [row, row]


def test_the_tutor_notes_what_was_found_out_and_a_helper_does_not(maud: Person) -> None:
    row = combination("Ember Matte", sound=1)
    url = reverse("combination-note", args=[row.code])
    assert signed_in(maud).post(url, {"notes": "Thin it inside bowls."}).status_code == 302
    row.refresh_from_db()
    assert row.notes == "Thin it inside bowls."
    assert signed_in(factories.helper()).post(url, {"notes": "x"}).status_code == 404
    too_long = signed_in(maud).post(url, {"notes": "x" * 1001})
    assert too_long.status_code == 422
    assert "x" * 1001 in too_long.content.decode()


def test_two_side_by_side(maud: Person) -> None:
    good, bad = combination("Chalk", sound=40), combination("Ember", sound=10, flawed=20)
    few = combination("Ash", sound=3)
    client, url = signed_in(maud), reverse("glaze-compare")
    page = client.get(url, {"first": good.code, "second": bad.code}).content.decode()
    assert "Chalk comes out sound more often." in page
    page = client.get(url, {"first": bad.code, "second": good.code}).content.decode()
    assert "Chalk comes out sound more often." in page
    page = client.get(url, {"first": good.code, "second": few.code}).content.decode()
    assert "Too few pieces to say which is the surer." in page
    page = client.get(url, {"first": good.code, "second": good.code}).content.decode()
    assert "Those are the same" in page
    assert client.get(url, {"first": "nonsense", "second": "\x00"}).status_code == 200


def test_no_maker_is_named(maud: Person) -> None:
    row = combination("Chalk", sound=3)
    Person.objects.filter(role="member").update(last_name="Arkwellington")
    page = signed_in(maud).get(reverse("combination", args=[row.code])).content.decode()
    assert "Arkwellington" not in page


@pytest.mark.parametrize("url", ["/results/", "/results/compare/"])
def test_students_do_not_see_everybodys_results(maud: Person, url: str) -> None:
    assert signed_in(factories.student()).get(url).status_code == 404
