"""Sheets: labels on the user's grid, words that keep to their room, and codes read from the printed page."""

import re
import xml.etree.ElementTree as ET

import pypdfium2
import pytest
import zxingcpp

from studio.domain.problems import Refused
from studio.imaging import qr
from studio.imaging.grids import Grid, grid_problems
from studio.imaging.printer_page import printer_test_page
from studio.imaging.sheets import ShelfTag, Slip, slip_pages, tag_pages

SVG = "{http://www.w3.org/2000/svg}"
MARKS = ["K7H", "C7A", "R2X", "E9P", "F4H", "H4P", "W2E", "J9W", "DNTY", "A2C4"]
NAMES = [
    "Ines O.",
    "Sam",
    "Ó",
    "Maximiliane-Theodora Wolfeschlegelsteinhausenbergerdorff",
    "Łukasz-Krzysztof Q.",
    "W" * 60,
    "名前" * 20,
    "A <b> & \"quoted\" 'name'",
    "",
]
GRIDS = [
    Grid(),
    Grid(8, 3, 13, 13, 6, 6, 3, 0),
    Grid(10, 4),
    Grid(13, 5, 10, 10, 5, 5, 2, 2),
    Grid(2, 6),
    Grid(1, 1),
    Grid(18, 7, 4, 4, 4, 4),
]


def address(mark: str) -> str:
    return f"HTTP://127.0.0.1:8000/Q/{mark}7X2K9PQRS"[:36]


def slips(number: int) -> list[Slip]:
    return [
        Slip(
            mark=MARKS[index % len(MARKS)],
            url=f"HTTP://127.0.0.1:8000/Q/{index:03d}7X2K9PQRS",
            name=NAMES[index % len(NAMES)],
            form=["Jug", "Lidded casserole with a name of its own"][index % 2],
            detail="Tuesday throwing, 21 Oct. 19.4 cm tall, wet",
        )
        for index in range(number)
    ]


def cells(page: str) -> list[ET.Element]:
    """The labels of a page: the nested drawings directly under it that are as large as a label."""
    root = ET.fromstring(page)
    return [child for child in root if child.tag == f"{SVG}svg" and "viewBox" not in child.attrib]


@pytest.mark.parametrize("grid", GRIDS, ids=lambda grid: f"{grid.rows}x{grid.columns}")
def test_labels_stand_on_the_grid(grid):
    pages = slip_pages(slips(grid.per_page + 1), grid)
    assert len(pages) == 2
    first = cells(pages[0])
    assert len(first) == grid.per_page
    assert len(cells(pages[1])) == 1
    for index, cell in enumerate(first):
        row, column = divmod(index, grid.columns)
        width = (
            210 - grid.margin_left_mm - grid.margin_right_mm - grid.gap_x_mm * (grid.columns - 1)
        ) / grid.columns
        height = (
            297 - grid.margin_top_mm - grid.margin_bottom_mm - grid.gap_y_mm * (grid.rows - 1)
        ) / grid.rows
        assert float(cell.get("x")) == pytest.approx(
            grid.margin_left_mm + column * (width + grid.gap_x_mm), abs=0.02
        )
        assert float(cell.get("y")) == pytest.approx(
            grid.margin_top_mm + row * (height + grid.gap_y_mm), abs=0.02
        )
        assert float(cell.get("width")) == pytest.approx(width, abs=0.02)
        assert float(cell.get("height")) == pytest.approx(height, abs=0.02)


def test_used_labels_of_the_first_sheet_are_skipped():
    pages = slip_pages(slips(6), Grid(), skip=5)
    assert [len(cells(page)) for page in pages] == [3, 3]
    assert float(cells(pages[0])[0].get("x")) == pytest.approx(8 + 97, abs=0.02)


@pytest.mark.parametrize(
    ("grid", "code"),
    [
        (Grid(rows=0), "rows"),
        (Grid(rows=40), "rows"),
        (Grid(columns=0), "columns"),
        (Grid(columns=9), "columns"),
        (Grid(margin_top_mm=-1), "margin"),
        (Grid(gap_x_mm=400), "margin"),
        (Grid(columns=8), "too-small"),
        (Grid(rows=19), "too-small"),
        (Grid(rows=2, columns=2, gap_x_mm=60, margin_left_mm=60, margin_right_mm=60), "too-small"),
        (Grid(rows=6, gap_y_mm=60), "too-small"),
        (Grid(columns=4, margin_left_mm=60, margin_right_mm=60, gap_x_mm=40), "too-small"),
    ],
)
def test_grids_that_cannot_be_printed_are_refused_in_plain_sentences(grid, code):
    problems = grid_problems(grid)
    assert code in {problem.code for problem in problems}
    assert all(
        (problem.message.endswith(".") and "mm" in problem.message) or "sheet" in problem.message
        for problem in problems
    )
    with pytest.raises(Refused):
        slip_pages(slips(1), grid)
    with pytest.raises(Refused):
        tag_pages([ShelfTag(address("K7H"), "Ready A")], grid)
    with pytest.raises(Refused):
        printer_test_page(grid)


