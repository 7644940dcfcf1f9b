"""How sums are written, tax within a price, and weights: in whole units, against decimal arithmetic."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from random import Random

import pytest

from studio.domain.csv_cells import is_unsafe, words
from studio.domain.money_words import STYLES, money_words, plain
from studio.domain.problems import DomainError
from studio.domain.taxes import by_weight, kilograms, tax_within


# Digits by ISO 4217: JPY 0, GBP and EUR 2, KWD and TND 3. Signs and separators as in the Unicode CLDR's
# locales en-GB, de-DE, fr-FR, de-CH (from memory).
@pytest.mark.parametrize(
    ("amount", "sign", "digits", "style", "after", "expected"),
    [
        (333, "£", 2, "point", False, "£3.33"),
        (-333, "£", 2, "point", False, "−£3.33"),
        (5, "£", 2, "point", False, "£0.05"),
        (0, "£", 2, "point", False, "£0.00"),
        (123456789, "£", 2, "point", False, "£1,234,567.89"),
        (123456, "€", 2, "comma", True, "1.234,56\u00a0€"),
        (123456, "€", 2, "space", True, "1\u00a0234,56\u00a0€"),
        (123456, "CHF", 2, "swiss", False, "CHF\u00a01’234.56"),
        (12345, "¥", 0, "point", False, "¥12,345"),
        (12345, "KD", 3, "point", False, "KD\u00a012.345"),
        (-1, "DT", 3, "comma", True, "−0,001\u00a0DT"),
    ],
)
def test_sums_in_the_studios_own_way(
    amount: int, sign: str, digits: int, style: str, after: bool, expected: str
) -> None:
    assert money_words(amount, sign=sign, digits=digits, style=style, sign_after=after) == expected


def test_sums_for_programs_are_exact_decimals() -> None:
    random = Random(3)
    for digits in (0, 2, 3):
        for _ in range(300):
            amount = random.randint(-(10**12), 10**12)
            assert Decimal(plain(amount, digits=digits)) == Decimal(amount).scaleb(-digits)
    assert set(STYLES) == {"point", "comma", "space", "swiss"}


@pytest.mark.parametrize("bad", [3.33, 3.0, Decimal(3), True, "3", None])
def test_what_is_no_whole_number_of_coins_is_refused(bad: object) -> None:
    for act in (
        lambda: money_words(bad, sign="£", digits=2),
        lambda: plain(bad, digits=2),
        lambda: tax_within(bad, Decimal(20)),
        lambda: by_weight(1000, bad),
    ):
        with pytest.raises(DomainError):
            act()
    with pytest.raises(DomainError):
        tax_within(100, 20.0)


# 120.00 at 20 % holds 20.00, 107.00 at 7 % holds 7.00: the tax fraction rate ÷ (100 + rate) of a price that
# includes VAT (HMRC, VAT guide, notice 700, from memory: 1/6 at 20 %, 1/21 at 5 %).
@pytest.mark.parametrize(
    ("amount", "percent", "tax"),
    [
        *((12000, "20", 2000), (10700, "7", 700), (6, "20", 1), (21, "5", 1), (2100, "5", 100)),
        *((0, "20", 0), (1450, "0", 0), (-12000, "20", -2000), (3, "20", 1), (2, "20", 0), (100, "100", 50)),
    ],
)
def test_tax_is_taken_out_of_the_price(amount: int, percent: str, tax: int) -> None:
    assert tax_within(amount, Decimal(percent)) == tax


def test_tax_and_weights_against_decimal_arithmetic() -> None:
    random = Random(8)
    for _ in range(2000):
        amount, percent = random.randint(0, 10**9), Decimal(random.randint(0, 100_000)).scaleb(-3)
        exact = Decimal(amount) * percent / (100 + percent)
        assert tax_within(amount, percent) == int(exact.quantize(Decimal(1), ROUND_HALF_UP))
        assert tax_within(-amount, percent) == -tax_within(amount, percent)
        grams, price = random.randint(0, 10**6), random.randint(0, 10**5)
        weighed = Decimal(grams) * price / 1000
        assert by_weight(grams, price) == int(weighed.quantize(Decimal(1), ROUND_HALF_UP))


@pytest.mark.parametrize(
    ("grams", "expected"),
    [(12500, "12.5"), (1000, "1"), (1, "0.001"), (0, "0"), (10000, "10"), (2050, "2.05")],
)
def test_grams_as_kilograms(grams: int, expected: str) -> None:
    assert kilograms(grams) == expected


@pytest.mark.parametrize("text", ["Clay", "1234.5", "-1.50", "", "£5", "O'Neill", "#1", "Ł"])
def test_plain_words_and_figures_are_left_alone(text: str) -> None:
    assert not is_unsafe(text)
    assert words(text) == (f"'{text}" if text == "-1.50" else text)
