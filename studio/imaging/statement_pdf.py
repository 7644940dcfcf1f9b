"""The PDF of a statement: words in, bytes out. The same words give the same bytes.

A4, measured in points from the top left. DejaVu has the letters of Europe, Greek, Cyrillic and more; Chinese
and Japanese signs are named by number for the reader's own font. A sign that neither has is shown as �.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from reportlab.lib.colors import Color
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.cidfonts import UnicodeCIDFont
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from studio.domain.say import later, say

from .qr import transfer_modules

FONTS = Path(__file__).resolve().parents[2] / "static" / "vendor" / "dejavu"
VOICE, PLATE, PLATE_BOLD, EAST_ASIAN = "Voice", "Plate", "PlateBold", "HeiseiKakuGo-W5"
WIDE, HIGH = 595.28, 841.89
LEFT, RIGHT, WORDS_AT, AMOUNT_AT, BOTTOM = 45, 549, 96, 476, 770
_INK, _SOFT, _LINE = Color(0.08, 0.13, 0.16), Color(0.26, 0.32, 0.35), Color(0.6, 0.63, 0.64)
#: Pots of the studio's board: a bowl, a vase and a beaker, in a box of 40 × 30.
_POTS = (
    "M2 11 C2.4 20 4.6 24.5 6.6 26 L12.6 26 C14.6 24.5 16.8 20 17.2 11 Z",
    "M20 26 C18.8 25 18 23 18 20.5 C18 17 20.5 16 20.5 13 C20.5 10.5 19.5 10 19.5 7.5 L27.5 7.5 "
    "C27.5 10 26.5 10.5 26.5 13 C26.5 16 29 17 29 20.5 C29 23 28.2 25 27 26 Z",
    "M31 15 L38 15 L37.2 26 L31.8 26 Z",
)


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One line of the account, as printed."""

    day: str
    words: str
    amount: str
    balance: str = ""
    small: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything that is printed, in words. ``totals``: label, amount, balance; the last one is the sum."""

    studio: str
    address: tuple[str, ...]
    title: str
    name: str
    about: str
    headline: str
    headline_sum: str
    lines: tuple[SheetLine, ...]
    totals: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...] = ()
    small_notes: tuple[str, ...] = ()
    transfer: str = ""
    transfer_words: str = ""
    heads: tuple[str, str, str, str] = (later("Date"), later("For"), later("Amount"), later("Balance"))
    language: str = "en-GB"
    foot: str = field(default="")


def statement_pdf(sheet: Sheet) -> bytes:
    """The pages of a statement or credit note."""
    _register()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(WIDE, HIGH), invariant=1, lang=sheet.language, pageCompression=1)
    canvas.setTitle(f"{sheet.title}, {sheet.name}")
    canvas.setAuthor(sheet.studio)
    canvas.setCreator(sheet.studio)
    pages = list(_pages(sheet))
    for number, rows in enumerate(pages, start=1):
        paper = _Paper(canvas)
        top = _first_head(paper, sheet) if number == 1 else _next_head(paper, sheet)
        top = _table_head(paper, sheet, top) if any(row.line for row in rows) or number == 1 else top
        for row in rows:
            top = row.draw(paper, top)
        of = sheet.title
        if len(pages) > 1:
            of = say("{title}, page {number} of {pages}", title=sheet.title, number=number, pages=len(pages))
        paper.text(LEFT, 812, sheet.foot, PLATE, 8, _SOFT, most=RIGHT - LEFT - 120)
        paper.text(RIGHT, 812, of, PLATE, 8, _SOFT, right=True)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


@lru_cache(maxsize=1)
def _register() -> None:
    for name, file in (
        (VOICE, "DejaVuSerif"),
        (PLATE, "DejaVuSansCondensed"),
        (PLATE_BOLD, "DejaVuSansCondensed-Bold"),
    ):
        pdfmetrics.registerFont(TTFont(name, FONTS / f"{file}.ttf"))
    pdfmetrics.registerFont(UnicodeCIDFont(EAST_ASIAN))


def _runs(text: str, font: str) -> Iterator[tuple[str, str]]:
    """The text in pieces of one font each; what no font has becomes �."""
    known = pdfmetrics.getFont(font).face.charToGlyph
    run, of = "", font
    for sign in text:
        code = ord(sign)
        if code in known:
            here = font
        elif 0x2E80 <= code <= 0x9FFF or 0xF900 <= code <= 0xFAFF or 0xFF00 <= code <= 0xFFEF:
            here = EAST_ASIAN
        else:
            here, sign = font, "\ufffd"
        if here != of and run:
            yield run, of
            run = ""
        run, of = run + sign, here
    if run:
        yield run, of


def width_of(text: str, font: str, size: float) -> float:
    return sum(pdfmetrics.stringWidth(run, of, size) for run, of in _runs(text, font))


def wrapped(text: str, font: str, size: float, wide: float) -> list[str]:
    """The words in lines no wider than this; a word that is wider itself is broken."""
    lines, line = [], ""
    for word in text.split(" "):
        tried = f"{line} {word}" if line else word
        if width_of(tried, font, size) <= wide:
            line = tried
            continue
        if line:
            lines.append(line)
        while width_of(word, font, size) > wide:
            cut = len(word)
            while cut > 1 and width_of(word[:cut], font, size) > wide:
                cut -= max(1, (cut - 1) // 8)
            lines.append(word[:cut])
            word = word[cut:]
        line = word
    return [*lines, line] if line or not lines else lines


class _Paper:
    """One page; ``y`` runs down."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas

    def text(
        self,
        x: float,
        y: float,
        text: str,
        font: str,
        size: float,
        colour: Color = _INK,
        *,
        right: bool = False,
        most: float = 0,
    ) -> None:
        if most:
            text = wrapped(text, font, size, most)[0]
        if right:
            x -= width_of(text, font, size)
        self.canvas.setFillColor(colour)
        for run, of in _runs(text, font):
            self.canvas.setFont(of, size)
            self.canvas.drawString(x, HIGH - y, run)
            x += pdfmetrics.stringWidth(run, of, size)

    def rule(self, y: float, wide: float, *, start: float = LEFT, colour: Color = _INK) -> None:
        self.canvas.setStrokeColor(colour)
        self.canvas.setLineWidth(wide)
        self.canvas.line(start, HIGH - y, RIGHT, HIGH - y)

    def pots(self, x: float, y: float, scale: float) -> None:
        self.canvas.setFillColor(_INK)
        for drawn in _POTS:
            path = self.canvas.beginPath()
            parts = drawn.replace("Z", " Z").split()
            while parts:
                sign = parts.pop(0)
                command, count = sign[0], {"M": 2, "L": 2, "C": 6, "Z": 0}[sign[0]]
                figures = [sign[1:]] if count else []
                figures += [parts.pop(0) for _ in range(count - len(figures))]
                points = [
                    HIGH - y - float(figure) * scale if at % 2 else x + float(figure) * scale
                    for at, figure in enumerate(figures)
                ]
                {"M": path.moveTo, "L": path.lineTo, "C": path.curveTo, "Z": path.close}[command](*points)
            self.canvas.drawPath(path, stroke=0, fill=1)

    def code(self, x: float, y: float, side: float, text: str) -> None:
        modules = transfer_modules(text)
        step = side / len(modules)
        self.canvas.setFillColor(Color(0, 0, 0))
        path = self.canvas.beginPath()
        for row, line in enumerate(modules):
            for column, dark in enumerate(line):
                if dark:
                    path.rect(x + column * step, HIGH - y - (row + 1) * step, step, step)
        self.canvas.drawPath(path, stroke=0, fill=1)


