"""A load changed by hand on its page: by forms that keep what was typed, and by the editor's requests."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Firing, LoadChange, Person, Piece, Placement
from studio.queries.loads import place_seen
from tests import factories
from tests.views.markup import forms_of, harm, says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

EDITOR = {"x-load-editor": "1"}


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.tutor())
    return client


@pytest.fixture
def firing(maud: Client) -> Firing:
    """A glaze firing of two layers, with a round piece and a box on the lower one."""
    maker = factories.student()
    pieces = [
        factories.piece(stage="glazed", maker=maker, mark="K7H"),
        factories.piece(
            stage="glazed", maker=maker, mark="TFF", is_round=False, width_mm=110, depth_mm=60, form="vase"
        ),
    ]
    row = factories.firing("planned", pieces=[], layers=2, by=Person.objects.get(role="tutor"))
    for number, piece in enumerate(pieces):
        Placement.objects.create(
            firing=row,
            layer=row.layers.get(number=1),
            piece=piece,
            x_mm=-100 + 200 * number,
            is_round=piece.is_round,
            width_mm=piece.width_mm,
            depth_mm=piece.depth_mm,
            height_mm=piece.height_mm,
            added_at=row.made_at,
            holds_piece=piece,
        )
    return row


def place(mark: str) -> Placement:
    return Placement.objects.select_related("layer", "piece").get(piece__mark=mark)


def send(client: Client, name: str, firing: Firing, *more: str, editor: bool = False, **words: Any) -> Any:
    words.setdefault("client_id", factories.client_id())
    headers = EDITOR if editor else {}
    return client.post(reverse(name, args=[firing.number, *more]), words, headers=headers)


# Planning


def test_start_the_load_pressed_twice_plans_one_firing(maud: Client) -> None:
    kiln = factories.kiln()
    url = reverse("firing-new")
    (form,) = [each for each in forms_of(maud.get(url).content.decode(), url) if "kind" in each.fields]
    sent = {**form.as_sent(), "kiln": kiln.code, "kind": "glaze"}
    first, second = maud.post(url, sent), maud.post(url, sent)
    assert first.url == second.url == reverse("load", args=[1])
    assert Firing.objects.count() == 1
    maud.post(url, {**form.as_sent(), "kiln": kiln.code, "client_id": factories.client_id()})
    assert Firing.objects.count() == 2


# Forms


def test_the_buttons_move_by_five_and_turn(maud: Client, firing: Firing) -> None:
    code = place("TFF").piece.code
    for nudge, at in (("left", (95, 0)), ("back", (95, 5)), ("right", (100, 5)), ("front", (100, 0))):
        answer = send(maud, "load-move", firing, code, nudge=nudge, seen=place_seen(place("TFF")))
        assert answer.url.endswith(f"?piece={code}#chosen")
        assert (place("TFF").x_mm, place("TFF").y_mm) == at
    send(maud, "load-move", firing, code, turn="1")
    assert place("TFF").turned
    assert (place("TFF").x_mm, place("TFF").y_mm) == (100, 0)


def test_a_refused_move_keeps_the_typed_figures_and_says_why(maud: Client, firing: Firing) -> None:
    code = place("K7H").piece.code
    words = {"layer": "1", "x_mm": "100", "y_mm": "3", "stand_mm": "20", "whole": "1"}
    answer = send(maud, "load-move", firing, code, **words)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says_no(page)
    assert "Pieces K7H and TFF stand in the same place" in page
    for name in ("x_mm", "y_mm", "stand_mm"):
        assert re.search(rf'name="{name}" value="{words[name]}"', page), name
    assert (place("K7H").x_mm, place("K7H").y_mm, place("K7H").stand_mm) == (-100, 0, 0)


@pytest.mark.parametrize("typed", ["left", "1e9", "99999", "12.5", "१२३४५"])
def test_figures_that_are_none_stay_on_the_form(maud: Client, firing: Firing, typed: str) -> None:
    answer = send(maud, "load-move", firing, place("K7H").piece.code, x_mm=typed, y_mm="0", whole="1")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f'value="{typed}"' in page
    assert place("K7H").x_mm == -100


def test_a_typeset_minus_is_a_minus(maud: Client, firing: Firing) -> None:
    send(maud, "load-move", firing, place("K7H").piece.code, x_mm="−120", y_mm="-20", whole="1")
    assert (place("K7H").x_mm, place("K7H").y_mm) == (-120, -20)


def test_another_layer_finds_a_free_place_unless_one_is_given(maud: Client, firing: Firing) -> None:
    code = place("K7H").piece.code
    send(maud, "load-move", firing, code, layer="2", x_mm="-100", y_mm="0", whole="1")
    assert place("K7H").layer.number == 2
    send(maud, "load-move", firing, code, layer="1", x_mm="-90", y_mm="10", whole="1")
    assert (place("K7H").layer.number, place("K7H").x_mm, place("K7H").y_mm) == (1, -90, 10)


def test_pin_swap_and_undo_by_form(maud: Client, firing: Firing) -> None:
    one, two = place("K7H").piece.code, place("TFF").piece.code
    answer = send(maud, "load-swap", firing, one, other=two)
    assert answer.status_code == 302
    assert (place("K7H").x_mm, place("TFF").x_mm) == (100, -100)
    send(maud, "load-pin", firing, one, pinned="1")
    assert place("K7H").pinned
    page = maud.get(reverse("load", args=[firing.number]), {"piece": one}).content.decode()
    assert "Unpin" in page
    assert "Take it out" not in page
    answer = send(maud, "load-take-out", firing, one)
    assert answer.status_code == 422
    assert "K7H is pinned. Unpin it first." in answer.content.decode()
    for _ in range(2):
        page = maud.get(reverse("load", args=[firing.number])).content.decode()
        code = re.search(r"/load/undo/(\w+)/", page)[1]
        answer = maud.post(
            reverse("load-undo", args=[firing.number, code]), {"client_id": factories.client_id()}
        )
        assert answer.status_code == 302
    assert (place("K7H").x_mm, place("K7H").pinned) == (-100, False)
    assert "/load/undo/" not in maud.get(reverse("load", args=[firing.number])).content.decode()


def test_a_swap_without_another_piece_says_so(maud: Client, firing: Firing) -> None:
    code = place("K7H").piece.code
    for words in ({}, {"other": ""}, {"other": "NOTTHERE"}, {"other": code}):
        answer = send(maud, "load-swap", firing, code, **words)
        assert answer.status_code == 422
        assert says_no(answer.content.decode())


def test_refused_props_stay_chosen(maud: Client, firing: Firing) -> None:
    answer = send(maud, "load-layers", firing, what="props", prop_1="50")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says_no(page)
    assert re.search(r'<option value="50" selected>', page)
    assert firing.layers.get(number=1).prop_mm == 150


def test_a_reason_that_is_no_help_stays_typed(maud: Client, firing: Firing) -> None:
    ivo = signed_in(factories.helper())
    hot = factories.piece(stage="glazed", clay=factories.clay("Red earth", cone="04"))
    answer = send(ivo, "load-put", firing, piece=[hot.code], layer="1", override_reason="It will do")
    assert answer.status_code == 422
    assert "Only the tutor may decide otherwise." in answer.content.decode()
    answer = send(maud, "load-put", firing, piece=[hot.code], layer="1", override_reason="It will do" * 40)
    assert answer.status_code == 422
    assert "It will doIt will do" in answer.content.decode()


# Two at one load


def test_a_stale_page_is_answered_plainly(maud: Client, firing: Firing) -> None:
    ivo, code = signed_in(factories.helper()), place("K7H").piece.code
    seen = place_seen(place("K7H"))
    send(ivo, "load-move", firing, code, nudge="back", seen=seen)
    for editor in (False, True):
        answer = send(maud, "load-move", firing, code, editor=editor, nudge="left", seen=seen)
        assert answer.status_code == 422
        assert "K7H has been moved meanwhile" in answer.content.decode()
    assert (place("K7H").x_mm, place("K7H").y_mm) == (-100, 5)
    send(ivo, "load-take-out", firing, code)
    answer = send(maud, "load-move", firing, code, nudge="left", seen=seen)
    assert answer.status_code == 422
    assert "K7H has been taken out of this load." in answer.content.decode()


# The editor's requests


def test_the_editor_gets_the_parts_that_have_changed(maud: Client, firing: Firing) -> None:
    code = place("K7H").piece.code
    answer = send(maud, "load-move", firing, code, editor=True, layer="1", x_mm="-80", y_mm="12")
    told = answer.json()
    assert (answer.status_code, told["problems"]) == (200, [])
    assert told["said"] == "K7H stands in its new place."
    assert set(told["parts"]) == {"board"}
    assert '"x": -80' in told["parts"]["board"]
    told = send(maud, "load-take-out", firing, code, editor=True).json()
    assert set(told["parts"]) == {"board", "waiting", "worth"}
    assert "K7H" in told["parts"]["waiting"]
    told = send(maud, "load-put", firing, editor=True, piece=[code]).json()
    assert told["said"] == "1 piece is in."


def test_the_editor_is_refused_with_the_load_as_it_stands(maud: Client, firing: Firing) -> None:
    answer = send(
        maud, "load-move", firing, place("K7H").piece.code, editor=True, layer="1", x_mm="900", y_mm="0"
    )
    told = answer.json()
    assert answer.status_code == 422
    assert "Piece K7H hangs over the edge of its shelf. Move it in." in told["problems"]
    assert '"x": -100' in told["parts"]["board"]


def test_some_in_and_some_not_is_said_to_the_editor_too(maud: Client, firing: Firing) -> None:
    fit, huge = (factories.piece(stage="glazed", width_mm=size, depth_mm=size) for size in (80, 600))
    answer = send(maud, "load-put", firing, editor=True, piece=[fit.code, huge.code])
    told = answer.json()
    assert answer.status_code == 200
    assert told["said"] == "1 piece is in."
    assert any(huge.mark in words for words in told["problems"])


def test_a_piece_is_chosen_without_loading_the_page(maud: Client, firing: Firing) -> None:
    url = reverse("load", args=[firing.number])
    told = maud.get(url, {"part": "board", "piece": place("TFF").piece.code}).json()
    assert 'id="chosen"' in told["parts"]["board"]
    assert 'id="chosen"' not in maud.get(url, {"part": "board"}).json()["parts"]["board"]


def test_what_the_editor_reckons_with_is_what_the_books_say(maud: Client, firing: Firing) -> None:
    told = maud.get(reverse("load", args=[firing.number]), {"part": "board"}).json()["parts"]["board"]
    assert '"mark": "TFF"' in told
    assert '"limit"' in told
    assert harm(f"<html>{told}</html>") == []


# Who waits


def test_many_waiting_pieces_come_by_the_page_and_are_filtered(maud: Client, firing: Firing) -> None:
    for number in range(60):
        factories.piece(
            stage="glazed", form="mug" if number % 3 else "bowl", cone_wanted="6" if number % 2 else ""
        )
    url = reverse("load", args=[firing.number])

    def listed(**query: str) -> list[str]:
        page = maud.get(url, query).content.decode()
        return re.findall(r'name="piece" value="(\w+)"', page.split('class="waiting"')[-1])

    assert len(listed()) == 12
    assert not set(listed()) & set(listed(**{"w-page": "2"}))
    assert len(listed(**{"w-page": "999"})) == 12
    mugs = listed(**{"w-form": "mug"})
    assert set(Piece.objects.filter(code__in=mugs).values_list("form", flat=True)) == {"mug"}
    asks = listed(**{"w-cone": "6"})
    assert set(Piece.objects.filter(code__in=asks).values_list("cone_wanted", flat=True)) == {"6"}
    none = listed(**{"w-cone": "none"})
    assert set(Piece.objects.filter(code__in=none).values_list("cone_wanted", flat=True)) == {""}
    one = Piece.objects.filter(stage="glazed", held_by__isnull=True).first()
    assert listed(**{"w-mark": one.mark.lower()}) == [one.code]
    page = maud.get(url, {"w-mark": "<b>nobody"}).content.decode()
    assert "None of the waiting pieces is like that." in page
    assert harm(page) == []
    # Folded away until it is wanted.
    assert 'id="waiting-list">' in maud.get(url).content.decode()


def test_what_was_ticked_and_refused_stays_ticked(maud: Client, firing: Firing) -> None:
    pieces = [factories.piece(stage="glazed", width_mm=200, depth_mm=200) for _ in range(14)]
    ticked = [piece.code for piece in pieces[-2:]]
    answer = send(maud, "load-put", firing, piece=ticked, layer="1", stand_mm="121")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'name="stand_mm" value="121"' in page
    assert set(re.findall(r'name="piece" value="(\w+)" checked', page)) == set(ticked)


def test_nobody_else_changes_a_load(firing: Firing) -> None:
    code = place("K7H").piece.code
    change = LoadChange.objects.create(
        firing=firing, kind="moved", words="x", at=factories.NOW, client_id="a"
    )
    for client in (signed_in(factories.student("Tobias")), Client()):
        for name, more in (
            ("load-move", [code]),
            ("load-pin", [code]),
            ("load-swap", [code]),
            ("load-undo", [change.code]),
        ):
            answer = send(client, name, firing, *more, nudge="left")
            assert answer.status_code in {302, 404}
    assert place("K7H").x_mm == -100
    assert not place("K7H").pinned


def test_the_sheet_lists_stands_and_places_from_the_bottom(maud: Client, firing: Firing) -> None:
    Placement.objects.filter(piece__mark="TFF").update(
        stand_mm=15, y_mm=-42, layer=firing.layers.get(number=2)
    )
    page = maud.get(reverse("load-sheet", args=[firing.number])).content.decode()
    assert page.index("Bottom shelf</h2>") < page.index("Top shelf</h2>")
    assert re.search(r"1 piece stands on stands of 15 mm:\s*<span class=\"mk\">TFF</span>", page)
    assert "10 cm right, 4.2 cm front" in page
    assert "10 cm left" in page
    for caution in (
        "Mains off at the wall",
        "Heat.",
        "Lifting",
        "Silica dust",
        "your local rules come first",
    ):
        assert caution in page
