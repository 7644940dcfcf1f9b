"""Naughty strings in every text field of the pages of pieces, and on slips and tags.

Each is kept exactly as typed, but for the white space around it, or refused in words; nothing breaks, and no
word of anybody's becomes markup.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from studio.models import Event, Piece, PieceSet, Shelf
from tests import factories
from tests.factories import client_id
from tests.support import naughty

pytestmark = pytest.mark.django_db

EVERYDAY = pytest.param(naughty.SOME, id="some")
FULL = pytest.param(naughty.ALL, id="all", marks=pytest.mark.full)
SIZES = pytest.mark.parametrize("strings", [EVERYDAY, FULL])


@pytest.fixture
def maud(client: Client):
    factories.studio()
    person = factories.tutor()
    client.force_login(person)
    return person


class Page(HTMLParser):
    """Collects what could do harm on a page of ours: markup that none of our templates writes."""

    OURS = frozenset(
        {
            *("html", "head", "meta", "title", "link", "script", "body", "a", "header", "div", "nav", "main"),
            *(
                "ul",
                "ol",
                "li",
                "h1",
                "h2",
                "h3",
                "p",
                "form",
                "input",
                "button",
                "label",
                "fieldset",
                "legend",
            ),
            *("select", "option", "textarea", "details", "summary", "section", "figure", "figcaption", "img"),
            *("small", "span", "b", "i", "dl", "dt", "dd", "table", "caption", "thead", "tbody", "tr", "th"),
            *(
                "td",
                "output",
                "noscript",
                "video",
                "br",
                "svg",
                "path",
                "g",
                "circle",
                "rect",
                "ellipse",
                "defs",
                "line",
            ),
            *("lineargradient", "radialgradient", "stop", "clippath", "text", "polygon", "polyline"),
            # The words for when there is no signal, kept for a script.
            "template",
        }
    )

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.harm: list[str] = []
        self.in_script = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.in_script = tag == "script"
        names = dict(attrs)
        if tag not in self.OURS or (tag == "script" and not (names.get("src") or "").startswith("/static/")):
            self.harm.append(tag)
        for name, value in attrs:
            bad_link = name in {"href", "src", "action", "formaction"} and not re.match(
                r"[/?#]", value or "/"
            )
            if name.startswith("on") or name == "style" or bad_link:
                self.harm.append(f"{tag} {name}={value}")

    def handle_data(self, data: str) -> None:
        if self.in_script and data.strip():
            self.harm.append(data)

    def handle_endtag(self, tag: str) -> None:
        self.in_script = False


def whole(page: str) -> None:
    """The page is one of ours: no tag, attribute or script came out of somebody's words."""
    assert Page(page).harm == []
    assert page.rstrip().endswith("</html>")


def test_the_check_itself_sees_harm() -> None:
    for page in (
        '<p onfocus="x">',
        "<script>alert(1)</script>",
        '<a href="javascript:x">',
        "<plaintext>",
        "<img src=x>",
    ):
        assert Page(page).harm, page
    assert Page("<p>&lt;script&gt;alert(1)</p><script src='/static/js/a.js'></script>").harm == []


def intake(**values: object) -> dict[str, object]:
    return {
        "client_id": client_id(),
        "maker": "nobody",
        "form": "mug",
        "technique": "thrown",
        "clay": factories.ClayBody.objects.first().pk,
        "footprint": "round",
        "width": "9",
        "height": "10",
        "measured_stage": "wet",
        "use": "food",
        "route": "bisque-then-glaze",
        "piece_set": "new",
        "new_set_name": "Jar",
        **values,
    }


@SIZES
def test_words_of_intake_are_kept_exactly_or_refused(client: Client, maud, strings) -> None:
    factories.clay()
    kept = 0
    for text in strings:
        words = {"template_used": text, "new_set_name": text, "notes": text}
        answer = client.post("/pieces/new/", intake(**words))
        if answer.status_code == 302:
            kept += 1
            piece = Piece.objects.order_by("-id").first()
            assert (piece.template_used, piece.piece_set.name) == (text.strip(), text.strip()), ascii(text)
            assert piece.notes == text.replace("\r\n", "\n").replace("\r", "\n").strip()
            page = client.get(reverse("piece", args=[piece.code])).content.decode()
            assert escape(text.strip()) in page, ascii(text)
        else:
            assert answer.status_code == 422, ascii(text)
            page = answer.content.decode()
            assert "field__error" in page, ascii(text)
        whole(page)
    assert kept > len(strings) * 0.6
    assert PieceSet.objects.count() == Piece.objects.count() == kept


