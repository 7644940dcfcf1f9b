"""Printing slips and tags: what is chosen, what stands on it, on the user's own grid, remembered."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.actions.shelves import renew_tag
from studio.imaging.qr import qr_path
from studio.models import Tag
from tests import factories

pytestmark = pytest.mark.django_db
SLIPS, SHEET, TAGS, TAG_SHEET = "/print/slips/", "/print/slips/sheet/", "/print/tags/", "/print/tags/sheet/"


@pytest.fixture
def maud(client: Client, settings):
    settings.SITE_URL = "https://clay.quillmere.example"
    factories.studio()
    person = factories.tutor()
    client.force_login(person)
    return person


def ticked(page: str) -> list[str]:
    return re.findall(r'name="p" value="(\w+)" checked', page)


def test_slips_not_printed_yet_are_chosen_already(client: Client, maud) -> None:
    fresh, old, gone = factories.piece(), factories.piece(), factories.piece(stage="collected")
    Tag.objects.filter(piece=old).update(printed_at=factories.NOW)
    page = client.get(SLIPS).content.decode()
    assert ticked(page) == [fresh.code]
    assert old.code in page
    assert gone.code not in page
    # A link from a piece's page chooses that one alone.
    assert ticked(client.get(SLIPS, {"p": old.code}).content.decode()) == [old.code]


def test_a_sheet_holds_each_slip_with_its_mark_and_the_code_that_leads_to_it(client: Client, maud) -> None:
    ines = factories.student("Ines", last_name="Okafor")
    sam = factories.young_person("Sam", last_name="Achterberg")
    pieces = [factories.piece(maker=ines), factories.piece(maker=sam)]
    answer = client.get(SHEET, {"p": [piece.code for piece in pieces]})
    page = answer.content.decode()
    assert page.count('class="sheet-svg"') == 1
    for piece in pieces:
        address = f"HTTPS://CLAY.QUILLMERE.EXAMPLE/Q/{piece.tags.get().code}"
        assert qr_path(address)[0] in page
        assert client.get(f"/Q/{piece.tags.get().code}").url == reverse("piece", args=[piece.code])
    # Slips lie about: first name and initial; of the under-18s the first name alone.
    assert "Ines O." in page
    assert "Okafor" not in page
    assert "Sam" in page
    assert "Achterberg" not in page
    assert "Sam A." not in page


def test_an_old_code_is_never_printed(client: Client, maud) -> None:
    piece = factories.piece()
    old = piece.tags.get().code
    renew_tag(piece=piece, by=maud)
    page = client.get(SHEET, {"p": piece.code}).content.decode()
    assert qr_path(f"HTTPS://CLAY.QUILLMERE.EXAMPLE/Q/{old}")[0] not in page


def test_looking_at_a_sheet_prints_nothing_until_somebody_says_so(client: Client, maud) -> None:
    piece = factories.piece()
    client.get(SHEET, {"p": piece.code})
    assert piece.tags.get().printed_at is None
    answer = client.post("/print/slips/printed/", {"p": [piece.code, "NOTTHERE"]}, follow=True)
    assert "Written down as printed" in answer.content.decode()
    assert piece.tags.get().printed_at
    assert ticked(client.get(SLIPS).content.decode()) == []


def test_the_grid_is_the_users_own_and_remembered_by_the_browser(client: Client, maud) -> None:
    piece = factories.piece()
    grid = {"rows": "7", "columns": "3", "margin_top_mm": "15.5", "margin_left_mm": "7"}
    page = client.get(SHEET, {"p": piece.code, **grid}).content.decode()
    # 3 columns in 210 − 7 − 8 mm; 7 rows in 297 − 15.5 − 8 mm: 65 × 39.07 mm.
    assert re.search(r'<svg x="7" y="15.5" width="65" height="39.07">', page)
    page = client.get(SLIPS).content.decode()
    assert re.search(r'name="rows" value="7"', page)
    assert re.search(r'name="margin_top_mm" value="15.5"', page)
    # Tags have a grid of their own.
    assert re.search(r'name="rows" value="5"', client.get(TAGS).content.decode())
    # Labels used already are left free.
    page = client.get(SHEET, {"p": piece.code, "skip": "4"}).content.decode()
    assert re.search(r'<svg x="72" y="54.57" width="65"', page)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"rows": "0"}, "between 1 and"),
        ({"rows": "99"}, "between 1 and"),
        ({"columns": "8", "margin_left_mm": "50"}, "Use fewer columns"),
        ({"margin_top_mm": "-1"}, "between 0 and"),
        ({"margin_top_mm": "1e308"}, "between 0 and"),
        ({"margin_top_mm": "nan"}, "Enter a number"),
        ({"rows": "many"}, "whole number"),
        ({"skip": "-1"}, "greater than or equal"),
    ],
)
def test_a_grid_that_can_not_be_printed_is_refused_in_words(client: Client, maud, data, words) -> None:
    piece = factories.piece()
    answer = client.get(SHEET, {"p": piece.code, **data})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert ticked(page) == [piece.code]
    assert "sheet_slips" not in answer.cookies


@pytest.mark.parametrize(
    "cookie",
    [
        "",
        "x",
        "4_2_8_8_8_8_0",
        "4_2_8_8_8_8_0_nan",
        "0_2_8_8_8_8_0_0",
        "4_2_inf_8_8_8_0_0",
        "9" * 5000,
        "²_2_8_8_8_8_0_0",
    ],
)
def test_a_cookie_somebody_meddled_with_is_passed_over(client: Client, maud, cookie: str) -> None:
    client.cookies["sheet_slips"] = cookie
    assert 'name="rows" value="4"' in client.get(SLIPS).content.decode()


def test_nothing_chosen(client: Client, maud) -> None:
    answer = client.get(SHEET)
    assert answer.status_code == 422
    assert "Nothing was chosen" in answer.content.decode()
    assert "All slips have been printed" in client.get(SLIPS).content.decode()


def test_shelf_tags(client: Client, maud) -> None:
    shelf = factories.shelf("Ready A", where="Left of the door", purpose="ready")
    assert ticked(client.get(TAGS).content.decode()) == [shelf.code]
    page = client.get(TAG_SHEET, {"p": shelf.code}).content.decode()
    assert "Ready A" in page
    assert qr_path(f"HTTPS://CLAY.QUILLMERE.EXAMPLE/Q/{shelf.tags.get().code}")[0] in page
    client.post("/print/tags/printed/", {"p": shelf.code})
    assert shelf.tags.get().printed_at


def test_the_test_page(client: Client, maud) -> None:
    page = client.get("/print/test/", {"rows": "3"}).content.decode()
    assert "each must be 100 mm long" in page
    assert "came out" not in page
    assert qr_path("HTTPS://CLAY.QUILLMERE.EXAMPLE/Q/TEST")[0] in page
    assert "reads well" in client.get("/Q/TEST", follow=True).content.decode()


def test_a_print_page_holds_the_pages_and_a_bar_and_no_inline_script_or_style(client: Client, maud) -> None:
    page = client.get(SHEET, {"p": factories.piece().code}).content.decode()
    assert "rail__nav" not in page
    assert " style=" not in page
    assert "<style" not in page
    assert not re.search(r"<script(?![^>]* src=)", page)
    assert "data-print" in page


def test_printing_is_staffs(client: Client) -> None:
    urls = [SLIPS, SHEET, TAGS, TAG_SHEET, "/print/test/"]
    assert {client.get(url).status_code for url in urls} == {302}
    client.force_login(factories.student())
    assert {client.get(url).status_code for url in urls} == {404}
    assert client.post("/print/slips/printed/").status_code == 404
    client.force_login(factories.helper())
    assert client.get(SLIPS).status_code == 200
    assert client.get("/print/slips/printed/").status_code == 405
    assert client.post(SHEET).status_code == 405


def test_one_query_count_with_1_and_with_30(
    client: Client, maud, django_assert_num_queries, django_assert_max_num_queries
) -> None:
    course = factories.course()
    codes = []

    def more(number: int) -> None:
        session = factories.session(course, starts_at=factories.NOW.replace(minute=number))
        codes.append(factories.piece(maker=factories.student(f"S{number}"), session=session).code)

    more(0)
    with django_assert_max_num_queries(12) as chosen:
        client.get(SLIPS)
    chosen = len(chosen)
    with django_assert_max_num_queries(12) as printed:
        client.get(SHEET, {"p": codes})
    printed = len(printed)
    for number in range(1, 30):
        more(number)
    with django_assert_num_queries(chosen):
        client.get(SLIPS)
    with django_assert_num_queries(printed):
        client.get(SHEET, {"p": codes})
