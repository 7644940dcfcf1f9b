"""Reading pages as a browser does: their forms as they would be sent, and what could do harm on them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

#: Elements that no page of ours has, whoever is called what.
_FOREIGN = {
    *("script", "iframe", "object", "embed", "base", "style", "video", "audio", "marquee", "applet", "frame"),
    *("frameset", "plaintext", "xmp", "noembed", "foreignobject", "animate", "set", "math"),
    *("image", "bgsound", "isindex", "keygen", "portal"),
}
_LINKS = {"href", "src", "action", "formaction", "xlink:href", "poster", "data", "srcset", "background"}


class _Harm(HTMLParser):
    def __init__(self, *, mail: bool) -> None:
        super().__init__(convert_charrefs=True)
        self.mail = mail
        self.found: list[str] = []
        self.ended = False
        self._in_script = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        ours = (
            # Scripts and frames come from files and pages of our own.
            (tag == "script" and (values.get("src") or "").startswith("/static/"))
            or (tag == "script" and values.get("type") == "application/json")
            # The camera's picture, which no address leads to.
            or (tag == "video" and not values.get("src"))
            or (
                tag == "iframe" and (values.get("src") or "").startswith(("/notices/", "/wording/", "/mail/"))
            )
        )
        if tag in _FOREIGN and not ours and not (self.mail and tag in {"style", "base"}):
            self.found.append(f"<{tag}>")
        self._in_script = tag == "script" and values.get("type") != "application/json"
        for name, value in attrs:
            if name.startswith(("on", "hx-on")) or (name == "style" and not self.mail):
                self.found.append(f"{tag} {name}={value}")
            fitting = r"https?://|mailto:" if self.mail else r"/(?!/)|[?#]|mailto:|tel:"
            if name in _LINKS and value and not re.match(fitting, value):
                self.found.append(f"{tag} {name}={value}")

    def handle_data(self, data: str) -> None:
        if self._in_script and data.strip():
            self.found.append(f"script {data[:60]}")

    def handle_endtag(self, tag: str) -> None:
        self._in_script = False
        self.ended = self.ended or tag == "html"


def harm(page: str, *, mail: bool = False) -> list[str]:
    """Markup that none of our templates writes, or a page that breaks off.

    A mail has its styles in it, and its links have the whole address.
    """
    seen = _Harm(mail=mail)
    seen.feed(page)
    seen.close()
    return seen.found if seen.ended else [*seen.found, "no end"]


def says_no(page: str) -> bool:
    """Whether a page says of a form what is wrong with it."""
    told = r'class="field__error"|class="note note--stop[\w -]*" role="alert"'
    return bool(re.search(rf'{told}|class="messages" role="status">\s*<div class="note note--stop"', page))


# Forms


@dataclass
class Field:
    """``kind`` is the type of an input, or textarea or select."""

    name: str
    kind: str
    value: str = ""
    #: What a select, or radio buttons of one name, offer.
    offered: list[str] = field(default_factory=list)
    attrs: dict[str, str] = field(default_factory=dict)


@dataclass
class Form:
    action: str
    fields: dict[str, Field] = field(default_factory=dict)

    @property
    def words(self) -> list[str]:
        """Names of fields that somebody types in."""
        typed = {"text", "search", "email", "tel", "url", "number", "date", "datetime-local", "password"}
        return [each.name for each in self.fields.values() if each.kind in {*typed, "textarea"}]

    def as_sent(self) -> dict[str, str]:
        """What a browser sends when nothing is typed; of what must be chosen, the first."""
        sent = {}
        for each in self.fields.values():
            if each.kind in {"checkbox", "file"}:
                continue
            if each.kind in {"select", "radio"} and not each.value:
                sent[each.name] = next((value for value in each.offered if value), "")
            else:
                sent[each.name] = each.value
        return sent


class _Forms(HTMLParser):
    def __init__(self, page_url: str) -> None:
        super().__init__(convert_charrefs=True)
        self.page_url = page_url
        self.forms: list[Form] = []
        self._form: Form | None = None
        self._area: Field | None = None
        self._select: Field | None = None

    def _field(self, name: str, kind: str, attrs: dict[str, str]) -> Field:
        assert self._form is not None
        return self._form.fields.setdefault(name, Field(name, kind, attrs=attrs))

    def handle_starttag(self, tag: str, attrs_list: list[tuple[str, str | None]]) -> None:
        attrs = {name: value or "" for name, value in attrs_list}
        if tag == "form":
            self._form = None
            if attrs.get("method", "").lower() == "post":
                self._form = Form((attrs.get("action") or self.page_url).partition("#")[0] or self.page_url)
                self.forms.append(self._form)
            return
        name = attrs.get("name")
        if self._form is None or (not name and tag != "option"):
            return
        if tag == "input":
            kind = attrs.get("type", "text")
            row = self._field(name, kind, attrs)
            if kind == "radio":
                row.offered.append(attrs.get("value", "on"))
                if "checked" in attrs:
                    row.value = attrs.get("value", "on")
            elif kind != "checkbox":
                row.value = attrs.get("value", "")
        elif tag == "textarea":
            self._area = self._field(name, "textarea", attrs)
        elif tag == "select":
            self._select = self._field(name, "select", attrs)
        elif tag == "option" and self._select is not None:
            value = attrs.get("value", "")
            self._select.offered.append(value)
            if "selected" in attrs:
                self._select.value = value
        elif tag == "button" and attrs.get("type", "submit") == "submit":
            row = self._field(name, "button", attrs)
            row.value = row.value or attrs.get("value", "")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)

    def handle_data(self, data: str) -> None:
        if self._area is not None:
            self._area.value += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        elif tag == "textarea" and self._area is not None:
            self._area.value = self._area.value.removeprefix("\n")
            self._area = None
        elif tag == "select":
            self._select = None


def forms_of(page: str, url: str) -> list[Form]:
    """The forms that are posted."""
    read = _Forms(url.partition("?")[0])
    read.feed(page)
    read.close()
    return read.forms
