"""QR codes of short upper-case addresses at level M, which read best from afar."""

from __future__ import annotations

import io
import re
from functools import lru_cache

import qrcode
from PIL import Image
from qrcode.constants import ERROR_CORRECT_M

from studio.domain.problems import DomainError
from studio.domain.say import say

from .svg_text import words

#: Characters of the alphanumeric mode (ISO/IEC 18004): two to eleven bits, against eight bits for each other.
_ALPHANUMERIC = re.compile(r"[0-9A-Z $%*+\-./:]+")
#: Light modules around a code, as the standard asks.
QUIET = 4
_MOST_CHARACTERS = 90


@lru_cache(maxsize=512)
def modules(text: str) -> tuple[tuple[bool, ...], ...]:
    """The dark modules of the code, row by row, without the quiet zone.

    DomainError for text outside the alphanumeric mode or longer than 90 characters: it would make a code too
    fine to read on a small slip.
    """
    if not _ALPHANUMERIC.fullmatch(text):
        raise DomainError(
            say(
                "A printed code holds capitals, digits and $ % * + - . / : only. "
                "Write the address in capitals."
            )
        )
    if len(text) > _MOST_CHARACTERS:
        raise DomainError(
            say(
                "A printed code holds at most {most} characters. Give the site a shorter address.",
                most=_MOST_CHARACTERS,
            )
        )
    code = qrcode.QRCode(error_correction=ERROR_CORRECT_M, border=0)
    code.add_data(text, optimize=0)
    code.make(fit=True)
    return tuple(tuple(bool(dark) for dark in row) for row in code.get_matrix())


def qr_path(text: str) -> tuple[str, int]:
    """The whole code as one path in a box of side n modules, and n."""
    return _path_of(modules(text))


def _path_of(rows: tuple[tuple[bool, ...], ...]) -> tuple[str, int]:
    parts = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            if not row[x]:
                x += 1
                continue
            run = 1
            while x + run < len(row) and row[x + run]:
                run += 1
            parts.append(f"M{x} {y}h{run}v1h-{run}z")
            x += run
    return "".join(parts), len(rows)


def qr_svg(text: str, *, label: str = "", css: str = "qr") -> str:
    """The code as an SVG with its quiet zone; black on white in every scheme."""
    return _svg_of(*qr_path(text), label=label or say("QR code"), css=css)


def screen_svg(text: str, *, label: str, css: str = "qr") -> str:
    """The same for any text, as a phone reads it off a screen: too fine for a slip."""
    code = qrcode.QRCode(error_correction=ERROR_CORRECT_M, border=0)
    code.add_data(text.encode("utf-8"), optimize=0)
    code.make(fit=True)
    rows = tuple(tuple(bool(dark) for dark in row) for row in code.get_matrix())
    return _svg_of(*_path_of(rows), label=label, css=css)


def _svg_of(path: str, size: int, *, label: str, css: str) -> str:
    side = size + 2 * QUIET
    return (
        f'<svg class="{words(css)}" viewBox="-{QUIET} -{QUIET} {side} {side}" role="img" '
        f'aria-label="{words(label)}" shape-rendering="crispEdges">'
        f'<path fill="#fff" d="M-{QUIET}-{QUIET}h{side}v{side}h-{side}z"/>'
        f'<path fill="#000" d="{path}"/></svg>'
    )


def qr_image(text: str, module_px: int = 8) -> Image.Image:
    """The code as a picture with its quiet zone, ``module_px`` to a module."""
    rows = modules(text)
    side = len(rows) + 2 * QUIET
    image = Image.new("L", (side, side), 255)
    for y, row in enumerate(rows):
        for x, dark in enumerate(row):
            if dark:
                image.putpixel((x + QUIET, y + QUIET), 0)
    return image.resize((side * module_px, side * module_px), Image.Resampling.NEAREST)


def qr_png(text: str, module_px: int = 8) -> bytes:
    """The code as PNG bytes with its quiet zone."""
    out = io.BytesIO()
    qr_image(text, module_px).convert("1").save(out, "PNG", optimize=True)
    return out.getvalue()


#: EPC069-12 allows no larger symbol than version 13, and asks for error correction level M.
_TRANSFER_VERSION_MOST = 13


def transfer_modules(text: str) -> tuple[tuple[bool, ...], ...]:
    """The dark modules of a code for a bank transfer: UTF-8 bytes, level M, at most version 13."""
    code = qrcode.QRCode(error_correction=ERROR_CORRECT_M, border=0)
    code.add_data(text.encode("utf-8"), optimize=0)
    code.make(fit=True)
    if code.version > _TRANSFER_VERSION_MOST:
        raise DomainError(
            say("The code for a transfer would be too large. Shorten the name or the reference.")
        )
    return tuple(tuple(bool(dark) for dark in row) for row in code.get_matrix())
