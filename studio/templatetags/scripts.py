"""A script and, before it, the sentences it says, in the language of the page. Builtin: no ``{% load %}``."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from django import template
from django.contrib.staticfiles import finders
from django.templatetags.static import static
from django.utils.html import format_html, json_script
from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from studio.domain.script_words import brought, sentences

register = template.Library()


@register.simple_tag
def script(name: str) -> SafeString:
    """``{% script "js/sketch.js" %}``: a module. Nothing stands before it on an English page."""
    tag = format_html('<script src="{}" type="module"></script>', static(name))
    words = said_by(name)
    if not words:
        return tag
    # Data, which no content policy minds. Several may stand on a page: `static/js/words.js` reads all.
    return SafeString(json_script(words).replace("<script ", "<script data-words ", 1) + tag)


def said_by(name: str) -> dict[str, str | list[str]]:
    """What a script and those it brings say, where the language in force says it otherwise.

    English -> the sentence; of those that count, English for one -> for one and for many.
    """
    words: dict[str, str | list[str]] = {}
    for one, many in english_of(name):
        if many and (forms := [ngettext(one, many, 1), ngettext(one, many, 2)]) != [one, many]:
            words[one] = forms
        elif not many and (said := gettext(one)) != one:
            words[one] = said
    return words


@lru_cache(maxsize=64)
def english_of(name: str) -> tuple[tuple[str, str], ...]:
    """Sentences of a script and of all that it imports."""
    found: dict[tuple[str, str], None] = {}
    known, waiting = {name}, [name]
    while waiting:
        one = waiting.pop(0)
        text = Path(finders.find(one) or "").read_text("utf-8")
        found |= dict.fromkeys(sentences(text))
        waiting += [each for each in dict.fromkeys(brought(one, text)) if each not in known]
        known |= set(waiting)
    return tuple(found)
