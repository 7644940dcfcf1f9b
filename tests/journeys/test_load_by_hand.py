"""A load planned by hand in the browser: put in, moved by keys, dragged, refused as it moves, and printed."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pypdfium2
import pytest

from studio.actions import loads, loads_many
from studio.domain.loading import KeptClear
from studio.domain.loading import problems as problems_of_load
from studio.domain.packing import Placed
from studio.models import Firing, Kiln, LoadChange, Piece, Placement
from studio.queries.loads import Plan, plan_of
from studio.views.load_state import load_state
from tests import factories
from tests.journeys import walk
from tests.support.browser import DESK, PHONE, check_accessible, check_fits, sign_in_as, wait_until

A4_POINTS = (595, 842)


def glazed(maker: Any, mark: str, **values: Any) -> Piece:
    sizes = {"width_mm": 100, "depth_mm": 100, "height_mm": 80, "measured_stage": "glazed"}
    return factories.piece(stage="glazed", maker=maker, mark=mark, **{**sizes, **values})


def stand(firing: Firing, piece: Piece, x_mm: int, y_mm: int, *, layer: int = 1) -> Placement:
    return Placement.objects.create(
        firing=firing,
        layer=firing.layers.get(number=layer),
        piece=piece,
        x_mm=x_mm,
        y_mm=y_mm,
        is_round=piece.is_round,
        width_mm=piece.width_mm,
        depth_mm=piece.depth_mm,
        height_mm=piece.height_mm,
        added_at=firing.made_at,
        holds_piece=piece,
    )


@pytest.fixture
def firing(room: Any) -> Firing:
    """A glaze firing of two layers: three round pieces below, one of them Sam's, and a box above."""
    row = loads.plan_firing(kiln=room.kiln, kind="glaze", cone="6", by=room.maud)
    loads.set_layers(firing=row, props_mm=[150, 0], by=room.maud)
    stand(row, glazed(room.ines, "K7H"), -100, 0)
    stand(row, glazed(room.tobias, "TFF"), 60, 0)
    stand(row, glazed(room.sam, "RNY"), 0, -130)
    box = glazed(room.ines, "CXE", is_round=False, width_mm=140, depth_mm=70)
    stand(row, box, 0, 0, layer=2)
    return row


@pytest.fixture
def page(firing: Firing, room: Any, desk: Any) -> Any:
    sign_in_as(desk, room.maud)
    desk.goto(f"/firings/{firing.number}/load/")
    desk.locator("#board").wait_for()
    return desk


def pot(page: Any, mark: str) -> Any:
    return page.locator(f'a.l-link[aria-label^="{mark} "]')


def told(page: Any, words: str) -> None:
    """The live region says this, now or in a moment."""
    page.locator("#hand", has_text=re.compile(words)).wait_for()


def place(mark: str) -> Placement:
    return Placement.objects.select_related("layer", "piece").get(piece__mark=mark)


def middle(page: Any, mark: str) -> tuple[float, float]:
    pot(page, mark).scroll_into_view_if_needed()
    box = pot(page, mark).locator(".l-piece").first.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_a_load_is_planned_by_hand(room: Any, desk: Any) -> None:
    glazed(room.ines, "K7H")
    glazed(room.tobias, "TFF")
    sign_in_as(desk, room.maud)
    number = walk.plans_a_firing(desk, "Glaze firing")
    walk.Hand(desk).opens("Layers and props")
    walk.Hand(desk).button("One more layer")
    told(desk, "The layers are changed")
    walk.puts_in(desk, "K7H", "TFF")
    assert pot(desk, "K7H").count() == pot(desk, "TFF").count() == 1
    assert Firing.objects.get().number == number
    # One press takes both out again, and the list has them back.
    walk.Hand(desk).button("Undo")
    told(desk, "Undone: 2 pieces put in")
    assert pot(desk, "K7H").count() == 0
    desk.locator(".waiting label", has_text="K7H").wait_for()


# Keys


def test_arrows_move_a_piece_and_it_stays_where_it_is_let_be(page: Any) -> None:
    pot(page, "K7H").focus()
    for _ in range(3):
        page.keyboard.press("ArrowUp")
    page.keyboard.press("Shift+ArrowLeft")
    told(page, r"K7H, bottom shelf: 101 mm left, 15 mm behind\. \d+ mm to TFF")
    told(page, "K7H stands in its new place")
    assert (place("K7H").x_mm, place("K7H").y_mm) == (-101, 15)
    # Four key presses are one change, and the piece still has the focus.
    assert LoadChange.objects.filter(kind="moved").count() == 1
    assert page.evaluate("document.activeElement.getAttribute('aria-label')").startswith("K7H")
    page.keyboard.press("Control+z")
    told(page, "Undone: K7H moved")
    assert (place("K7H").x_mm, place("K7H").y_mm) == (-100, 0)


