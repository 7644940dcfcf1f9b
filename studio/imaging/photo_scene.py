"""Parts of drawn photos: colours, the wall and the board, soft shapes, rods of clay, unevenness."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from random import Random

from PIL import Image, ImageChops, ImageColor, ImageDraw, ImageFilter

Colour = tuple[int, int, int]
Point = tuple[float, float]


def rgb(value: str | Colour) -> Colour:
    """Red, green and blue, 0 to 255, of a hexadecimal colour."""
    return ImageColor.getrgb(value)[:3] if isinstance(value, str) else value


def mixed(one: str | Colour, other: str | Colour, part: float) -> Colour:
    """The first colour, ``part`` of the way towards the other."""
    a, b = rgb(one), rgb(other)
    return tuple(round(x + (y - x) * part) for x, y in zip(a, b, strict=True))


def gradient(size: tuple[int, int], first: Colour, last: Colour) -> Image.Image:
    """From the first colour at the top to the last at the bottom."""
    ramp = Image.linear_gradient("L").resize(size)
    return Image.composite(Image.new("RGB", size, last), Image.new("RGB", size, first), ramp)


def background(size: tuple[int, int], random: Random) -> tuple[Image.Image, int]:
    """A wall and a ware board; returns the picture and the height its top edge is at."""
    width, height = size
    wall = random.choice(
        [("#c9d1cf", "#aab5b3"), ("#d2cfc7", "#b1ada2"), ("#bcc5cb", "#98a3ab"), ("#cfc6ba", "#aba091")]
    )
    picture = gradient(size, rgb(wall[0]), rgb(wall[1]))
    draw = ImageDraw.Draw(picture)
    if random.random() < 0.4:
        # The boards of the shed.
        step = random.randint(width // 9, width // 6)
        for x in range(random.randint(0, step), width, step):
            draw.line((x, 0, x, height), fill=mixed(wall[1], "#000000", 0.22), width=3)
            draw.line((x + 3, 0, x + 3, height), fill=mixed(wall[0], "#ffffff", 0.3), width=2)
    top = round(height * random.uniform(0.62, 0.68))
    edge = round(height * 0.94)
    ply = random.choice(["#d3c29d", "#cbb88f", "#bfae93"])
    draw.rectangle((0, top, width, edge), fill=rgb(ply))
    for _ in range(26):
        y = random.randint(top + 3, edge)
        x = random.randint(-width // 3, width)
        tone = mixed(ply, random.choice(["#8d7648", "#f3e8cc"]), 0.28)
        draw.line(
            (x, y, x + random.randint(width // 6, width), y + random.randint(-2, 2)), fill=tone, width=2
        )
    draw.rectangle((0, top, width, top + height // 60), fill=mixed(ply, "#000000", 0.12))
    for step, tone in enumerate(("#efe3c6", "#a88c5f", "#dfcea9", "#a88c5f", "#dfcea9", "#8d7348")):
        y = edge + (height - edge) * step // 6
        draw.rectangle((0, y, width, height), fill=rgb(tone))
    return picture, top


def soft_mask(
    size: tuple[int, int], shape: Callable[[ImageDraw.ImageDraw, float], None], blur: float
) -> Image.Image:
    """A blurred mask, drawn at an eighth of its size: blurring is dear, and softness hides the steps."""
    small = Image.new("L", (size[0] // 8 + 1, size[1] // 8 + 1), 0)
    shape(ImageDraw.Draw(small), 1 / 8)
    return small.filter(ImageFilter.GaussianBlur(blur / 8)).resize(size, Image.Resampling.BILINEAR)


def rod(picture: Image.Image, points: list[Point], wide: float, colour: Colour) -> None:
    """A round rod along points: dark edge, its colour, a light along its upper side. Drawn twice as large."""
    left, top = int(min(x for x, _ in points) - wide), int(min(y for _, y in points) - wide)
    size = (int(max(x for x, _ in points) + wide) - left + 1, int(max(y for _, y in points) + wide) - top + 1)
    layer = Image.new("RGBA", (size[0] * 2, size[1] * 2), (*colour, 0))
    draw = ImageDraw.Draw(layer)
    for width, tone, shift in (
        (wide * 2, mixed(colour, "#000000", 0.42), 0.0),
        (wide * 1.5, colour, -wide * 0.06),
        (wide * 0.36, mixed(colour, "#ffffff", 0.28), -wide * 0.34),
    ):
        moved = [((x - left) * 2 + shift, (y - top) * 2 + shift) for x, y in points]
        draw.line(moved, fill=(*tone, 255), width=max(round(width), 1), joint="curve")
        for x, y in (moved[0], moved[-1]):
            draw.ellipse((x - width / 2, y - width / 2, x + width / 2, y + width / 2), fill=(*tone, 255))
    small = layer.resize(size, Image.Resampling.BOX)
    picture.paste(small, (left, top), small)


def bezier(a: Point, b: Point, c: Point, d: Point) -> list[Point]:
    """Points along a cubic curve from a to d."""
    found = []
    for step in range(25):
        t = step / 24
        u = 1 - t
        found.append(
            tuple(
                u**3 * a[axis] + 3 * u * u * t * b[axis] + 3 * u * t * t * c[axis] + t**3 * d[axis]
                for axis in (0, 1)
            )
        )
    return found


def add_grain(picture: Image.Image, random: Random) -> None:
    """A little unevenness, as every sensor has, from our own numbers: it can be made again."""
    small = Image.frombytes("L", (160, 120), random.randbytes(160 * 120)).resize(
        picture.size, Image.Resampling.BILINEAR
    )
    flat = small.point(lambda value: 128 + (value - 128) // 24)
    picture.paste(ImageChops.overlay(picture, Image.merge("RGB", (flat, flat, flat))))


def _shade_strip() -> Image.Image:
    """How light falls across something round, left to right; 128 leaves a colour as it is."""
    stops = ((0, 62), (20, 92), (55, 134), (85, 158), (120, 140), (180, 112), (225, 80), (255, 52))
    values = []
    for x in range(256):
        (x1, v1), (x2, v2) = next((a, b) for a, b in pairwise(stops) if a[0] <= x <= b[0])
        values.append(round(v1 + (v2 - v1) * (x - x1) / (x2 - x1)))
    strip = Image.new("L", (256, 1))
    strip.putdata(values)
    return strip.resize((256, 4))


#: Light across something round, 256 wide, to be stretched to a pot.
SHADE = _shade_strip()
