"""The end of an unload: what was found or is missing, closing once, who pays what, and opening again."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Charge, Firing, Notice, Person, Piece, Settlement, UnloadAnswer
from studio.queries import money as money_queries
from tests import factories
from tests.actions.replay import agrees
from tests.factories import client_id
from tests.views.markup import says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.tutor())
    return client


@pytest.fixture
def ines() -> Person:
    return factories.student()


def opened(*makers: Person, answered: bool = True) -> Firing:
    pieces = [factories.piece(stage="glazed", maker=maker) for maker in makers]
    firing = factories.firing("unloading", pieces=pieces)
    return factories.answered(firing) if answered else firing


def page_of(client: Client, firing: Firing, name: str = "reconcile") -> str:
    return client.get(reverse(name, args=[firing.number])).content.decode()


def post(client: Client, name: str, firing: Firing, *more: str, **words: object):
    sent = {"client_id": client_id(), **words}
    return client.post(reverse(name, args=[firing.number, *more]), sent, follow=True)


def close(client: Client, firing: Firing, **words: object) -> str:
    return post(client, "firing-close", firing, **words).content.decode()


# What does not add up


def test_open_places_are_listed_with_their_buttons(maud: Client, ines: Person) -> None:
    firing = opened(ines, ines, answered=False)
    factories.unload_one(firing.placements.first(), "sound")
    page = page_of(maud, firing)
    assert "1 of 2 out" in page
    assert "No answer yet" in page
    assert "Not there" in page
    assert "Close the firing" not in page


def test_a_piece_that_is_not_there_is_lost_and_can_turn_up(maud: Client, ines: Person) -> None:
    firing = opened(ines, answered=False)
    piece = firing.placements.get().piece
    page = post(maud, "missing", firing, piece.code).content.decode()
    assert f"{piece.mark} is noted as not there" in page
    row = UnloadAnswer.objects.get()
    assert (row.outcome, row.loss_cause) == ("lost", "missing")
    piece.refresh_from_db()
    assert piece.stage == "lost"
    post(maud, "unload-undo", firing, row.code)
    piece.refresh_from_db()
    assert piece.stage == "glaze-firing"
    for code in ("NOTTHERE", factories.piece().code):
        assert "not in this load" in post(maud, "missing", firing, code).content.decode()


def test_an_unmarked_piece_is_taken_in_and_gets_a_mark(maud: Client, ines: Person) -> None:
    firing = opened(ines)
    shelf = factories.shelf("Ready A")
    page = post(
        maud, "found", firing, form="bowl", width_mm="84", height_mm="72", outcome="sound", shelf=shelf.code
    ).content.decode()
    found = Piece.objects.order_by("-pk").first()
    assert f"It has the mark {found.mark} now" in page
    assert (found.maker, found.form, found.width_mm, found.height_mm, found.shelf) == (
        None,
        "bowl",
        84,
        72,
        shelf,
    )
    assert "Whose is this bowl?" in page
    there = maud.get(f"/firings/{firing.number}/reconcile/").content.decode()
    assert "(found here)" in there
    assert f'href="/orphans/{found.code}/whose/"' in there
    assert agrees(found)
    assert "Find out whose piece this is" in maud.get("/").content.decode()


def test_a_marked_piece_from_elsewhere_is_taken_in(maud: Client, ines: Person) -> None:
    firing = opened(ines)
    other = factories.piece(stage="glazed", maker=factories.student("Tobias"), mark="K7H")
    page = post(maud, "found", firing, mark="k7h", form="other", outcome="sound").content.decode()
    assert "K7H is taken in with this firing." in page
    other.refresh_from_db()
    assert other.stage == "ready"
    assert agrees(other)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ({}, "measure its width and height"),
        ({"width_mm": "84"}, "measure its width and height"),
        ({"width_mm": "2", "height_mm": "72"}, "greater than or equal to 5"),
        ({"width_mm": "wide", "height_mm": "72"}, "whole millimetres"),
        ({"mark": "QQQQ"}, "QQQQ"),
        ({"mark": "x" * 20}, ""),
        ({"width_mm": "84", "height_mm": "72", "form": "teapot"}, "Choose one of those in the list"),
    ],
)
def test_what_cannot_be_taken_in_is_said_and_kept(
    maud: Client, ines: Person, words: dict[str, str], sentence: str
) -> None:
    firing = opened(ines)
    before = Piece.objects.count()
    got = post(maud, "found", firing, **{"form": "bowl", "outcome": "sound", **words})
    page = got.content.decode()
    assert got.status_code == 422
    assert sentence in page
    assert says_no(page)
    for name, value in words.items():
        if name != "form":
            assert f'value="{value}"' in page
    assert Piece.objects.count() == before


def test_a_piece_of_this_load_is_not_found_in_it(maud: Client, ines: Person) -> None:
    firing = opened(ines)
    mark = firing.placements.get().piece.mark
    page = post(maud, "found", firing, mark=mark, form="bowl", outcome="sound").content.decode()
    assert "belongs to this load" in page


# Closing


def test_closing_shares_the_cost_and_readies_the_notices_once(maud: Client, ines: Person) -> None:
    tobias = factories.student("Tobias", last_name="Marl")
    firing = opened(ines, ines, tobias)
    assert "Close the firing" in page_of(maud, firing)
    number = client_id()
    page = close(maud, firing, client_id=number, energy_kwh="60,5")
    assert "is closed. Its cost is shared, and notices wait for you" in page
    settlement = Settlement.objects.get()
    assert sum(share.amount_minor for share in settlement.shares.all()) == settlement.cost_minor
    # 60.5 kWh, and two pieces of one size to one of the same: Ines pays twice what Tobias does, to the penny.
    assert abs(money_queries.balance(ines) - 2 * money_queries.balance(tobias)) <= 2
    assert Notice.objects.filter(kind="ready").count() == 2
    close(maud, firing, client_id=number)
    close(maud, firing)  # from another page, closed meanwhile: it is closed, and nothing is charged again
    assert (Settlement.objects.count(), Charge.objects.count()) == (1, 3)
    firing.refresh_from_db()
    assert firing.state == "closed"
    shares = page_of(maud, firing, "shares")
    for said in ("Ines Arkwell", "Tobias Marl", "£"):
        assert said in shares


def test_with_an_open_place_it_is_not_closed(maud: Client, ines: Person) -> None:
    firing = opened(ines, answered=False)
    page = close(maud, firing, energy_kwh="60")
    assert says_no(page)
    firing.refresh_from_db()
    assert (firing.state, Settlement.objects.count()) == ("unloading", 0)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ({"energy_kwh": "much"}, "number"),
        ({"energy_kwh": "-5"}, "greater than or equal to 0"),
        ({"energy_kwh": "60.55"}, "decimal place"),
        ({"meter_end_kwh": "12"}, "meter"),
        ({"labour_minor": "an hour"}, "is no sum of money"),
    ],
)
def test_a_mistyped_meter_stays_in_the_field_and_nothing_is_closed(
    maud: Client, ines: Person, words: dict[str, str], sentence: str
) -> None:
    firing = opened(ines)
    Firing.objects.filter(pk=firing.pk).update(meter_start_kwh="4000")
    page = close(maud, firing, **words)
    assert sentence in page
    assert says_no(page)
    for value in words.values():
        assert f'value="{value}"' in page
    firing.refresh_from_db()
    assert (firing.state, Settlement.objects.count()) == ("unloading", 0)


def test_a_firing_is_opened_again_by_second_rows(maud: Client, ines: Person) -> None:
    firing = opened(ines)
    close(maud, firing, energy_kwh="60")
    owed = money_queries.balance(ines)
    assert owed > 0
    page = post(maud, "firing-reopen", firing).content.decode()
    assert "Open again. The charges are taken back" in page
    assert money_queries.balance(ines) == 0
    assert Charge.objects.count() == 2
    assert not Notice.objects.filter(kind="ready", state="waiting").exists()
    firing.refresh_from_db()
    assert firing.state == "unloading"
    close(maud, firing, energy_kwh="60")
    assert money_queries.balance(ines) == owed
    assert says_no(post(maud, "firing-reopen", factories.firing("planned")).content.decode())


def test_the_shares_before_closing_are_only_reckoned(maud: Client, ines: Person) -> None:
    firing = opened(ines)
    page = page_of(maud, firing, "shares")
    assert "Nothing is posted yet" in page
    assert Settlement.objects.count() == 0
    for state in ("planned", "firing", "cooling"):
        assert "£" not in page_of(maud, factories.firing(state), "shares")


def test_nobodys_and_the_studios_own_pieces_cost_nobody(maud: Client, ines: Person) -> None:
    own = factories.piece(stage="glazed", studios_own=True)
    nobodys = factories.piece(stage="glazed", nobodys=True)
    hers = factories.piece(stage="glazed", maker=ines)
    firing = factories.answered(factories.firing("unloading", pieces=[own, nobodys, hers]))
    close(maud, firing, energy_kwh="60")
    assert list(Charge.objects.values_list("person", flat=True)) == [ines.pk]
    assert money_queries.balance(ines) < Settlement.objects.get().cost_minor


# Who


def test_a_helper_counts_up_and_the_tutor_closes(maud: Client, ines: Person) -> None:
    firing = opened(ines)
    ivo = signed_in(factories.helper())
    page = page_of(ivo, firing)
    assert "The tutor closes the firing" in page
    assert "£" not in page
    for name in ("firing-close", "firing-reopen"):
        assert ivo.post(reverse(name, args=[firing.number]), {"client_id": client_id()}).status_code == 404
    assert ivo.get(reverse("shares", args=[firing.number])).status_code == 404
    assert Settlement.objects.count() == 0


@pytest.mark.parametrize("state", ["planned", "firing", "cooling", "cancelled"])
def test_before_it_is_open_there_is_nothing_to_count(maud: Client, state: str) -> None:
    firing = factories.firing(state)
    assert maud.get(reverse("reconcile", args=[firing.number])).status_code == 302
    for name, words in (
        ("firing-close", {}),
        ("found", {"form": "bowl", "width_mm": "84", "height_mm": "72", "outcome": "sound"}),
    ):
        assert says_no(post(maud, name, firing, **words).content.decode()), name
    firing.refresh_from_db()
    assert firing.state == state


def test_numbers_methods_and_students(maud: Client, ines: Person) -> None:
    firing = opened(ines)
    for name in ("reconcile", "shares"):
        assert maud.get(reverse(name, args=[999])).status_code == 404
        assert signed_in(ines).get(reverse(name, args=[firing.number])).status_code == 404
        assert maud.post(reverse(name, args=[firing.number])).status_code == 405
    for name in ("found", "firing-close", "firing-reopen"):
        assert maud.get(reverse(name, args=[firing.number])).status_code == 405
        assert maud.post(reverse(name, args=[999]), {"client_id": client_id()}).status_code == 404
