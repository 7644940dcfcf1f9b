"""What comes out of the printer, looked at as paper: rendered pages, and their codes by another decoder."""

from __future__ import annotations

from typing import Any

import pypdfium2
import zxingcpp

from tests.journeys import walk

A4_DPI = 200


def codes_on_paper(page: Any) -> list[str]:
    """Print the page that is open as PDF, look at the paper, and read every QR code on it."""
    paper = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True, print_background=True))
    found: list[str] = []
    for sheet in paper:
        assert [round(side) for side in sheet.get_size()] == [595, 842], "A4 in points"
        seen = sheet.render(scale=A4_DPI / 72).to_pil().convert("L")
        found += [code.text for code in zxingcpp.read_barcodes(seen)]
    return found


def words_on_paper(page: Any) -> str:
    paper = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True, print_background=True))
    return "\n".join(sheet.get_textpage().get_text_range() for sheet in paper)


def prints_slips(page: Any) -> None:
    """Opens the sheet of all slips that are not printed yet."""
    page.goto("/print/slips/")
    walk.Hand(page).button("Show the pages")
    walk.says(page, "A4 page")
