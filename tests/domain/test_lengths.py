"""Lengths typed and shown, held to the inch of 25.4 mm (ISO 80000-3; NIST SP 811, appendix B.6 and B.8)."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain.lengths import (
    Unit,
    exact_words,
    fine_words,
    inches,
    length_words,
    nearest_words,
    read_exact,
    read_length,
    typed,
    typed_exact,
    using,
)
from studio.domain.problems import DomainError

INCH = Fraction(254, 10)


@pytest.mark.parametrize(
    ("text", "bare", "mm"),
    [
        # NIST SP 811, B.8: 1 inch is 2.54 cm, 1 foot (12 inches) 30.48 cm, exactly; here to the millimetre.
        ("1", "in", 25),
        ("12", "in", 305),
        ("3 1/2", "in", 89),
        ("3½", "in", 89),
        ("3-1/2", "in", 89),
        ('3 1/2"', "cm", 89),
        ("3.5", "in", 89),
        ("3,5 in", "mm", 89),
        ("3 1/2 inches", "mm", 89),
        ("1/4", "in", 6),
        ("¼", "in", 6),
        ("5/16 in", "mm", 8),
        ("88 mm", "in", 88),
        ("88mm", "in", 88),
        ("8.8 cm", "in", 88),
        ("8,8", "cm", 88),
        ("0.5 m", "in", 500),
        ("-12", "mm", -12),
        ("−1/2", "in", -13),
        (" 7 ", "mm", 7),
    ],
)
def test_what_is_typed_is_understood(text: str, bare: str, mm: int) -> None:
    assert read_length(text, bare=bare) == mm


@pytest.mark.parametrize(
    "text", ["", "tall", "3 1/0", "1/2/3", "3 ft", "1e2", "NaN", "3..5", "5 5", "--1", "½½"]
)
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(DomainError):
        read_length(text, bare="in")


def test_every_sixteenth_up_to_five_feet_comes_back_as_itself() -> None:
    for parts in range(1, 60 * 16 + 1):
        exact = INCH * parts / 16
        whole, rest = divmod(Fraction(parts, 16), 1)
        words = " ".join(filter(None, [str(whole) if whole else "", str(rest) if rest else ""]))
        mm = read_length(words, bare="in")
        assert abs(mm - exact) <= Fraction(1, 2)
        assert inches(mm) == words
        assert typed(mm, metric="cm", unit=Unit.INCH) == words


@given(st.integers(1, 20_000), st.sampled_from(["cm", "mm"]), st.sampled_from(list(Unit)))
def test_a_length_shown_in_its_field_and_saved_again_does_not_creep(mm: int, metric: str, unit: Unit) -> None:
    assert read_length(typed(mm, metric=metric, unit=unit), bare=metric if unit is Unit.CM else "in") == mm


@given(st.integers(0, 20_000))
def test_inches_shown_are_the_nearest_sixteenth(mm: int) -> None:
    shown = sum(Fraction(part) for part in inches(mm).split())
    assert abs(shown * INCH - mm) <= INCH / 32


def test_lengths_in_words() -> None:
    assert [length_words(mm) for mm in (194, 90, 5, 0)] == ["19.4 cm", "9 cm", "0.5 cm", "0 cm"]
    assert [fine_words(mm) for mm in (6, 12.5, 40.0)] == ["6 mm", "12.5 mm", "40 mm"]
    with using("in"):
        assert [length_words(mm) for mm in (194, 89, 6, 0)] == ["7 5/8 in", "3 1/2 in", "1/4 in", "0 in"]
        assert fine_words(16) == "5/8 in"
    with using("furlong"):
        assert length_words(194) == "19.4 cm"


@pytest.mark.parametrize(
    ("text", "bare", "mm"),
    [
        ("87.5", "mm", "87.5"),
        ("87,55", "mm", "87.6"),
        ("8.75 cm", "mm", "87.5"),
        # NIST SP 811, B.8: 1 in is 25.4 mm; 4 1/8 in are 104.775 mm.
        ("4 1/8", "in", "104.8"),
        ("1/32", "in", "0.8"),
        ("4 in", "mm", "101.6"),
        ("100 mm", "in", "100.0"),
    ],
)
def test_what_is_read_off_callipers_is_kept_to_a_tenth_of_a_millimetre(text, bare, mm) -> None:
    assert read_exact(text, bare=bare) == Decimal(mm)


@given(st.integers(min_value=1, max_value=20_000), st.sampled_from(["cm", "in"]))
def test_an_exact_length_in_a_field_is_read_back_as_itself(tenths, unit) -> None:
    length = Decimal(tenths) / 10
    with using(unit):
        assert read_exact(typed_exact(length), bare="in" if unit == "in" else "mm") == length


def test_exact_lengths_and_those_a_ruler_shows_in_words() -> None:
    assert (exact_words(Decimal("87.50")), exact_words(88.04), nearest_words(102.27)) == (
        "87.5 mm",
        "88 mm",
        "102 mm",
    )
    with using("in"):
        # 87.5 / 25.4 = 3.4449; 102.27 / 25.4 = 4.0264, which is nearest to 4 0/16.
        assert (exact_words(Decimal("87.5")), nearest_words(102.27)) == ("3.44 in", "4 in")
        assert (typed_exact(Decimal("101.6")), typed_exact(Decimal("1.0"))) == ("4", "0.04")