def _first_head(paper: _Paper, sheet: Sheet) -> float:
    paper.pots(41, 57, 0.62)
    paper.text(73, 67, sheet.studio, VOICE, 14, most=250)
    for number, line in enumerate(sheet.address[:4]):
        paper.text(
            RIGHT,
            67 - 11 * (min(len(sheet.address), 4) - 1 - number),
            line,
            PLATE,
            8.5,
            _SOFT,
            right=True,
            most=200,
        )
    paper.rule(80, 2, start=41)
    names = wrapped(sheet.name, VOICE, 19, 300)[:2]
    for number, line in enumerate(names):
        paper.text(LEFT, 121 + 22 * number, line, VOICE, 19)
    top = 121 + 22 * (len(names) - 1)
    paper.text(LEFT, top + 18, sheet.title, PLATE_BOLD, 10.5)
    for line in wrapped(sheet.about, VOICE, 9.5, 330):
        top += 15
        paper.text(LEFT, top + 18, line, VOICE, 9.5, _SOFT)
    paper.text(RIGHT, 108, sheet.headline, PLATE, 10, _SOFT, right=True)
    size = 29.0
    while width_of(sheet.headline_sum, PLATE_BOLD, size) > 190:
        size -= 1
    paper.text(RIGHT, 139, sheet.headline_sum, PLATE_BOLD, size, right=True)
    return _head_foot(sheet)


def _head_foot(sheet: Sheet) -> float:
    """Where the table begins under the first page's head."""
    names = len(wrapped(sheet.name, VOICE, 19, 300)[:2])
    return max(139 + 22 * (names - 1) + 15 * len(wrapped(sheet.about, VOICE, 9.5, 330)), 154) + 26


