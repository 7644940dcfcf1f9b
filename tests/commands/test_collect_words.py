"""Sentences are found where they stand, and a catalogue is read back by Python's own gettext."""

from __future__ import annotations

import gettext
import io
from pathlib import Path

from studio.management.words.catalogue import compiled, read_po, write_po
from studio.management.words.collect import Words, in_python, in_template

PYTHON = """
say("{name} waits.", name=name)
say("Two lines "
    "are one sentence.")
say_many("{count} pot", "{count} pots", n)
words.later("Wet")
SizeField(called="width", label=in_cm("Across"))
date_words(day, "j F")
print("not for people", say(name))
"""
TEMPLATE = """{% translate "Ready" %} {# {% translate "no" %} #}
<a title="{% translate 'My account' %}">{{ name|default:_("the tutor") }}</a>
{% blocktranslate count n=pots|length with who=person.name %}{{ who }} has {{ n }} pot{% plural %}\
{{ who }} has {{ n }} pots{% endblocktranslate %}
{% blocktranslate %}100 % of <b>it</b>{% endblocktranslate %}"""


def test_sentences_are_found_in_python() -> None:
    assert sorted(in_python(PYTHON)) == [
        Words("Across"),
        Words("Two lines are one sentence."),
        Words("Wet"),
        Words("j F"),
        Words("width"),
        Words("{count} pot", "{count} pots"),
        Words("{name} waits."),
    ]


def test_sentences_are_found_in_templates() -> None:
    assert sorted(in_template(TEMPLATE)) == [
        Words("%(who)s has %(n)s pot", "%(who)s has %(n)s pots"),
        Words("100 %% of <b>it</b>"),
        Words("My account"),
        Words("Ready"),
        Words("the tutor"),
    ]


def test_a_catalogue_is_kept_and_compiled(tmp_path: Path) -> None:
    known = {
        Words("Wet"): ["Nass"],
        Words("{count} pot", "{count} pots"): ["{count} Topf", "{count} Töpfe"],
        Words('“Two”\n"lines"\\'): ['„Zwei“\n"Zeilen"\\'],
        Words("Gone"): ["Fort"],
    }
    places = {words: ["studio/a.py"] for words in [*known][:3]} | {Words("Not yet"): ["templates/b.html"]}
    path = tmp_path / "de" / "django.po"
    write_po(path, "de", known, places)
    again = read_po(path)
    del known[Words("Gone")]  # it stands nowhere any more
    assert again == known | {Words("Not yet"): []}
    write_po(path, "de", again, places)
    assert read_po(path) == again
    # The reference is the reader of .mo files in Python's standard library.
    german = gettext.GNUTranslations(io.BytesIO(compiled("de", again)))
    assert german.gettext("Wet") == "Nass"
    assert german.gettext('“Two”\n"lines"\\') == '„Zwei“\n"Zeilen"\\'
    assert [german.ngettext("{count} pot", "{count} pots", n) for n in (0, 1, 2)] == [
        "{count} Töpfe",
        "{count} Topf",
        "{count} Töpfe",
    ]
    assert german.gettext("Not yet") == "Not yet"
    assert german.info()["language"] == "de"
