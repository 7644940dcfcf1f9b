"""Storing a photo beside Pillow alone doing the same: upright, 2000 and 400 px, two JPEGs. Same run."""

from __future__ import annotations

import io
from random import Random

from PIL import Image, ImageOps

from studio.imaging.photos import store_ready

from .row import Row, in_words, seconds

GOAL = 1.2


def shot(width: int, height: int) -> bytes:
    """A JPEG as a phone takes them: soft shapes with a little grain, 12 megapixels or what is asked for."""
    random = Random(7)
    small = Image.frombytes("RGB", (64, 48), random.randbytes(64 * 48 * 3))
    grain = Image.effect_noise((width, height), 12).convert("RGB")
    picture = Image.blend(small.resize((width, height), Image.Resampling.BICUBIC), grain, 0.12)
    exif = Image.Exif()
    exif[0x0112] = 6
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=88, exif=exif)
    return out.getvalue()


def pillow_alone(data: bytes) -> tuple[bytes, bytes]:
    """The same two pictures in this process, without limits: what the work itself costs."""
    picture = ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("RGB")
    made = []
    for longest, quality in ((2000, 85), (400, 80)):
        picture.thumbnail((longest, longest), Image.Resampling.LANCZOS)
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=quality, optimize=True)
        made.append(out.getvalue())
    return made[0], made[1]


def rows() -> list[Row]:
    return [
        _row("12 megapixels, as a phone takes them", shot(4032, 3024), goal=True),
        _row("2000 px, shrunk on the phone first", shot(2000, 1500), goal=False),
    ]


def _row(what: str, data: bytes, *, goal: bool) -> Row:
    ours, alone = seconds(lambda: store_ready(data)), seconds(lambda: pillow_alone(data))
    ratio = ours / alone
    return Row(
        "photos",
        what,
        in_words(ours),
        f"{in_words(alone)} Pillow alone",
        ratio,
        f"at most {GOAL}" if goal else "told: one after another, each waits for its process",
        ratio <= GOAL if goal else None,
    )
