"""One line that asks for results: ``satin white over iron, cone 6, bowls``.

Parts are parted by commas, in any order: a cone, forms, a surface, a clay, and glazes from the top down with
``over`` between them. What is not one of the first four is taken for words of glazes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

_CONE = re.compile(r"^(?:cone|△)?\s*(0?\d{1,2})$", re.IGNORECASE)
_CONE_IN = re.compile(r"\bcone\s+(0?\d{1,2})\b", re.IGNORECASE)
_OVER = re.compile(r"\s+over\s+", re.IGNORECASE)
_SURFACES = {word: word for word in ("inside", "outside", "rim", "foot", "decoration")}
MOST_PARTS = 8


@dataclass(frozen=True, slots=True)
class Asked:
    """``glazes`` are the words of each glaze, from the clay up; empty fields ask for anything."""

    glazes: tuple[tuple[str, ...], ...] = ()
    cone: str = ""
    form: str = ""
    surface: str = ""
    clay: str = ""


def parse(text: str, *, forms: Mapping[str, str], clays: Iterable[str] = ()) -> Asked:
    """What a line asks for. ``forms`` maps a form's value to its word, such as ``bowl`` to ``Bowl``."""
    by_word = _words_of(forms)
    bodies = {clay.casefold(): clay for clay in clays}
    found: dict[str, str] = {}
    glazes: tuple[tuple[str, ...], ...] = ()
    for part in [part.strip() for part in text.split(",")][:MOST_PARTS]:
        part, cone = _take_cone(part)
        if cone:
            found.setdefault("cone", cone)
        word = part.casefold()
        if not word:
            continue
        if word in by_word:
            found.setdefault("form", by_word[word])
        elif word in _SURFACES:
            found.setdefault("surface", _SURFACES[word])
        elif word in bodies or word.removeprefix("on ") in bodies:
            found.setdefault("clay", bodies.get(word) or bodies[word.removeprefix("on ")])
        else:
            layers = [tuple(layer.casefold().split()) for layer in _OVER.split(part)]
            glazes = tuple(layer for layer in reversed(layers) if layer) or glazes
    return Asked(glazes=glazes, **found)


def _take_cone(part: str) -> tuple[str, str]:
    if whole := _CONE.match(part):
        return "", whole[1]
    if within := _CONE_IN.search(part):
        return (part[: within.start()] + part[within.end() :]).strip(), within[1]
    return part, ""


def _words_of(forms: Mapping[str, str]) -> dict[str, str]:
    """Singular and plural of each form."""
    words = {}
    for value, label in forms.items():
        word = label.casefold()
        for each in (word, f"{word}s", f"{word}es"):
            words[each] = value
    return words


def layers_match(asked: tuple[tuple[str, ...], ...], names: tuple[str, ...]) -> bool:
    """Whether these glazes, from the clay up, are what was asked for: one word is met by a word's beginning.

    One asked for alone may lie anywhere; several lie over each other in this order, with nothing between.
    """
    if not asked:
        return True
    width = len(asked)
    spans = (names[start : start + width] for start in range(len(names) - width + 1))
    return any(all(map(_named, asked, span)) for span in spans)


def _named(words: tuple[str, ...], name: str) -> bool:
    own = name.casefold().replace("-", " ").split()
    return all(any(each.startswith(word) for each in own) for word in words)
