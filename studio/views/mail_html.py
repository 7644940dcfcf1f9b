"""Showing a mail's HTML as a page of its own, under a policy that allows that one document and nothing else.

Mail readers want styles inside the document, which no page of the studio may have. So the styles are not
allowed in general: each style element and each style attribute is named by the hash of its very text, and a
changed letter is refused by the browser. Scripts, forms and fetches are not allowed at all, and pictures only
where they are written into the document itself.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from html.parser import HTMLParser

from django.http import HttpResponse


class _Styles(HTMLParser):
    """Collects the text of every style element and every style attribute, as a browser would see it."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: dict[str, None] = {}
        self._inside: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name == "style" and value is not None:
                self.found[value] = None
        if tag == "style":
            self._inside = []

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self._inside = None

    def handle_data(self, data: str) -> None:
        if self._inside is not None:
            self._inside.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "style" and self._inside is not None:
            self.found["".join(self._inside)] = None
            self._inside = None


def style_hashes(html: str) -> list[str]:
    """``'sha256-…'`` of every style element and attribute in the document, each once, in order."""
    styles = _Styles()
    styles.feed(html)
    styles.close()
    return [f"'sha256-{b64encode(hashlib.sha256(text.encode()).digest()).decode()}'" for text in styles.found]


def policy(html: str) -> str:
    """The content policy under which this document, and no other, looks as it should."""
    hashes = style_hashes(html)
    styles = " ".join(["'unsafe-hashes'", *hashes]) if hashes else "'none'"
    pictures = ["img-src data:"] if 'src="data:' in html else []
    return "; ".join(
        [
            "default-src 'none'",
            f"style-src {styles}",
            *pictures,
            "frame-ancestors 'self'",
            "base-uri 'none'",
            "form-action 'none'",
            "sandbox allow-top-navigation-by-user-activation",
        ]
    )


def mail_page(html: str) -> HttpResponse:
    """The mail as a document to be shown in a frame of the studio's own pages. Links open in the whole
    window.
    """
    html = html.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")
    html = html.replace("<head>", '<head><base target="_top">', 1)
    response = HttpResponse(html)
    response.headers["Content-Security-Policy"] = policy(html)
    response.headers["X-Frame-Options"] = "SAMEORIGIN"
    response.headers["Referrer-Policy"] = "no-referrer"
    return response
