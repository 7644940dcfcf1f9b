"""Sentences for people, in the language in force. English stands in the code; without a translator it stays.

`say` and `say_many` are for words spoken now, `later` for words written down once and shown often. Which
language is in force is the caller's affair: the app puts a translator in with `speak_with` when it starts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

#: English sentence -> the sentence to be shown.
Translate = Callable[[str], str]
#: One, many, how many -> the sentence to be shown.
TranslateMany = Callable[[str, str, int], str]
#: Day or moment, letters of `_LETTERS` -> words.
WriteDate = Callable[[date, str], str]

_translate: Translate | None = None
_translate_many: TranslateMany | None = None
_write_date: WriteDate | None = None


def speak_with(one: Translate | None, many: TranslateMany | None, dates: WriteDate | None = None) -> None:
    """Put in who translates from now on; None for plain English."""
    global _translate, _translate_many, _write_date
    _translate, _translate_many, _write_date = one, many, dates


def say(sentence: str, /, **named: Any) -> str:
    """``say("Raise {name}’s places first.", name="Ivo")``. Without names, braces are just braces."""
    told = _translate(sentence) if _translate else sentence
    return _filled(told, sentence, named) if named else told


def say_many(one: str, many: str, count: int, /, **named: Any) -> str:
    """``say_many("{count} piece", "{count} pieces", 3)``: the form for this many, named ``count``."""
    english = one if count == 1 else many
    told = _translate_many(one, many, count) if _translate_many else english
    return _filled(told, english, {"count": count, **named})


def _filled(told: str, english: str, named: dict[str, Any]) -> str:
    try:
        return told.format(**named)
    except (KeyError, IndexError, ValueError, AttributeError):  # a translation that names something else
        return english.format(**named)


def figure(value: float, spec: str = "") -> str:
    """A number as f-strings write it (``figure(9.5, ".1f")``), with the decimal sign of the language."""
    text = format(value, spec)
    # Translators: the sign between a number and its decimals, as in 3.5
    return text if "." not in text else text.replace(".", say("."))


#: The parts of a date, each with what Python's own formatting calls it; numbers have no leading nought.
_LETTERS = {"l": "%A", "j": "%-d", "d": "%d", "F": "%B", "M": "%b", "Y": "%Y", "H": "%H", "i": "%M"}


def date_words(day: date, spec: str) -> str:
    """``date_words(day, "l j F Y")``: "Friday 19 December 2025", names of days and months in the language."""
    if _write_date:
        return _write_date(day, say(spec))  # another language puts other signs between, as in 19. Dezember
    return day.strftime("".join(_LETTERS.get(letter, letter) for letter in spec))


def midway(words: object) -> str:
    """For the middle of a sentence: in small letters, unless the language writes nouns with capitals."""
    # Translators: answer "capitals" where a noun keeps its capital inside a sentence
    return str(words) if say("small letters") == "capitals" else str(words).lower()


def lower_first(words: object) -> str:
    """``Glaze firing 41`` as ``glaze firing 41``, for the middle of a sentence; as `midway` does."""
    text = str(words)
    return f"{midway(text[:1])}{text[1:]}"


def listed(parts: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    if len(parts) < 2:
        return "".join(str(part) for part in parts)
    return say("{most} and {last}", most=", ".join(str(part) for part in parts[:-1]), last=parts[-1])


class Later(str):
    """English words that turn into the language in force when they are shown or put into a sentence.

    To programs it stays the English text: equality, order, hash, length and what a database is given.
    """

    __slots__ = ()

    def __str__(self) -> str:
        return say(str.__str__(self))

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)

    def __add__(self, other: str) -> str:
        return str(self) + str(other)

    def __radd__(self, other: str) -> str:
        return str(other) + str(self)

    def __getitem__(self, index: Any) -> str:
        return str(self)[index]

    def lower(self) -> str:
        return midway(self)

    def upper(self) -> str:
        return str(self).upper()

    def capitalize(self) -> str:
        return str(self).capitalize()

    def replace(self, *old_new: Any) -> str:
        return str(self).replace(*old_new)

    def split(self, *sep: Any) -> list[str]:
        return str(self).split(*sep)

    def rstrip(self, signs: str | None = None) -> str:
        return str(self).rstrip(signs)

    def expandtabs(self, tabsize: int = 8) -> str:  # the first thing that `textwrap` does
        return str(self).expandtabs(tabsize)


def later(words: str) -> Later:
    """Words of a table or class, said in the language of whoever reads them."""
    return Later(words)


def said_now(value: Any) -> Any:
    """Dicts and lists with every `Later` in them said: what writes JSON or CSV sees its English alone."""
    if isinstance(value, Later):
        return str(value)
    if isinstance(value, dict):
        return {key: said_now(each) for key, each in value.items()}
    return [said_now(each) for each in value] if isinstance(value, list | tuple) else value
