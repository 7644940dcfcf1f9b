"""A language that nobody speaks: every translated letter is of another alphabet, so what is left in ours was
never handed to a translator."""

from __future__ import annotations

import html
import re
from typing import Any

from django.apps import apps
from django.db import models
from django.utils.translation import trans_real

#: What a translation keeps: names to fill in, markup, entities.
_KEPT = re.compile(r"(%\(\w+\)s|%%|\{\w*\}|<[^>]*>|&\w+;)")
#: Signs that say how a date is written, and a question that is answered by one word.
#: Places to fill in, as the tutor writes them; what is typed into other programs; columns of somebody's file.
_NO_SENTENCE = re.compile(
    r"\{\w+\}|\{\"readings\".*\}|curl -H .*|-d temperature_c=.*|temperature_[cf]|age_s|^at$"
)
_NO_WORDS = re.compile(r"[ljFMYHiDNPa ,:.]+|small letters")
_WIDE = 0xFEE0

#: Signs of measures, standards and names of things that are the same in every language.
SAME = {
    *(
        "cm",
        "mm",
        "in",
        "kWh",
        "kW",
        "ml",
        "mL",
        "dm",
        "min",
        "mg",
        "PDF",
        "CSV",
        "QR",
        "Wareboard",
        "Deutsch",
        "English",
    ),
    *("ISO", "EEC", "FDA", "CPG", "IBAN", "BIC", "EUR", "GBP", "ICS", "ZIP", "JSON", "iCalendar"),
}


def pseudo(words: str) -> str:
    """``Ready {name}`` as ``Ｒｅａｄｙ {name}``."""
    if _NO_WORDS.fullmatch(words):
        return words
    return "".join(
        part if _KEPT.fullmatch(part) else re.sub("[A-Za-z]", lambda sign: chr(ord(sign[0]) + _WIDE), part)
        for part in _KEPT.split(words)
    )


def speak(monkeypatch: Any, language: str = "de") -> None:
    """From here on this language is the one that nobody speaks."""
    catalogue = trans_real.translation(language)
    monkeypatch.setattr(catalogue, "gettext", pseudo)
    monkeypatch.setattr(catalogue, "ngettext", lambda one, many, n: pseudo(one if n == 1 else many))
    monkeypatch.setattr(catalogue, "pgettext", lambda context, words: pseudo(words), raising=False)


def data_words() -> re.Pattern[str]:
    """Everything that somebody wrote into the database: names, notes, codes."""
    found: set[str] = set()
    for model in apps.get_app_config("studio").get_models():
        for column in model._meta.fields:
            if isinstance(column, models.CharField | models.TextField) and not column.choices:
                values = model.objects.values_list(column.name, flat=True).distinct()
                found |= {
                    line.strip() for value in values if isinstance(value, str) for line in value.splitlines()
                }
    longest_first = sorted((words for words in found if len(words) > 1), key=len, reverse=True)
    return re.compile(r"(?<![A-Za-z])(?:" + "|".join(map(re.escape, longest_first)) + r")(?![A-Za-z])")


def left_over(page: str, data: re.Pattern[str]) -> list[str]:
    """Lines of a page or mail, and what a screen reader is told, that have words in our alphabet."""
    told = re.findall(r'\b(?:alt|aria-label|title|placeholder)="([^"]+)"', page)
    page = re.sub(r"<(script|style|template)\b.*?</\1>", "", page, flags=re.S)
    lines = re.sub(r"<[^>]*>", "\n", page).split("\n")
    found = []
    for line in (html.unescape(line).strip() for line in [*lines, *told]):
        rest = data.sub("", _NO_SENTENCE.sub("", re.sub(r"https?://\S+|\S+@\S+", "", line)))
        if set(re.findall(r"[A-Za-z]{2,}", rest)) - SAME:
            found.append(line)
    return found
