"""A load planned by hand: the firing, its layers, what goes in and comes out, and the sheet to print."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Firing, Override, Person, Piece, Placement
from tests import factories
from tests.views.markup import says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.tutor())
    return client


@pytest.fixture
def firing(maud: Client) -> Firing:
    """A glaze firing with one bare layer."""
    return factories.firing("planned", pieces=[], by=Person.objects.get(role="tutor"))


def glazed(**values: object) -> Piece:
    return factories.piece(stage="glazed", maker=values.pop("maker", None) or factories.student(), **values)


def post(client: Client, name: str, firing: Firing, *more: str, **words: object) -> str:
    words.setdefault("client_id", factories.client_id())
    return client.post(reverse(name, args=[firing.number, *more]), words, follow=True).content.decode()


def standing(firing: Firing) -> list[str]:
    rows = firing.placements.filter(taken_out_at__isnull=True)
    return sorted(rows.values_list("piece__mark", flat=True))


# The firing itself


def test_a_firing_is_planned_to_the_kilns_usual_cone(maud: Client) -> None:
    kiln = factories.kiln("Big round")
    page = maud.get(reverse("firing-new")).content.decode()
    assert "Big round" in page
    answer = maud.post(reverse("firing-new"), {"kiln": kiln.code, "kind": "bisque", "cone": ""})
    firing = Firing.objects.get()
    assert answer.url == reverse("load", args=[firing.number])
    assert (firing.number, firing.cone, firing.layers.count()) == (1, "04", 1)
    maud.post(reverse("firing-new"), {"kiln": kiln.code, "kind": "glaze", "cone": "5"})
    assert Firing.objects.get(number=2).cone == "5"


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"kiln": ""}, "Please fill this in"),
        ({"kiln": "NOTTHERE"}, "Choose one of those in the list"),
        ({"kind": "raku"}, "Choose one of those in the list"),
        ({"kind": "low", "cone": ""}, "Say to which cone"),
        ({"cone": "hot"}, "cone"),
        ({"cone": "10"}, "fires to cone 8 at most"),
        ({"planned_for": "tomorrow"}, "valid"),
    ],
)
def test_a_firing_that_cannot_be_says_why(maud: Client, changed: dict[str, str], sentence: str) -> None:
    kiln = factories.kiln()
    sent = {"kiln": kiln.code, "kind": "glaze", "cone": "6", **changed}
    answer = maud.post(reverse("firing-new"), sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert says_no(page)
    if sent["cone"]:
        assert f'value="{sent["cone"]}"' in page
    assert Firing.objects.count() == 0


def test_a_link_from_a_kiln_chooses_it(maud: Client) -> None:
    factories.kiln("Big round")
    small = factories.kiln("Small square")
    page = maud.get(reverse("firing-new"), {"kiln": small.code, "kind": "glaze"}).content.decode()
    assert re.search(rf'value="{small.code}"[^>]*checked', page)
    assert re.search(r'value="glaze"[^>]*checked', page)
    assert maud.get(reverse("firing-new"), {"kiln": "x' OR 1", "kind": "<b>"}).status_code == 200


# What goes in


def test_ticked_pieces_find_their_places(maud: Client, firing: Firing) -> None:
    pieces = [glazed() for _ in range(5)]
    page = maud.get(reverse("load", args=[firing.number])).content.decode()
    for piece in pieces:
        assert piece.mark in page
    page = post(maud, "load-put", firing, piece=[piece.code for piece in pieces])
    assert "5 pieces are in." in page
    assert standing(firing) == sorted(piece.mark for piece in pieces)
    places = list(firing.placements.all())
    # No two stand closer than their radii and the clearance, and none sticks out of its kiln shelf.
    for place in places:
        assert (place.x_mm**2 + place.y_mm**2) ** 0.5 + place.width_mm / 2 <= firing.kiln.shelf_width_mm / 2
        for other in places:
            if other.pk != place.pk:
                apart = ((place.x_mm - other.x_mm) ** 2 + (place.y_mm - other.y_mm) ** 2) ** 0.5
                assert apart >= (place.width_mm + other.width_mm) / 2


def test_what_may_not_go_in_stays_out_with_its_reason(maud: Client, firing: Firing) -> None:
    wet = factories.piece(stage="wet", maker=factories.student())
    fit, huge = glazed(), glazed(width_mm=600, depth_mm=600)
    page = post(maud, "load-put", firing, piece=[wet.code, fit.code, huge.code])
    assert "1 piece is in." in page
    assert standing(firing) == [fit.mark]
    assert f"{wet.mark} is waiting for a bisque firing, not a glaze firing." in page
    assert huge.mark in page
    page = maud.get(reverse("load", args=[firing.number])).content.decode()
    assert "Left on the ware board, and why" in page


def test_nothing_ticked_and_codes_that_never_were(maud: Client, firing: Firing) -> None:
    for words in ({}, {"piece": ["NOTTHERE"]}):
        assert "Tick the pieces that are to go in." in post(maud, "load-put", firing, **words)
    piece = glazed()
    # What makes no sense is refused, and everything typed stays: the tick, the stand.
    url = reverse("load-put", args=[firing.number])
    sent = {"piece": [piece.code], "layer": "99", "stand_mm": "high", "client_id": factories.client_id()}
    answer = maud.post(url, sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says_no(page)
    assert 'value="high"' in page
    assert re.search(rf'name="piece" value="{piece.code}" checked', page)
    assert standing(firing) == []


def test_the_tutor_overrules_with_a_reason_that_stays(maud: Client) -> None:
    tutor = Person.objects.get(role="tutor")
    firing = factories.firing("planned", kind="bisque", pieces=[], by=tutor)
    damp = factories.piece(stage="leather-hard", maker=factories.student())
    page = post(maud, "load-put", firing, piece=[damp.code], layer="1")
    assert standing(firing) == []
    page = post(
        maud, "load-put", firing, piece=[damp.code], layer="1", override_reason="Dried by the kiln all night"
    )
    assert "1 piece is in." in page
    assert "Dried by the kiln all night" in page
    assert Override.objects.get().by == tutor
    assert (
        "Dried by the kiln all night"
        in maud.get(reverse("load-sheet", args=[firing.number])).content.decode()
    )


def test_a_helper_does_not_overrule(maud: Client) -> None:
    firing = factories.firing("planned", kind="bisque", pieces=[])
    damp = factories.piece(stage="leather-hard", maker=factories.student())
    ivo = signed_in(factories.helper())
    page = post(ivo, "load-put", firing, piece=[damp.code], layer="1", override_reason="It feels dry")
    assert "Only the tutor may decide otherwise." in page
    assert standing(firing) == []
    assert Override.objects.count() == 0


def test_a_piece_stands_in_one_load_at_a_time(maud: Client, firing: Firing) -> None:
    piece = glazed()
    other = factories.firing("planned", pieces=[piece])
    page = post(maud, "load-put", firing, piece=[piece.code])
    assert standing(firing) == []
    assert f"{other.number}" in page
    assert says_no(page)


def test_a_piece_is_moved_and_taken_out(maud: Client, firing: Firing) -> None:
    piece, other = glazed(), glazed()
    post(maud, "load-put", firing, piece=[piece.code, other.code])
    page = post(maud, "load-move", firing, piece.code, layer="1", x_mm="150", y_mm="-40", stand_mm="15")
    place = Placement.objects.get(piece=piece)
    assert (place.x_mm, place.y_mm, place.stand_mm) == (150, -40, 15)
    assert "stands in its new place" in page
    # On top of another one, out of the shelf, or no number at all: refused, and it stays.
    there = Placement.objects.get(piece=other)
    for words in (
        {"x_mm": str(there.x_mm), "y_mm": str(there.y_mm)},
        {"x_mm": "900", "y_mm": "0"},
    ):
        page = post(maud, "load-move", firing, piece.code, layer="1", **words)
        assert says_no(page)
        place.refresh_from_db()
        assert (place.x_mm, place.y_mm) == (150, -40)
    page = post(maud, "load-take-out", firing, piece.code)
    assert f"{piece.mark} is out of the load." in page
    assert standing(firing) == [other.mark]
    # Out already counts as done; a piece that never stood here has no such page.
    assert f"{piece.mark} is out of the load." in post(maud, "load-take-out", firing, piece.code)
    assert standing(firing) == [other.mark]
    stranger = glazed()
    assert maud.post(reverse("load-take-out", args=[firing.number, stranger.code])).status_code == 404


def test_layers_are_added_propped_and_taken_away(maud: Client, firing: Firing) -> None:
    for _ in range(2):
        page = post(maud, "load-layers", firing, what="add")
        assert "The layers are changed." in page
    props = list(firing.layers.order_by("number").values_list("prop_mm", flat=True))
    assert len(props) == 3
    assert props[-1] == 0
    assert set(props[:2]) <= {50, 100, 150, 200}
    post(maud, "load-layers", firing, what="props", prop_1="200", prop_2="100")
    assert list(firing.layers.order_by("number").values_list("prop_mm", flat=True)) == [200, 100, 0]
    for prop in ("75", "tall", ""):
        page = post(maud, "load-layers", firing, what="props", prop_1=prop, prop_2="100")
        assert "Choose the props from the list." in page
    post(maud, "load-layers", firing, what="remove")
    assert firing.layers.count() == 2


def test_a_layer_with_ware_on_it_stays(maud: Client, firing: Firing) -> None:
    post(maud, "load-layers", firing, what="add")
    piece = glazed()
    post(maud, "load-put", firing, piece=[piece.code], layer="2")
    page = post(maud, "load-layers", firing, what="remove")
    assert f"still holds {piece.mark}" in page
    assert firing.layers.count() == 2


def test_more_layers_than_the_kiln_is_high_are_refused(maud: Client, firing: Firing) -> None:
    for _ in range(8):
        page = post(maud, "load-layers", firing, what="add")
    assert says_no(page)
    assert firing.layers.count() < 8


def test_a_load_is_given_up_and_planned_again(maud: Client, firing: Firing) -> None:
    piece = glazed()
    post(maud, "load-put", firing, piece=[piece.code])
    page = post(maud, "load-cancel", firing)
    assert "is given up. Its pieces wait for the next one." in page
    firing.refresh_from_db()
    assert firing.state == "cancelled"
    other = factories.firing("planned", pieces=[])
    assert "1 piece is in." in post(maud, "load-put", other, piece=[piece.code])
    page = post(maud, "load-cancel", firing)
    assert "planned again" in page or says_no(page)


@pytest.mark.parametrize("state", ["firing", "cooling", "unloading"])
def test_a_load_in_the_fire_is_not_changed(maud: Client, state: str) -> None:
    firing = factories.firing(state, pieces=2)
    place = firing.placements.first()
    before = list(firing.placements.values_list())
    page = maud.get(reverse("load", args=[firing.number])).content.decode()
    assert "can’t be changed any more" in page
    assert "Put the ticked ones in" not in page
    for name, more, words in (
        ("load-put", [], {"piece": [glazed().code]}),
        ("load-layers", [], {"what": "add"}),
        ("load-cancel", [], {}),
        ("load-take-out", [place.piece.code], {}),
        ("load-move", [place.piece.code], {"layer": "1", "x_mm": "0", "y_mm": "0"}),
    ):
        assert says_no(post(maud, name, firing, *more, **words)), name
    firing.refresh_from_db()
    assert firing.state == state
    assert list(firing.placements.values_list()) == before


def test_the_sheet_has_everything_the_loader_needs(maud: Client, firing: Firing) -> None:
    post(maud, "load-layers", firing, what="add")
    sam = factories.young_person()
    low, high = glazed(maker=sam), glazed(maker=factories.student())
    post(maud, "load-put", firing, piece=[low.code], layer="1")
    post(maud, "load-put", firing, piece=[high.code], layer="2", stand_mm="15")
    page = maud.get(reverse("load-sheet", args=[firing.number])).content.decode()
    prop = firing.layers.get(number=1).prop_mm
    for said in (
        low.mark,
        high.mark,
        f"3 props of {prop} mm",
        "15 mm",
        "Two hands",
        "never sweep",
        "Ines A.",
    ):
        assert said in page
    # Of the under-18s paper that lies about has the first name alone.
    assert "Sam" in page
    assert "Pellow" not in page


def test_an_empty_load_says_what_comes_here(maud: Client, firing: Firing) -> None:
    page = maud.get(reverse("load", args=[firing.number])).content.decode()
    assert "pieces come here when they are glazed" in page
    assert maud.get(reverse("load-sheet", args=[firing.number])).status_code == 200


def test_a_piece_named_in_the_address_is_shown_chosen(maud: Client, firing: Firing) -> None:
    piece = glazed()
    post(maud, "load-put", firing, piece=[piece.code])
    url = reverse("load", args=[firing.number])
    assert 'id="chosen"' in maud.get(url, {"piece": piece.code}).content.decode()
    for other in ("NOTTHERE", "", "<b>"):
        assert 'id="chosen"' not in maud.get(url, {"piece": other}).content.decode()


def test_numbers_and_methods_that_are_none(maud: Client, firing: Firing) -> None:
    for name in ("load", "load-sheet"):
        assert maud.get(reverse(name, args=[999])).status_code == 404
        assert maud.post(reverse(name, args=[firing.number])).status_code == 405
    for name in ("load-put", "load-layers", "load-cancel"):
        assert maud.get(reverse(name, args=[firing.number])).status_code == 405
        assert maud.post(reverse(name, args=[999])).status_code == 404
    ines = signed_in(factories.student())
    assert ines.get(reverse("load", args=[firing.number])).status_code == 404
    assert ines.post(reverse("load-cancel", args=[firing.number])).status_code == 404