def test_keys_say_no_as_the_piece_moves_and_escape_puts_it_back(page: Any) -> None:
    pot(page, "K7H").focus()
    for _ in range(12):
        page.keyboard.press("ArrowRight")
    told(page, r"Pieces K7H and TFF stand 0\.0 mm apart and need 5 mm|stand in the same place")
    assert page.locator("#hand.hand--bad").count() == 1
    page.wait_for_timeout(1200)
    assert place("K7H").x_mm == -100
    page.keyboard.press("Escape")
    told(page, "K7H stands where it was")
    for _ in range(30):
        page.keyboard.press("ArrowLeft")
    told(page, "hangs over the edge of its shelf")
    pot(page, "RNY").focus()
    told(page, "K7H is back where it was. Piece K7H hangs over the edge")
    assert place("K7H").x_mm == -100
    assert not LoadChange.objects.filter(kind="moved").exists()


def test_turn_other_shelf_pin_swap_and_take_out_by_keys(page: Any) -> None:
    pot(page, "CXE").focus()
    page.keyboard.press("r")
    told(page, "CXE stands in its new place")
    assert place("CXE").turned
    page.keyboard.press("PageDown")
    told(page, "CXE stands in its new place")
    wait_until(page, "document.querySelectorAll('.layer[data-layer=\"1\"] a.l-link').length === 4")
    assert place("CXE").layer.number == 1
    page.keyboard.press("PageDown")
    told(page, "There is no shelf below")
    page.keyboard.press("p")
    told(page, "CXE is pinned")
    page.keyboard.press("ArrowLeft")
    told(page, "CXE is pinned. Unpin it first")
    page.keyboard.press("p")
    told(page, "CXE is unpinned")
    pot(page, "K7H").focus()
    page.keyboard.press("s")
    told(page, "Choose the piece that K7H changes places with")
    pot(page, "TFF").focus()
    page.keyboard.press("Enter")
    told(page, "K7H and TFF have changed places")
    assert (place("K7H").x_mm, place("TFF").x_mm) == (60, -100)
    pot(page, "RNY").focus()
    page.keyboard.press("Delete")
    told(page, "RNY is out of the load")
    assert pot(page, "RNY").count() == 0
    page.locator(".waiting label", has_text="RNY").wait_for()


# Mouse and finger


def drag(page: Any, mark: str, to: tuple[float, float]) -> None:
    x, y = middle(page, mark)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move((x + to[0]) / 2, (y + to[1]) / 2, steps=4)
    page.mouse.move(*to, steps=6)


def test_a_piece_is_dragged_on_its_shelf_and_onto_another(page: Any) -> None:
    x, y = middle(page, "K7H")
    unit = page.evaluate("document.querySelector('.layer[data-layer=\"1\"] > svg').getScreenCTM().a")
    drag(page, "K7H", (x + 3, y - 90 * unit))
    told(page, "K7H, bottom shelf: ")
    page.mouse.up()
    told(page, "K7H stands in its new place")
    assert place("K7H").y_mm > 40
    # From the lower shelf to a free place of the upper one, both on the screen.
    page.locator(".layers").scroll_into_view_if_needed()
    there = page.locator('.layer[data-layer="2"] > svg').bounding_box()
    to = (there["x"] + there["width"] * 0.3, there["y"] + there["height"] * 0.5)
    drag(page, "K7H", to)
    told(page, "K7H, top shelf: ")
    page.mouse.up()
    told(page, "K7H stands in its new place")
    assert place("K7H").layer.number == 2
    assert page.locator('.layer[data-layer="2"] a.l-link').count() == 2


def test_dragged_onto_another_piece_it_goes_back_and_says_why(page: Any) -> None:
    drag(page, "K7H", middle(page, "TFF"))
    told(page, "Pieces K7H and TFF stand in the same place. Move one of them.")
    assert page.locator(".l-bad").count() == 1
    page.mouse.up()
    told(page, "K7H is back where it was. Pieces K7H and TFF stand in the same place")
    assert page.locator(".l-bad").count() == 0
    assert place("K7H").x_mm == -100


def test_what_another_has_moved_meanwhile_is_said_and_shown(page: Any) -> None:
    Placement.objects.filter(piece__mark="K7H").update(y_mm=100)
    pot(page, "K7H").focus()
    page.keyboard.press("ArrowUp")
    told(page, "Nothing was changed. K7H has been moved meanwhile and now stands on the bottom shelf")
    # The drawing has caught up: the next move starts from there.
    page.keyboard.press("ArrowUp")
    told(page, "K7H stands in its new place")
    assert place("K7H").y_mm == 105