def _next_head(paper: _Paper, sheet: Sheet) -> float:
    paper.text(LEFT, 52, sheet.name, VOICE, 11, most=300)
    paper.text(RIGHT, 52, sheet.title, PLATE, 9, _SOFT, right=True)
    paper.rule(60, 2, start=41)
    return 84


def _table_head(paper: _Paper, sheet: Sheet, top: float) -> float:
    day, words, amount, balance = sheet.heads
    paper.text(LEFT, top, day, PLATE, 9, _SOFT)
    paper.text(WORDS_AT, top, words, PLATE, 9, _SOFT)
    paper.text(AMOUNT_AT, top, amount, PLATE, 9, _SOFT, right=True)
    paper.text(RIGHT, top, balance, PLATE, 9, _SOFT, right=True)
    paper.rule(top + 8, 1.5)
    return top + 8


@dataclass(slots=True)
class _Row:
    """Something of a known height that is drawn from its top and gives its foot."""

    high: float
    line: SheetLine | None = None
    words: Sequence[str] = ()
    small: Sequence[str] = ()
    total: tuple[str, str, str] | None = None
    is_sum: bool = False
    first: bool = False
    note: Sequence[str] = ()
    soft: bool = False
    transfer: str = ""

    def draw(self, paper: _Paper, top: float) -> float:
        if self.line:
            self._line(paper, top)
        elif self.total:
            self._total(paper, top)
        elif self.transfer:
            # A quiet zone of four modules is kept free round it: nothing stands nearer than 18 points.
            paper.code(LEFT, top + 18, 112, self.transfer)
            for number, line in enumerate(self.note):
                paper.text(LEFT + 134, top + 34 + 14 * number, line, VOICE, 9.5)
        for number, line in enumerate(self.note if not self.transfer else ()):
            paper.text(LEFT, top + 16 + 14 * number, line, VOICE, 9.5, _SOFT if self.soft else _INK)
        return top + self.high

    def _line(self, paper: _Paper, top: float) -> None:
        line = self.line
        paper.text(LEFT, top + 17, line.day, PLATE, 9)
        for number, words in enumerate(self.words):
            paper.text(WORDS_AT, top + 17 + 14 * number, words, VOICE, 10.5)
        below = top + 17 + 14 * (len(self.words) - 1)
        for number, words in enumerate(self.small):
            paper.text(WORDS_AT, below + 13 + 11 * number, words, PLATE, 8.5, _SOFT)
        paper.text(AMOUNT_AT, top + 17, line.amount, PLATE, 9.5, right=True)
        paper.text(RIGHT, top + 17, line.balance, PLATE, 9.5, right=True)
        paper.rule(top + self.high, 0.5, colour=_LINE)

    def _total(self, paper: _Paper, top: float) -> None:
        label, amount, balance = self.total
        if self.first:
            paper.rule(top + 1, 1.8)
        paper.text(LEFT, top + 16, label, VOICE, 11 if self.is_sum else 10)
        paper.text(AMOUNT_AT, top + 16, amount, PLATE, 9.5, right=True)
        paper.text(RIGHT, top + 16, balance, PLATE_BOLD, 11, right=True)
        if self.is_sum:
            paper.rule(top + 22, 0.8, start=AMOUNT_AT + 5)
            paper.rule(top + 24, 0.8, start=AMOUNT_AT + 5)


def _rows(sheet: Sheet) -> Iterator[_Row]:
    room = AMOUNT_AT - WORDS_AT - 72
    for line in sheet.lines:
        words = wrapped(line.words, VOICE, 10.5, room)
        small = wrapped(line.small, PLATE, 8.5, room) if line.small else []
        yield _Row(11 + 14 * len(words) + 11 * len(small) + (2 if small else 0), line, words, small)
    for number, total in enumerate(sheet.totals):
        last = number == len(sheet.totals) - 1
        yield _Row(28 if last else 20, total=total, is_sum=last, first=number == 0)
    for soft, notes in ((False, sheet.notes), (True, sheet.small_notes)):
        for note in notes:
            lines = wrapped(note, VOICE, 9.5, 400)
            yield _Row(14 * len(lines) + 8, note=lines, soft=soft)
    if sheet.transfer:
        yield _Row(150, transfer=sheet.transfer, note=wrapped(sheet.transfer_words, VOICE, 9.5, 300))


def _pages(sheet: Sheet) -> Iterator[list[_Row]]:
    _register()
    top, page = _head_foot(sheet) + 8.0, []
    for row in _rows(sheet):
        if page and top + row.high > BOTTOM:
            yield page
            top, page = 92.0, []
        page.append(row)
        top += row.high
    yield page
