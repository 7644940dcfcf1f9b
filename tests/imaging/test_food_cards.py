"""Cards about food: advice, every reason and the caution, each within its own card."""

import re
import xml.etree.ElementTree as ET

import pytest

from studio.domain.advice import CAUTION
from studio.domain.problems import Refused
from studio.imaging.food_cards import FoodCard, card_pages
from studio.imaging.grids import Grid
from studio.imaging.svg_text import measured_width

SVG = "{http://www.w3.org/2000/svg}"
REASONS = (
    "Gold lustre is on the rim, where lips touch, and holds metal that vinegar, juice or wine can draw out.",
    "Its glaze is crazed: the piece may be weaker and soak up what it holds.",
    "The maker of Old bucket does not say whether it may touch food.",
)


def card(**changed):
    usual = {
        "mark": "K7H",
        "what": "Jug, Tin Lustre and Chalk",
        "use": "decorative-only",
        "reasons": REASONS,
        "caution": CAUTION,
        "signed": "Quillmere Clay Room, 3 March 2026",
    }
    return FoodCard(**{**usual, **changed})


def said(page):
    return re.sub(r"\s+", " ", " ".join(text.text or "" for text in ET.fromstring(page).iter(f"{SVG}text")))


@pytest.mark.parametrize(
    ("use", "head"),
    [
        ("decorative-only", "Decorative only"),
        ("not-known", "Food use: not known"),
        ("tested", "Food use: tested"),
    ],
)
def test_advice_every_reason_and_the_caution(use, head):
    [page] = card_pages([card(use=use)])
    words = said(page)
    for each in (head, *REASONS, CAUTION, "Jug, Tin Lustre and Chalk", "Quillmere Clay Room, 3 March 2026"):
        assert each in words
    assert "safe" not in words.lower()


@pytest.mark.parametrize("grid", [Grid(4, 2), Grid(6, 2), Grid(1, 1), Grid(5, 3, gap_x_mm=2, gap_y_mm=2)])
def test_every_line_keeps_to_its_card(grid):
    many = card(reasons=tuple(f"{number}. {REASONS[number % 3]}" for number in range(12)))
    [page] = card_pages([many], grid)
    words = said(page)
    assert CAUTION in words
    assert REASONS[0] in words
    if REASONS[2] not in words or "11. " not in words:
        assert re.search(r"And \d+ more: ask the studio\.", words)
    for text in ET.fromstring(page).iter(f"{SVG}text"):
        size = float(text.get("font-size"))
        assert float(text.get("y")) < grid.cell_height_mm
        wide = measured_width(text.text, size, bold=text.get("font-weight") == "700", face="sans")
        assert float(text.get("x")) + wide <= grid.cell_width_mm * 1.02


def test_cards_too_small_to_read_are_refused():
    with pytest.raises(Refused, match="62 × 45 mm"):
        card_pages([card()], Grid(10, 4))


def test_words_of_people_are_only_words():
    [page] = card_pages([card(what='A <b> & "quoted"\x00 name', reasons=("<script>alert(1)</script>.",))])
    assert 'A <b> & "quoted" name' in said(page)
    assert "<script" not in page


def test_so_many_cards_so_many_pages():
    assert len(card_pages([card()] * 9)) == 2
    assert len(card_pages([card()] * 8, skip=1)) == 2
