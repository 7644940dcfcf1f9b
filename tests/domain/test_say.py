"""Sentences without a translator are English; with one they are its, and a wrong translation harms nobody."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from studio.domain import say as saying
from studio.domain.languages import spoken
from studio.domain.say import date_words, figure, later, midway, say, say_many, speak_with

GERMAN = {
    "{name} waits.": "{name} wartet.",
    "Wet": "Nass",
    "{name} is ready.": "{Name} ist fertig.",
    ".": ",",
    "Braces {stay}": "Klammern {stay}",
}


@pytest.fixture
def german() -> Iterator[None]:
    before = saying._translate, saying._translate_many, saying._write_date
    speak_with(
        lambda words: GERMAN.get(words, words),
        lambda one, many, n: "{count} Stück" if n == 1 else "{count} Stücke",
    )
    yield
    speak_with(*before)


def test_a_sentence_is_said_in_the_language_in_force(german: None) -> None:
    assert say("{name} waits.", name="Ivo") == "Ivo wartet."
    assert say("{name} goes.", name="{Ivo}") == "{Ivo} goes."
    assert say("Braces {stay}") == "Klammern {stay}"
    assert [say_many("{count} piece", "{count} pieces", n) for n in (1, 2)] == ["1 Stück", "2 Stücke"]
    assert figure(9.5, ".1f") == "9,5"


def test_a_translation_that_names_something_else_falls_back_to_english(german: None) -> None:
    assert say("{name} is ready.", name="Ivo") == "Ivo is ready."


def test_words_of_a_table_are_english_to_programs_and_translated_to_readers(german: None) -> None:
    wet = later("Wet")
    assert [wet == "Wet", {wet: 1}["Wet"]] == [True, 1]
    assert sorted([later("b"), later("a")]) == ["a", "b"]
    assert [str(wet), f"{wet}", f"{wet:>5}", wet + "!", "so " + wet] == [
        "Nass",
        "Nass",
        " Nass",
        "Nass!",
        "so Nass",
    ]
    assert [wet.lower(), wet[:1].lower() + wet[1:], wet.upper()] == ["nass", "nass", "NASS"]
    assert [wet.replace("N", "n"), wet.split("a"), wet.rstrip("s"), textwrap.wrap(wet)] == [
        "nass",
        ["N", "ss"],
        "Na",
        ["Nass"],
    ]


def test_without_a_translator_it_is_english() -> None:
    before = saying._translate, saying._translate_many, saying._write_date
    speak_with(None, None)
    try:
        assert say("{name} waits.", name="Ivo") == "Ivo waits."
        assert [say_many("{count} pot", "{count} pots", n) for n in (0, 1, 2)] == [
            "0 pots",
            "1 pot",
            "2 pots",
        ]
        assert str(later("Wet")) == "Wet"
    finally:
        speak_with(*before)


def test_whose_choice_of_a_language_counts() -> None:
    assert spoken("de", "en-gb") == "de"
    assert spoken("", "de") == "de"
    assert spoken("", "") == spoken("tlh", "") == "en-gb"


def test_a_date_has_its_names_and_its_order_from_the_language(german: None) -> None:
    day = datetime(2025, 12, 19, 9, 5, tzinfo=UTC)
    before = saying._translate, saying._translate_many, saying._write_date
    assert date_words(day, "l j F Y, H:i") == "Friday 19 December 2025, 09:05"
    orders = {"l j F": "l, j. F"}
    speak_with(lambda words: orders.get(words, words), None, lambda when, spec: f"{when:%d} as {spec}")
    try:
        assert date_words(day, "l j F") == "19 as l, j. F"
    finally:
        speak_with(*before)


def test_nouns_keep_their_capitals_where_the_language_has_it_so() -> None:
    before = saying._translate, saying._translate_many, saying._write_date
    try:
        speak_with({"small letters": "capitals"}.get, None)
        assert midway("Becher") == "Becher"
        speak_with(None, None)
        assert midway("Mug") == "mug"
    finally:
        speak_with(*before)
