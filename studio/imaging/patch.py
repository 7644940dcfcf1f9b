"""The colour of a spot in one of our own photos, and the spot itself as a small picture beside a name."""

from __future__ import annotations

import io
from statistics import median

from PIL import Image

from .svg_text import words

#: Side of the spot, as a part of the shorter side of the photo.
PART = 0.12
_MOST_PX = 48


def colour_at(jpeg: bytes, *, x: float, y: float) -> str:
    """The median colour round a point, as ``#rrggbb``; a highlight or a speck does not move it far.

    ``jpeg`` was encoded by us. ``x`` and ``y`` are parts of the width and height, kept within the picture.
    """
    with Image.open(io.BytesIO(jpeg)) as picture:
        spot = picture.convert("RGB").crop(_box(picture.width, picture.height, x, y))
    spot.thumbnail((_MOST_PX, _MOST_PX))
    data = spot.tobytes()
    red, green, blue = (round(median(data[channel::3])) for channel in range(3))
    return f"#{red:02x}{green:02x}{blue:02x}"


def _box(width: int, height: int, x: float, y: float) -> tuple[int, int, int, int]:
    side = max(4, round(min(width, height) * PART))
    left = min(max(round(width * x - side / 2), 0), max(width - side, 0))
    top = min(max(round(height * y - side / 2), 0), max(height - side, 0))
    return left, top, min(left + side, width), min(top + side, height)


def spot_picture(*, url: str, width_px: int, height_px: int, x: float, y: float, label: str) -> str:
    """The spot of a photo, a little wider than its colour was taken from, as SVG that any size fits."""
    left, top, right, _ = _box(width_px, height_px, x, y)
    wide = (right - left) * 2
    box_left = min(max(left - wide / 4, 0), max(width_px - wide, 0))
    box_top = min(max(top - wide / 4, 0), max(height_px - wide, 0))
    return (
        f'<svg class="tile" viewBox="{box_left:g} {box_top:g} {wide} {wide}" width="44" height="44" '
        f'role="img" aria-label="{words(label)}"><image href="{words(url)}" width="{width_px}" '
        f'height="{height_px}" preserveAspectRatio="none"/></svg>'
    )