def test_without_a_signal_the_piece_goes_back(page: Any, watch: Any) -> None:
    watch.expect("net::ERR_INTERNET_DISCONNECTED")
    page.context.set_offline(True)
    pot(page, "K7H").focus()
    page.keyboard.press("ArrowUp")
    told(page, "There is no signal, so nothing was changed")
    page.context.set_offline(False)
    page.keyboard.press("ArrowUp")
    told(page, "K7H stands in its new place")
    assert place("K7H").y_mm == 5


def test_on_a_phone_a_piece_is_chosen_nudged_and_dragged_by_finger(
    firing: Firing, room: Any, phone: Any
) -> None:
    for number in range(60):
        factories.piece(stage="glazed", maker=room.ines, form="mug" if number % 2 else "bowl")
    sign_in_as(phone, room.ivo)
    phone.goto(f"/firings/{firing.number}/load/")
    check_fits(phone)
    assert not phone.locator(".waiting").is_visible()
    pot(phone, "K7H").tap()
    phone.locator("#chosen", has_text="K7H").wait_for()
    walk.Hand(phone).button("5 mm back")
    told(phone, "K7H stands in its new place")
    assert place("K7H").y_mm == 5
    # A finger on the chosen piece drags it, and the page stays where it is.
    pot(phone, "K7H").scroll_into_view_if_needed()
    x, y = middle(phone, "K7H")
    scrolled = phone.evaluate("window.scrollY")
    touch = phone.context.new_cdp_session(phone)
    for kind, points in (
        ("touchStart", [(x, y)]),
        *(("touchMove", [(x, y - step)]) for step in range(4, 40, 6)),
        ("touchEnd", []),
    ):
        touch.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": px, "y": py} for px, py in points]},
        )
    wait_until(phone, "document.getElementById('hand').textContent.includes('new place')")
    phone.wait_for_timeout(300)
    assert place("K7H").y_mm > 25
    assert phone.evaluate("window.scrollY") == scrolled
    walk.Hand(phone).opens("Choose from 60 waiting")
    assert phone.locator(".waiting label").count() == 12
    phone.get_by_label("Kind").select_option("mug")
    walk.Hand(phone).button("Show these")
    phone.locator(".waiting label", has_text="Mug").first.wait_for()
    assert phone.locator(".waiting label", has_text="Bowl").count() == 0


# Without a script, in every light, on paper


