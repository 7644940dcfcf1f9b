"""Printed codes read by an independent decoder (zxing-cpp): small, blurred and turned, as phones see them."""

import io
import random

import pytest
import zxingcpp
from PIL import Image, ImageFilter

from studio.domain.problems import DomainError
from studio.imaging import qr

EVERYDAY, FULL = 200, 1000
_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


def address(rng: random.Random) -> str:
    host = rng.choice(["HTTP://127.0.0.1:8000", "HTTPS://CLAY.EXAMPLE", "HTTPS://POTS.QUILLMERE.EXAMPLE"])
    return f"{host}/Q/{''.join(rng.choices(_LETTERS, k=12))}"


def seen(text: str, rng: random.Random, *, side_px: int = 90) -> Image.Image:
    """The code as a camera has it: ``side_px`` from edge to edge of its modules, blurred and turned."""
    image = qr.qr_image(text, module_px=10)
    part = len(qr.modules(text)) / (len(qr.modules(text)) + 2 * qr.QUIET)
    turned = image.rotate(rng.uniform(-30, 30), Image.Resampling.BICUBIC, expand=True, fillcolor=255)
    whole = round(turned.width * side_px / (image.width * part))
    small = turned.resize((whole, whole), Image.Resampling.BOX)
    ground = Image.new("L", (whole + 60, whole + 60), 235)
    ground.paste(small, (30, 30))
    blurred = ground.filter(ImageFilter.GaussianBlur(rng.uniform(0.3, 0.9)))
    # Paper under a lamp is not white, and print is not black.
    return blurred.point(lambda value: 40 + value * 170 // 255)


def read_back(number: int) -> tuple[int, int]:
    """Of ``number`` codes: how many were read, and how many were read as something else."""
    rng = random.Random(31)
    read = wrong = 0
    for _ in range(number):
        text = address(rng)
        found = zxingcpp.read_barcodes(seen(text, rng), formats=zxingcpp.BarcodeFormat.QRCode)
        read += any(code.text == text for code in found)
        wrong += any(code.text != text for code in found)
    return read, wrong


def test_small_blurred_and_turned_codes_are_read():
    read, wrong = read_back(EVERYDAY)
    assert wrong == 0
    assert read >= 0.98 * EVERYDAY


@pytest.mark.full
def test_a_thousand_small_blurred_and_turned_codes():
    read, wrong = read_back(FULL)
    assert wrong == 0
    assert read >= 0.98 * FULL


def test_the_code_is_level_m_and_small():
    """ISO/IEC 18004, table 7 (from memory): version 2, 25 modules wide, holds 38 such characters at M."""
    text = "HTTP://127.0.0.1:8000/Q/ABCDEFGHJKMN"
    found = zxingcpp.read_barcodes(qr.qr_image(text))
    assert [code.text for code in found] == [text]
    assert found[0].ec_level == "M"
    assert len(text) == 36
    assert len(qr.modules(text)) == 25


def test_path_svg_and_png_hold_the_same_modules():
    text = "HTTPS://CLAY.EXAMPLE/Q/ABCDEFGHJKMN"
    path, size = qr.qr_path(text)
    drawn = [[False] * size for _ in range(size)]
    for part in path.split("z")[:-1]:
        corner, _, run = part[1:].partition("h")
        x, y = map(int, corner.split())
        for step in range(int(run.split("v")[0])):
            drawn[y][x + step] = True
    assert tuple(map(tuple, drawn)) == qr.modules(text)
    png = Image.open(io.BytesIO(qr.qr_png(text)))
    assert zxingcpp.read_barcodes(png.convert("L"))[0].text == text
    svg = qr.qr_svg(text, label='Code of "K7H" & more')
    assert "style=" not in svg
    assert "&quot;K7H&quot; &amp; more" in svg


@pytest.mark.parametrize("text", ["", "http://clay.example/q/abc", "HTTP://X/Ö", "A" * 91, "A\nB"])
def test_text_that_would_make_a_fine_code_is_refused(text):
    with pytest.raises(DomainError):
        qr.modules(text)