@SIZES
def test_other_fields_of_intake_take_no_nonsense(client: Client, maud, strings) -> None:
    factories.clay()
    fields = (
        *("width", "height", "depth", "cone_wanted", "base_mm", "wall_mm", "low_firings_wanted", "due_on"),
        *(
            "mark",
            "maker",
            "form",
            "technique",
            "clay",
            "footprint",
            "measured_stage",
            "session",
            "client_id",
        ),
    )
    for text in strings:
        answer = client.post("/pieces/new/", intake(**dict.fromkeys(fields, text)))
        assert answer.status_code == 422, ascii(text)
        whole(answer.content.decode())
    assert Piece.objects.count() == 0


@SIZES
def test_words_said_of_a_piece(client: Client, maud, strings) -> None:
    satin = factories.glaze("Chalk Satin")
    for text in strings:
        piece = factories.piece(stage="ready", nobodys=True)
        for name, data in (
            ("piece-job", {"kind": "other", "note": text}),
            ("piece-give", {"maker": "studio", "note": text}),
            ("piece-glazes", {"inside_1_glaze": satin.code, "inside_1_notes": text}),
        ):
            url = reverse(name, args=[piece.code])
            answer = client.post(url, {"client_id": client_id(), **data})
            assert answer.status_code in {302, 422}, (name, ascii(text))
            if answer.status_code == 302:
                event = piece.events.order_by("-id").first()
                said = piece.glazes_on.get().notes if name == "piece-glazes" else event.note
                assert said == text.strip(), (name, ascii(text))
        whole(client.get(reverse("piece", args=[piece.code])).content.decode())


@SIZES
def test_what_is_searched_scanned_and_typed_changes_nothing(client: Client, maud, strings) -> None:
    factories.piece(mark="K7H")
    before = Event.objects.count()
    for text in strings:
        for answer in (
            client.get("/pieces/", {"q": text, "stage": text, "maker": text, "shelf": text, "page": text}),
            client.get("/pieces/new/", {"who": text, "maker": text, "set": text}),
            client.post("/scan/", {"code": text, "client_id": client_id()}),
            client.post("/pickup/add/", {"text": text}, follow=True),
            client.get("/print/slips/", {"p": text}),
            client.get("/print/slips/sheet/", {"p": text, "rows": text, "margin_top_mm": text}),
            client.post("/scan/shelf/", {"shelf": text}, follow=True),
        ):
            assert answer.status_code in {200, 422}, ascii(text)
            whole(answer.content.decode())
    assert Event.objects.count() == before


@SIZES
def test_names_on_shelves_slips_and_tags(client: Client, maud, strings) -> None:
    """Labels are drawings: each must still be whole XML, whatever somebody is called."""
    for number, text in enumerate(strings):
        data = {"name": text, "where": text, "purpose": "ready"}
        answer = client.post("/shelves/new/", data)
        assert answer.status_code in {302, 422}, ascii(text)
        if answer.status_code == 302:
            shelf = Shelf.objects.order_by("-id").first()
            assert (shelf.name, shelf.where) == (text.strip(), text.strip())
            whole(client.get(reverse("shelf", args=[shelf.code])).content.decode())
            labels_whole(client.get("/print/tags/sheet/", {"p": shelf.code}).content.decode())
            maker = factories.student(text[:60], last_name=text[:60], email=f"n{number}@quillmere.example")
            piece = factories.piece(maker=maker, shelf=shelf)
            labels_whole(client.get("/print/slips/sheet/", {"p": piece.code}).content.decode())
    assert Shelf.objects.count() > len(strings) * 0.5


def labels_whole(page: str) -> None:
    whole(page)
    for svg in re.findall(
        r'<svg xmlns="http://www.w3.org/2000/svg" class="sheet-svg".*?</svg>\s*(?=<svg xmlns|</main>)',
        page,
        re.S,
    ):
        root = ElementTree.fromstring(svg)
        assert not root.findall(".//{http://www.w3.org/2000/svg}script")
    assert "sheet-svg" in page