def test_everything_goes_without_a_script(firing: Firing, room: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(PHONE, touch=True, java_script_enabled=False)
    sign_in_as(page, room.maud)
    page.goto(f"/firings/{firing.number}/load/")
    page.locator("summary", has_text="What stands on it").first.click()
    page.get_by_role("link", name="CXE").last.click()
    page.get_by_role("button", name="5 mm left").click()
    walk.says(page, "CXE stands in its new place")
    page.get_by_role("button", name="Turn it").click()
    walk.says(page, "CXE stands turned")
    page.locator("summary", has_text="Swap with another").click()
    page.get_by_label("Changes places with").select_option(label="K7H bowl")
    page.get_by_role("button", name="Swap them").click()
    walk.says(page, "CXE and K7H have changed places")
    page.locator("summary", has_text="exact place").click()
    page.get_by_label("Right of the middle, mm").fill("900")
    page.get_by_role("button", name="Move it", exact=True).click()
    walk.says(page, "Piece CXE hangs over the edge of its shelf")
    assert page.get_by_label("Right of the middle, mm").input_value() == "900"
    page.get_by_role("button", name="Pin here").click()
    walk.says(page, "CXE is pinned")
    page.get_by_role("button", name="Undo").click()
    walk.says(page, "Undone: CXE pinned")
    assert not place("CXE").pinned


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_with_a_piece_in_hand_is_accessible_and_fits(
    firing: Firing, room: Any, open_page: Callable[..., Any], scheme: str
) -> None:
    glazed(room.ines, "WWA")
    factories.piece(stage="bisqued", maker=room.ines)
    for size in (DESK, {"width": 320, "height": 640}):
        page = open_page(size, color_scheme=scheme)
        sign_in_as(page, room.maud)
        page.goto(f"/firings/{firing.number}/load/")
        pot(page, "CXE").click()
        page.locator("#chosen").wait_for()
        for summary in page.locator("main details:not([open]) > summary").all():
            if summary.is_visible():
                summary.click()
        check_fits(page)
        check_accessible(page)
        pot(page, "CXE").focus()
        for _ in range(40):
            page.keyboard.press("ArrowLeft")
        told(page, "hangs over the edge")
        check_accessible(page)


def test_the_sheet_prints_on_a4_with_each_layer_on_one_page(room: Any, desk: Any) -> None:
    row = loads.plan_firing(kiln=room.kiln, kind="glaze", cone="6", by=room.maud)
    loads.set_layers(firing=row, props_mm=[150, 100, 0], by=room.maud)
    sizes = {"width_mm": 70, "depth_mm": 70, "height_mm": 60, "measured_stage": "glazed"}
    pieces = [factories.piece(stage="glazed", maker=room.sam, **sizes) for _ in range(75)]
    loads_many.load_pieces(firing=row, pieces=pieces[:60], by=room.maud)
    loads_many.load_pieces(firing=row, pieces=pieces[60:], by=room.maud, stand_mm=15)
    on_layer = {
        layer.number: set(
            layer.placements.filter(taken_out_at__isnull=True).values_list("piece__mark", flat=True)
        )
        for layer in row.layers.all()
    }
    assert max(map(len, on_layer.values())) >= 20
    sign_in_as(desk, room.maud)
    desk.goto(f"/firings/{row.number}/sheet/")
    paper = pypdfium2.PdfDocument(desk.pdf(prefer_css_page_size=True, print_background=False))
    texts = []
    for sheet in paper:
        assert tuple(round(side) for side in sheet.get_size()) == A4_POINTS
        texts.append(sheet.get_textpage().get_text_range())
    front = texts[0]
    for words in (
        "Fetch",
        "3 props of 150 mm",
        "on stands of 15 mm",
        "Mains off",
        "Silica dust",
        "local rules",
    ):
        assert words in front, words
    pages = {}
    for number, marks in on_layer.items():
        holding = {
            page
            for page, text in enumerate(texts)
            for mark in marks
            if page and re.search(rf"\b{mark}\b", text)
        }
        assert len(holding) == 1, f"Layer {number} is on pages {sorted(holding)}"
        pages[number] = holding.pop()
    # From the bottom up, as a load is built.
    assert pages[1] <= pages[2] <= pages[3]
    assert "Pellow" not in "".join(texts)


# The browser's reasons and the studio's


def reasons_by_the_studio(plan: Plan, mark: str, layer: int, at: Placed) -> list[str]:
    tried = plan.with_place(plan.items[mark], layer=layer, place=at)
    found = problems_of_load(load=tried.load, items=tried.items.values())
    return sorted(problem.message for problem in found if mark in problem.keys)


@pytest.mark.parametrize("shape", [Kiln.Shape.ROUND, Kiln.Shape.RECTANGLE])
def test_the_browsers_reasons_are_the_studios(page: Any, firing: Firing, shape: str) -> None:
    """The checker of the domain is the judge: the same sentences for 600 places, many of them illegal."""
    Kiln.objects.update(shape=shape)
    firing = Firing.objects.select_related("kiln").get(pk=firing.pk)
    plan = plan_of(firing)
    zones = (KeptClear(0, 240, 25), KeptClear(-200, 0, 30, from_mm=120, to_mm=400))
    plan = replace(plan, load=replace(plan.load, chamber=replace(plan.load.chamber, kept_clear=zones)))
    state = load_state(plan)
    codes = {each["mark"]: each["code"] for each in state["pieces"]}
    chance = random.Random(20)
    tries = [
        (
            chance.choice(sorted(codes)),
            chance.choice([1, 2]),
            Placed(chance.randint(-260, 260), chance.randint(-260, 260), chance.random() < 0.5),
        )
        for _ in range(600)
    ]
    asked = [
        {"code": codes[mark], "layer": layer, "x": at.x_mm, "y": at.y_mm, "turned": at.turned}
        for mark, layer, at in tries
    ]
    source = page.evaluate("document.querySelector('script[src*=editor]').src")
    answers = page.evaluate(
        """async ([source, load, asked]) => {
            const { reasons } = await import(new URL("rules.js", source).href);
            return asked.map((at) => {
                const piece = load.pieces.find((each) => each.code === at.code);
                return reasons(load, piece, at).map((reason) => reason.words).sort();
            });
        }""",
        [source, state, asked],
    )
    refused = 0
    for (mark, layer, at), said in zip(tries, answers, strict=True):
        expected = reasons_by_the_studio(plan, mark, layer, at)
        assert said == expected, (mark, layer, at)
        refused += bool(expected)
    assert 150 < refused < 590
