"""A film of printed paper for Chromium's fake camera: labels cut from the page as printed, held in a hand
that is not quite still, before a bench, with nothing in between."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pypdfium2
import zxingcpp
from PIL import Image, ImageFilter

DPI = 200
SIZE = (640, 480)
FRAMES_A_SECOND = 5
#: A code's width in the picture, in pixels, of the 90 that must be enough and more.
CODE_PX = 130


def labels_on(page: Any) -> dict[str, Image.Image]:
    """The printed page that is open, as paper: the text of each code, and the paper around that code."""
    paper = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True, print_background=True))
    found: dict[str, Image.Image] = {}
    for sheet in paper:
        seen = sheet.render(scale=DPI / 72).to_pil().convert("L")
        for code in zxingcpp.read_barcodes(seen):
            spots = [getattr(code.position, corner) for corner in ("top_left", "bottom_right")]
            (left, right), (top, bottom) = (sorted(spot.x for spot in spots), sorted(s.y for s in spots))
            around = 0.3 * (right - left)
            box = (left - around, top - around, right + around, bottom + around)
            cut = seen.crop(tuple(map(round, box)))
            part = CODE_PX / (right - left)
            found[code.text] = cut.resize((round(cut.width * part), round(cut.height * part)))
    return found


def make(path: Path, scenes: list[tuple[Image.Image | None, float]]) -> Path:
    """Write the scenes, (what is held or None, seconds), as a Y4M film; the camera shows it in a loop."""
    rng = random.Random(12)
    with path.open("wb") as film:
        film.write(f"YUV4MPEG2 W{SIZE[0]} H{SIZE[1]} F{FRAMES_A_SECOND}:1 Ip A1:1 C420jpeg\n".encode())
        grey = bytes([128]) * (SIZE[0] * SIZE[1] // 2)
        for held, seconds in scenes:
            for _ in range(round(seconds * FRAMES_A_SECOND)):
                film.write(b"FRAME\n" + _frame(held, rng).tobytes() + grey)
    return path


def _frame(held: Image.Image | None, rng: random.Random) -> Image.Image:
    frame = Image.effect_noise(SIZE, 18).point(lambda value: value * 3 // 5)
    if held is not None:
        turned = held.rotate(rng.uniform(-15, 15), Image.Resampling.BICUBIC, expand=True, fillcolor=235)
        x = (SIZE[0] - turned.width) // 2 + rng.randint(-25, 25)
        y = (SIZE[1] - turned.height) // 2 + rng.randint(-25, 25)
        frame.paste(turned, (x, y))
    return frame.filter(ImageFilter.GaussianBlur(0.6))