def test_a_slip_says_what_it_should():
    page = slip_pages(
        [Slip("K7H", address("K7H"), "Ines O.", "Jug", "Tuesday throwing, 21 Oct. 19.4 cm tall, wet")]
    )[0]
    words = [text.text for text in ET.fromstring(page).iter(f"{SVG}text")]
    assert words[:2] == ["Jug, Ines O.", "Tuesday throwing, 21 Oct. 19.4 cm tall, wet"]
    assert words[2:] == ["made", "leather", "bone dry", "bisque", "glazed", "fired", "finished", "ready"]
    path, _ = qr.qr_path(address("K7H"))
    assert path in page
    assert "style=" not in page


def test_small_labels_keep_mark_code_and_name():
    page = slip_pages(slips(1), Grid(18, 7, 4, 4, 4, 4))[0]
    words = [text.text for text in ET.fromstring(page).iter(f"{SVG}text")]
    assert words == ["Ines O."]
    path, _ = qr.qr_path(slips(1)[0].url)
    assert path in page


def test_every_word_is_escaped():
    evil = "</text><script>alert(1)</script>&\x00\ufffe\ud800"
    for page in (
        slip_pages([Slip(evil, address("K7H"), evil, evil, evil)])[0],
        tag_pages([ShelfTag(address("K7H"), evil, evil)])[0],
    ):
        root = ET.fromstring(page)
        assert not list(root.iter(f"{SVG}script"))
        assert "<script" not in page


def test_the_test_page_has_two_rulers_of_100_mm():
    page = printer_test_page(Grid(8, 3), url=address("TEST"))
    rulers = re.findall(r'd="M[\d.]+ [\d.]+([hv])100M', page)
    assert rulers == ["h", "v"]
    assert page.count(" × ") == 24
    assert 'width="210mm" height="297mm"' in page


def document(pages: list[str]) -> str:
    return (
        "<!doctype html><meta charset='utf-8'><style>@page { size: A4; margin: 0 } body { margin: 0 } "
        "svg.sheet-svg { display: block; break-after: page }</style>" + "".join(pages)
    )


def test_every_code_of_a_printed_sheet_is_read(browser):
    """Chromium prints the pages, pdfium draws them at 150 dots an inch, zxing-cpp reads them."""
    page = browser.new_page()
    for grid in GRIDS[:4]:
        sent = slips(grid.per_page)
        tags = [
            ShelfTag(f"HTTP://127.0.0.1:8000/Q/SHELF{index}ABCDEF", f"Ready {index}") for index in range(5)
        ]
        page.set_content(document(slip_pages(sent, grid) + tag_pages(tags)))
        printed = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
        found = {
            code.text
            for number in range(len(printed))
            for code in zxingcpp.read_barcodes(printed[number].render(scale=150 / 72).to_pil())
        }
        assert found == {slip.url for slip in sent} | {tag.url for tag in tags}
        assert [round(size / 72 * 25.4) for size in printed[0].get_size()] == [210, 297]
    page.close()


def test_words_never_leave_their_label(browser):
    """Measured in the browser with the fonts it has: every line ends inside its own label."""
    page = browser.new_page()
    tags = [ShelfTag(address("K7H"), name or "x", "Under the window. " * 9) for name in NAMES]
    pages = [sheet for grid in GRIDS for sheet in slip_pages(slips(len(NAMES)), grid)]
    pages += tag_pages(tags) + tag_pages(tags, Grid(8, 3)) + tag_pages(tags, Grid(2, 2))
    page.set_content(document(pages))
    outside = page.evaluate(
        """() => [...document.querySelectorAll("svg.sheet-svg > svg:not([viewBox])")].flatMap(label => {
            const edge = +label.getAttribute("width"), foot = +label.getAttribute("height");
            return [...label.children].filter(line => line.tagName === "text").filter(line => {
                const box = line.getBBox();
                return box.x < 0 || box.x + box.width > edge || box.y < 0 || box.y + box.height * 0.8 > foot;
            }).map(line => line.textContent);
        })"""
    )
    assert outside == []
    page.close()
