"""Scripts say nothing that can't be said in another language, and pages bring the words that they need."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from django.conf import settings as project
from django.template import Context, Template
from django.test import Client
from django.utils.translation import override

from studio.domain.script_words import brought, sentences
from studio.models import Person
from studio.templatetags.scripts import english_of, said_by
from tests import factories
from tests.support import pseudo

SCRIPTS = sorted((project.BASE_DIR / "static" / "js").rglob("*.js"))
_STRING = r""""(?:[^"\\\n]|\\.)*"|'(?:[^'\\\n]|\\.)*'|`(?:[^`\\]|\\.)*`"""
#: Remarks, sentences that are handed to a translator or to whoever looks for faults, and other strings.
_PARTS = re.compile(
    rf"//[^\n]*|(?<![\w.$])(?:translateMany|translate|later|console\.warn|new Error)\(\s*(?:{_STRING})"
    rf"(?:\s*,\s*(?:{_STRING}))?|(?P<bare>{_STRING})",
    re.S,
)
#: What looks like words and is none: selectors, classes, markup of drawings.
_NO_WORDS = re.compile(
    r"[.#]\w.*|(input|a\.l-link), .*"  # selectors
    r"|[a-z]+( [a-z]+--[a-z…]+)+"  # classes
    r"|<svg .*"
)
_KEYS = {"Delete", "Backspace", "Enter", "Escape"}


def bare_words(script: str) -> list[str]:
    """Strings that read like words for people and stand outside the three functions."""
    found = []
    for part in _PARTS.finditer(script):
        text = re.sub(r"\$\{[^}]*\}", "…", (part["bare"] or "")[1:-1]).strip()
        words = re.search(r"[A-Za-z’]{2,}[.,:;!?]? [A-Za-z’…]|… [a-z]{2,}", text) or re.fullmatch(
            r"[A-Z][a-z]+[.!?]?", text
        )
        if words and text not in _KEYS and not _NO_WORDS.fullmatch(text):
            found.append(text)
    return found


def test_no_script_says_a_bare_sentence() -> None:
    left = {path.name: words for path in SCRIPTS if (words := bare_words(path.read_text("utf-8")))}
    assert left == {}


def test_a_bare_sentence_would_be_seen() -> None:
    script = """
    node.className = "btn btn--wide"; // A remark about it.
    say(translate("It waits."), later('No signal'), translateMany("{count} pot", "{count} pots", n));
    say("Nothing was changed."); say(`${count} pots are out`); say('Sending');
    """
    assert bare_words(script) == ["Nothing was changed.", "… pots are out", "Sending"]


def test_sentences_of_a_script_are_found() -> None:
    script = """
    // translate("In a remark.")
    import { say } from "./one.js";
    say(translate("It’s \\"here\\".", { mark }), later(
      "No signal",
    ), translateMany("{count} pot", "{count} pots", n), untranslate("no"), x.translate("no"));
    await import("../two.js");
    """
    assert sentences(script) == [('It’s "here".', ""), ("No signal", ""), ("{count} pot", "{count} pots")]
    assert brought("js/unload/start.js", script) == ["js/unload/one.js", "js/two.js"]


def test_every_script_of_a_page_comes_with_its_words() -> None:
    templates = "\n".join(
        path.read_text("utf-8") for path in (project.BASE_DIR / "templates").rglob("*.html")
    )
    with_words = set(re.findall(r'{% script "([^"]+)" %}', templates))
    silent = set(re.findall(r"{% static '(js/[^']+)' %}", templates))
    assert {"js/sketch.js", "js/scanner_page.js", "js/unload/start.js", "js/load/editor.js"} <= with_words
    for name in with_words:
        assert isinstance(english_of(name), tuple)  # found, with all that it brings
    assert {name for name in silent if english_of(name)} == set()
    # Nothing that says something is left over: each sentence stands on a page with the script that says it.
    reached = {one for name in with_words for one in english_of(name)}
    assert reached == {one for path in SCRIPTS for one in sentences(path.read_text("utf-8"))}


def shown(name: str) -> str:
    return Template(f'{{% script "{name}" %}}').render(Context())


def test_an_english_page_carries_no_words_for_its_scripts() -> None:
    with override("en-gb"):
        assert shown("js/sketch.js") == '<script src="/static/js/sketch.js" type="module"></script>'


def test_a_page_in_another_language_carries_all_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    pseudo.speak(monkeypatch)
    with override("de"):
        block = shown("js/unload/start.js")
        said = said_by("js/unload/start.js")
    head, _, rest = block.partition(">")
    assert head == '<script data-words type="application/json"'
    assert json.loads(rest.partition("</script>")[0]) == said
    known = {one: many for one, many in english_of("js/unload/start.js") if one != "small letters"}
    assert set(known) == set(said) - {"small letters"}
    assert len(known) > 40
    for english, many in known.items():
        forms = said[english] if many else [said[english]]
        assert all(not re.search("[A-Za-z]{2,}", re.sub(r"\{\w+\}", "", form)) for form in forms), english


#: Scripts of pages that students, guardians and visitors see.
THEIRS = ("js/sketch.js", "js/photo_shrink.js", "js/no_signal.js", "js/print.js", "js/passkeys.js")
KILN_ROOM = ("js/scanner_page.js", "js/unload/start.js", "js/unload/elsewhere.js", "js/load/editor.js")


@pytest.mark.parametrize("name", [*THEIRS, *KILN_ROOM, "js/intake.js", "js/live_curve.js"])
def test_scripts_speak_german(name: str) -> None:
    same = {"small letters", "{max} mm", "{mark}, {layer}: {place}."}
    with override("de"):
        said = said_by(name)
    assert {one for one, _ in english_of(name)} - set(said) <= same


@pytest.mark.django_db
def test_words_for_scripts_are_data_and_small(client: Client) -> None:
    ines = factories.student()
    Person.objects.filter(pk=ines.pk).update(language="de")
    piece: Any = factories.piece(maker=ines)
    client.force_login(ines)
    page = client.get(f"/pieces/{piece.code}/glazes/").content.decode()
    blocks = re.findall(r'<script data-words type="application/json">(.*?)</script>', page)
    assert [json.loads(block)["Wipe it clean"] for block in blocks] == ["Leer wischen"]
    assert sum(map(len, blocks)) < 400


@pytest.mark.django_db
def test_what_a_phone_keeps_of_a_load_is_in_its_language(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """JSON looks past words that are said later; so they are said before."""
    maud = factories.tutor()
    piece = factories.piece(maker=factories.student(), stage="glazed", form="bowl")
    firing = factories.firing("unloading", pieces=[piece])
    Person.objects.filter(pk=maud.pk).update(language="de")
    client.force_login(maud)
    kept = client.get(f"/firings/{firing.number}/unload/load.json").json()
    assert kept["places"][piece.code]["form"] == "Schale"
    assert {layer["name"] for layer in kept["layers"]} <= {"Oberste Platte", "Unterste Platte"}
