"""Account numbers by their check digits, and the code for a euro transfer read back by another decoder."""

from __future__ import annotations

import re

import pytest
import zxingcpp
from PIL import Image, ImageDraw

from studio.domain.bank_account import clean_bic, clean_iban, grouped, transfer_code
from studio.domain.problems import DomainError
from studio.imaging.qr import transfer_modules

# The examples of SWIFT's IBAN registry (ISO 13616-2), from memory.
EXAMPLES = (
    *("DE89370400440532013000", "GB29NWBK60161331926819", "FR1420041010050500013M02606"),
    *("NL91ABNA0417164300", "BE68539007547034", "AT611904300234573201", "IE29AIBK93115212345678"),
    *("MT84MALT011000012345MTLCAST001S", "NO9386011117947", "CH9300762011623852957"),
)


@pytest.mark.parametrize("iban", EXAMPLES)
def test_examples_of_the_registry_are_taken_and_every_single_error_is_not(iban: str) -> None:
    assert clean_iban(grouped(iban).lower()) == iban
    for place in range(len(iban)):
        for other in "0123456789" if iban[place].isdigit() else "ABCXYZ":
            if other != iban[place]:
                with pytest.raises(DomainError):
                    clean_iban(iban[:place] + other + iban[place + 1 :])


@pytest.mark.parametrize(
    "bad", ["", "DE", "DE8937040044053201300", "1234", "DE89-3704", "DE89" + "0" * 31, "ÄÖ89"]
)
def test_what_is_no_iban_is_refused(bad: str) -> None:
    with pytest.raises(DomainError):
        clean_iban(bad)


def test_a_bic_has_eight_or_eleven_characters() -> None:
    assert clean_bic("MARKDEFF") == "MARKDEFF"
    assert clean_bic("markdeffxxx") == "MARKDEFFXXX"
    assert clean_bic("") == ""
    for bad in ("MARKDEF", "MARKDEFFXX", "1234DEFF", "MARK12FF"):
        with pytest.raises(DomainError):
            clean_bic(bad)


def seen(text: str) -> zxingcpp.Barcode:
    """The code drawn with its quiet zone and read by zxing-cpp, which shares no code with what drew it."""
    modules = transfer_modules(text)
    side, step = len(modules) + 8, 4
    image = Image.new("L", (side * step, side * step), 255)
    pen = ImageDraw.Draw(image)
    for y, row in enumerate(modules):
        for x, dark in enumerate(row):
            if dark:
                left, top = (x + 4) * step, (y + 4) * step
                pen.rectangle((left, top, left + step - 1, top + step - 1), fill=0)
    [found] = zxingcpp.read_barcodes(image)
    return found


def check_guideline(text: str) -> list[str]:
    """EPC069-12, version 2.1, section 3.1: the elements, their order, form and length."""
    lines = text.split("\n")
    assert 7 <= len(lines) <= 12
    assert lines[-1], "nothing after the last element that is given"
    assert lines[:4] == ["BCD", "002", "1", "SCT"]
    assert re.fullmatch(r"([A-Z]{6}[A-Z0-9]{2}([A-Z0-9]{3})?)?", lines[4])
    assert 1 <= len(lines[5]) <= 70
    assert re.fullmatch(r"[A-Z]{2}\d{2}[A-Z0-9]{1,30}", lines[6])
    assert re.fullmatch(r"EUR(?!0\.00)\d{1,9}\.\d{2}", lines[7])
    if len(lines) > 8:
        assert len(lines[8]) <= 4
        assert not (lines[9] and lines[10]), "a reference in one form alone"
        assert len(lines[9]) <= 35
        assert len(lines[10]) <= 140
    assert len(text.encode("utf-8")) <= 331
    return lines


@pytest.mark.parametrize(
    ("name", "bic", "amount", "reference"),
    [
        ("Quillmere Clay Room", "", 854, "Statement 12"),
        ("Töpferei Łódź Ő", "MARKDEFF", 1, "Statement 1"),
        ("N" * 70, "MARKDEFFXXX", 99_999_999_999, "R" * 140),
        ("Quillmere Clay Room", "", 100, ""),
    ],
)
def test_the_code_is_read_back_as_the_guideline_wants_it(
    name: str, bic: str, amount: int, reference: str
) -> None:
    text = transfer_code(
        name=name, iban="DE89 3704 0044 0532 0130 00", bic=bic, amount_minor=amount, reference=reference
    )
    lines = check_guideline(text)
    assert lines[4:8] == [
        bic,
        name,
        "DE89370400440532013000",
        f"EUR{amount // 100}.{amount % 100:02d}",
    ]
    code = seen(text)
    assert code.bytes.decode("utf-8") == text
    assert code.ec_level == "M"
    assert (len(transfer_modules(text)) - 17) // 4 <= 13, "the largest symbol is version 13"


@pytest.mark.parametrize(
    "values",
    [
        *({"amount_minor": 0}, {"amount_minor": -5}, {"amount_minor": 1.5}, {"amount_minor": 10**11}),
        *({"name": ""}, {"name": "N" * 71}, {"reference": "R" * 141}, {"iban": "DE00370400440532013000"}),
        *({"bic": "X"}, {"name": "Ő" * 70, "reference": "Ő" * 140}),
    ],
)
def test_what_no_bank_would_take_makes_no_code(values: dict[str, object]) -> None:
    good = {"name": "Quillmere", "iban": "DE89370400440532013000", "amount_minor": 100, "reference": "12"}
    with pytest.raises(DomainError):
        transfer_code(**{**good, **values})
