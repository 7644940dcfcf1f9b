"""Sizes are typed in centimetres as potters say them, and kept in whole millimetres."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from studio.forms.lengths import SizeField, ThicknessField
from studio.forms.parts import FigureField, WordsField


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("9", 90),
        ("9.5", 95),
        ("9,5", 95),
        (" 19.4 ", 194),
        ("19.44", 194),
        ("19.45", 195),
        ("95 mm", 95),
        ("95mm", 95),
        ("9.5 cm", 95),
        ("0.1 m", 100),
        (".5", 5),
        ("150", 1500),
        # Digits of another script, as a phone keyboard may give them.
        ("٩", 90),
    ],
)
def test_a_size_becomes_millimetres(typed, mm) -> None:
    assert SizeField(called="height").clean(typed) == mm


@pytest.mark.parametrize(
    ("typed", "word"),
    [
        ("", "centimetres"),
        ("0", "between 0.5 and 150 cm"),
        ("0.4", "between"),
        ("-9", "centimetres"),
        ("10 m", "10 m can't be the height"),
        ("1000", "1000 cm can't be"),
        ("150.1", "can't be"),
        ("9.5.5", "centimetres"),
        ("nine", "centimetres"),
        ("1e2", "centimetres"),
        ("9 ft", "centimetres"),
        ("NaN", "centimetres"),
    ],
)
def test_what_is_no_size_is_refused_in_words(typed, word) -> None:
    with pytest.raises(ValidationError, match=word):
        SizeField(called="height").clean(typed)


def test_a_size_is_shown_again_as_it_was_typed() -> None:
    field = SizeField(called="height")
    assert [field.prepare_value(value) for value in (194, 90, "9,5")] == ["19.4", "9", "9,5"]


def test_a_thickness_is_in_millimetres() -> None:
    field = ThicknessField(called="base", required=False)
    assert [field.clean(text) for text in ("", "6", "6 mm")] == [None, 6, 6]
    for text in ("0", "101", "6.5", "six", "²"):
        with pytest.raises(ValidationError):
            field.clean(text)


def test_a_figure_has_a_point_or_a_comma_before_its_decimals() -> None:
    field = FigureField(max_digits=9, decimal_places=1, required=False)
    assert [field.clean(text) for text in ("4012.5", "4012,5", " 60 ", "")] == [
        Decimal("4012.5"),
        Decimal("4012.5"),
        Decimal("60"),
        None,
    ]
    # Not guessed: the comma may have stood for thousands.
    for text in ("1,222", "1,222.5", "1.222,5", "hot", "1e5000", "NaN"):
        with pytest.raises(ValidationError):
            field.clean(text)


def test_words_are_kept_exactly_or_refused() -> None:
    field = WordsField(longest=10, label="Note")
    assert field.clean(" <b>&amp; ") == "<b>&amp;"
    for text in ("", "a\x00b", "a\nb", "x" * 11):
        with pytest.raises(ValidationError):
            field.clean(text)
