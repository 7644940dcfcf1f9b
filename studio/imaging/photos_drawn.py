"""Pictures of pots that look like photos, for the demo. The same random numbers give the same picture."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from itertools import pairwise
from random import Random

from PIL import Image, ImageChops, ImageDraw

from .photo_scene import SHADE, Colour, add_grain, background, bezier, mixed, rgb, rod, soft_mask
from .profiles import Form, form_of, sampled

#: How clay looks on its way, as (towards this colour, how far): common practice, judged by eye.
_CLAY_AT: dict[str, tuple[str, float]] = {
    "wet": ("#5a4e44", 0.72),
    "leather-hard": ("#84766a", 0.62),
    "bone-dry": ("#d4ccc0", 0.62),
    "bisque": ("#e6c5ae", 0.6),
    "fired": ("#a98d72", 0.25),
}
_STAGES = {
    "bisque-firing": "bone-dry",
    "bisqued": "bisque",
    "glazed": "glazed",
    "glaze-firing": "glazed",
    "low-firing": "fired",
    "finishing": "fired",
    "ready": "fired",
    "collected": "fired",
}
#: Raw glaze is a chalky powder whatever it will melt to.
_CHALK, _CHALK_PART = "#dcd8d3", 0.74


@dataclass(frozen=True, slots=True)
class _Pot:
    """Where the pot is in the picture (px): middle, rim, foot, half width; ``lean`` flattens circles."""

    form: Form
    x: float
    rim: float
    foot: float
    half: float
    lean: float

    def half_at(self, y: float) -> float:
        part = (y - self.rim) / max(self.foot - self.rim, 1) * 100
        points = sampled(self.form.profile, 6)
        for (x1, y1), (x2, y2) in pairwise(points):
            if y2 <= part <= y1 and y1 != y2:
                return (x1 + (x2 - x1) * (part - y1) / (y2 - y1) - 50) / 50 * self.half
        return ((points[0][0] if part >= 100 else points[-1][0]) - 50) / 50 * self.half

    def outline(self) -> list[tuple[float, float]]:
        """The body with its round foot and rim, as seen from a little above."""
        points = sampled(self.form.profile, 8)
        tall = self.foot - self.rim
        side = [((x - 50) / 50 * self.half, self.rim + y / 100 * tall) for x, y in points]
        right = [(self.x + dx, y) for dx, y in side]
        left = [(self.x - dx, y) for dx, y in reversed(side)]
        return right + left


def drawn_photo(
    *,
    form: str,
    width_mm: float,
    height_mm: float,
    stage: str,
    random: Random,
    colour: str | None = None,
    inside_colour: str | None = None,
    clay_colour: str = "#b39272",
    width_px: int = 1200,
    height_px: int = 900,
) -> bytes:
    """A JPEG of one pot on a board in the studio.

    ``stage`` is a stage of the domain ('wet' to 'collected'); ``colour`` and ``inside_colour`` are the glaze
    as fired, None for bare clay; ``clay_colour`` is the fired clay.
    """
    plain = _STAGES.get(str(stage), str(stage))
    if plain not in {*_CLAY_AT, "glazed"}:
        plain = "fired"
    size = (width_px, height_px)
    picture, board = background(size, random)
    pot = _placed(form, width_mm, height_mm, size, board, random)
    _shadow(picture, pot)
    clay = mixed(clay_colour, *_CLAY_AT["bisque" if plain == "glazed" else plain])
    glaze = _glaze(colour, plain)
    inside = _glaze(inside_colour or colour, plain) or clay
    gloss = {"wet": 0.35, "fired": 0.75 if colour else 0.12}.get(plain, 0.05)
    if pot.form.handle:
        _handle(picture, pot, glaze or clay)
    left, top = int(pot.x - pot.half * 1.05) - 6, int(pot.rim - pot.half * 0.3) - 6
    near = (int(pot.half * 2.1) + 12, int(pot.foot - pot.rim + pot.half * 0.6) + 12)
    here = replace(pot, x=pot.x - left, rim=pot.rim - top, foot=pot.foot - top)
    mask = _mask(near, here)
    picture.paste(_body(near, here, clay, glaze, random, plain), (left, top), mask)
    if pot.form.spout:
        _spout(picture, pot, glaze or clay)
    if pot.form.lid:
        _lid(picture, pot, glaze or clay)
    elif pot.form.hollow:
        _opening(picture, pot, inside, glaze or clay)
    if gloss > 0.1:
        light = ImageChops.multiply(_window(near, here, gloss), mask)
        picture.paste((255, 255, 252), (left, top), light)
    add_grain(picture, random)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=86)
    return out.getvalue()


def _glaze(colour: str | None, stage: str) -> Colour | None:
    """The glaze as it looks at this stage, None before it is on."""
    if not colour or stage not in {"glazed", "fired"}:
        return None
    return mixed(colour, _CHALK, _CHALK_PART) if stage == "glazed" else rgb(colour)


def _placed(
    form: str, width_mm: float, height_mm: float, size: tuple[int, int], board: int, random: Random
) -> _Pot:
    width, height = size
    drawn = form_of(form)
    body_mm = width_mm * (0.77 if drawn.handle else 1)
    # Small things are photographed from nearer, but a cup still looks smaller than a crock.
    nearness = height * 0.6 / (max(width_mm, height_mm) ** 0.55 * 10)
    unit = min(width * 0.6 / width_mm, height * 0.62 / height_mm, nearness)
    half = body_mm * unit / 2
    foot = round(height * random.uniform(0.83, 0.87))
    tall = max(height_mm * unit, 14) * (1 - drawn.lid)
    x = width * random.uniform(0.46, 0.54) - (width_mm - body_mm) * unit / 2
    return _Pot(drawn, x, foot - tall, foot, half, random.uniform(0.13, 0.17))


def _shadow(picture: Image.Image, pot: _Pot) -> None:
    foot = pot.half_at(pot.foot)

    def shape(draw: ImageDraw.ImageDraw, part: float) -> None:
        wide, flat = max(foot, pot.half * 0.8) * 1.3, pot.half * 0.17
        box = (pot.x - wide, pot.foot - flat, pot.x + wide * 1.25, pot.foot + flat * 1.1)
        draw.ellipse([value * part for value in box], fill=150)
        box = (pot.x - foot, pot.foot - flat * 0.6, pot.x + foot, pot.foot + flat * 0.7)
        draw.ellipse([value * part for value in box], fill=235)

    picture.paste((28, 22, 16), (0, 0), soft_mask(picture.size, shape, 22))


def _mask(size: tuple[int, int], pot: _Pot) -> Image.Image:
    """The body's shape with smooth edges: its outline, the round of its foot and of its rim."""
    mask = Image.new("L", (size[0] * 2, size[1] * 2), 0)
    draw = ImageDraw.Draw(mask)
    draw.polygon([(x * 2, y * 2) for x, y in pot.outline()], fill=255)
    if pot.form.hollow or pot.form.rills:
        for y in (pot.foot, pot.rim) if pot.form.hollow else (pot.foot,):
            half = pot.half_at(y)
            flat = half * pot.lean
            draw.ellipse([v * 2 for v in (pot.x - half, y - flat, pot.x + half, y + flat)], fill=255)
    return mask.resize(size, Image.Resampling.BOX)


def _shading(size: tuple[int, int], pot: _Pot) -> Image.Image:
    """The strip of light stretched to the pot's width at every height."""
    bands = 40
    top, bottom = pot.rim - pot.half * 0.3, pot.foot + pot.half * 0.3
    mesh = []
    for band in range(bands):
        y0 = round(top + (bottom - top) * band / bands)
        y1 = round(top + (bottom - top) * (band + 1) / bands)
        corners = []
        for y in (y0, y1):
            half = max(pot.half_at(min(max(y, pot.rim), pot.foot)), 2)
            corners.append(
                ((0 - (pot.x - half)) / (2 * half) * 256, (size[0] - (pot.x - half)) / (2 * half) * 256)
            )
        (a0, a1), (b0, b1) = corners
        mesh.append(((0, y0, size[0], y1), (a0, 1, b0, 3, b1, 3, a1, 1)))
    return SHADE.transform(size, Image.Transform.MESH, mesh, Image.Resampling.BILINEAR)


def _body(
    size: tuple[int, int], pot: _Pot, clay: Colour, glaze: Colour | None, random: Random, stage: str
) -> Image.Image:
    body = Image.new("RGB", size, clay)
    draw = ImageDraw.Draw(body)
    tall = pot.foot - pot.rim
    if glaze:
        line = pot.foot - tall * (0.1 if pot.form.hollow else 0.06)
        points, x = [(0, 0), (size[0], 0), (size[0], line)], float(size[0])
        while x > 0:
            x -= random.uniform(12, 34)
            sag = 1 - ((x - pot.x) / max(pot.half, 1)) ** 2
            points.append((x, line + max(sag, 0) * pot.half * pot.lean + random.uniform(-5, 5)))
        points.append((0, line))
        draw.polygon(points, fill=glaze)
        for step in range(3):
            draw.line(
                points[2:], fill=mixed(glaze, clay, 0.35 + 0.15 * step), width=5 - 2 * step, joint="curve"
            )
    tone = mixed(glaze or clay, "#000000", 0.2)
    if pot.form.rills:
        count = max(int(tall / 42), 2)
        for step in range(1, count + 1):
            y = pot.rim + tall * step / (count + 1) + random.uniform(-4, 4)
            half = pot.half_at(y) * 1.02
            flat = half * pot.lean
            box = (pot.x - half, y - flat, pot.x + half, y + flat)
            draw.arc(box, 0, 180, fill=tone, width=2)
            draw.arc(
                (box[0], box[1] + 3, box[2], box[3] + 3),
                0,
                180,
                fill=mixed(glaze or clay, "#ffffff", 0.14),
                width=2,
            )
    for _ in range(random.randint(20, 70) if stage != "wet" else 12):
        x, y = pot.x + random.uniform(-1, 1) * pot.half, random.uniform(pot.rim, pot.foot)
        r = random.uniform(0.6, 2.2)
        draw.ellipse(
            (x - r, y - r, x + r, y + r), fill=mixed(glaze or clay, "#2a1c12", random.uniform(0.2, 0.55))
        )
    if glaze and stage == "fired" and pot.form.hollow:
        # Glaze breaks thin and pale over the rim.
        half = pot.half_at(pot.rim)
        box = (pot.x - half, pot.rim - half * pot.lean, pot.x + half, pot.rim + half * pot.lean + 10)
        draw.arc(box, 0, 180, fill=mixed(glaze, "#e8d9b8", 0.4), width=9)
    shade = _shading(size, pot)
    if not pot.form.rills:
        # Slabs and figures are flatter than anything from the wheel.
        shade = shade.point(lambda value: 124 + (value - 128) * 2 // 5)
    grey = Image.merge("RGB", (shade, shade, shade))
    return ImageChops.overlay(body, grey)


def _opening(picture: Image.Image, pot: _Pot, inside: Colour, lip: Colour) -> None:
    """The mouth of the pot: its rim, and the dark of its inside, lighter at the far wall."""
    half = pot.half_at(pot.rim)
    flat = half * pot.lean
    if half < 4:
        return
    scale = 2
    box = [pot.x - half, pot.rim - flat, pot.x + half, pot.rim + flat]
    left, top = int(box[0]) - 4, int(box[1]) - 4
    size = (int(2 * half) + 8, int(2 * flat) + 8)
    layer = Image.new("RGBA", (size[0] * scale, size[1] * scale), (0, 0, 0, 0))
    draw = ImageDraw.Draw(layer)

    def ring(shrink: float, fill: Colour, drop: float = 0.0) -> None:
        x0, y0 = (box[0] - left + shrink) * scale, (box[1] - top + shrink * pot.lean + drop) * scale
        x1, y1 = (box[2] - left - shrink) * scale, (box[3] - top - shrink * pot.lean + drop) * scale
        if x1 > x0 and y1 > y0:
            draw.ellipse((x0, y0, x1, y1), fill=(*fill, 255))

    ring(0, mixed(lip, "#ffffff", 0.3))
    wall = max(half * 0.05, 4)
    # Light falls further into a wide bowl than into a jug.
    deep = min(max((pot.foot - pot.rim) / (2 * half), 0.12), 0.6)
    for step in range(6):
        ring(
            wall + half * 0.05 * step,
            mixed(inside, "#000000", deep * (0.5 + 0.14 * step)),
            flat * 0.05 * step,
        )
    small = layer.resize(size, Image.Resampling.BOX)
    picture.paste(small, (left, top), small)


def _handle(picture: Image.Image, pot: _Pot, colour: Colour) -> None:
    tall = pot.foot - pot.rim
    start_y, end_y = pot.rim + tall * 0.2, pot.rim + tall * 0.74
    start = (pot.x + pot.half_at(start_y) - 8, start_y)
    end = (pot.x + pot.half_at(end_y) - 8, end_y)
    reach = pot.half * 0.85
    out = max(start[0], end[0]) + reach
    points = bezier(start, (out, start_y - tall * 0.1), (out, end_y + tall * 0.12), end)
    rod(picture, points, max(pot.half * 0.19, 8), mixed(colour, "#000000", 0.08))


def _spout(picture: Image.Image, pot: _Pot, colour: Colour) -> None:
    half = pot.half_at(pot.rim)
    flat = half * pot.lean
    tall = pot.foot - pot.rim
    tip = (pot.x - half * 1.42, pot.rim - flat * 0.5)
    points = [
        (pot.x - half * 0.72, pot.rim - flat * 0.6),
        tip,
        *bezier(
            tip,
            (pot.x - half * 1.15, pot.rim + tall * 0.06),
            (pot.x - half, pot.rim + tall * 0.1),
            (pot.x - half * 0.86, pot.rim + tall * 0.2),
        ),
        (pot.x - half * 0.5, pot.rim + flat * 0.5),
    ]
    draw = ImageDraw.Draw(picture)
    draw.polygon(points, fill=mixed(colour, "#000000", 0.18))
    draw.line(points[:2], fill=mixed(colour, "#ffffff", 0.3), width=5)


def _lid(picture: Image.Image, pot: _Pot, colour: Colour) -> None:
    """A domed lid with a knob, shaded in steps from left to right."""
    half = pot.half_at(pot.rim) * 1.04
    tall = (pot.foot - pot.rim) * pot.form.lid / (1 - pot.form.lid)
    flat = half * pot.lean
    draw = ImageDraw.Draw(picture)
    steps = 28
    for step in range(steps):
        part = step / steps
        tone = 0.38 - 0.5 * part / 0.35 if part < 0.35 else -0.12 + 0.62 * (part - 0.35) / 0.65
        shade = mixed(colour, "#000000" if tone > 0 else "#ffffff", abs(tone))
        across = (0.5 - part) * 2
        # The edge of this strip runs up the dome; what lies right of it is drawn over by the next strips.
        points = []
        for up in (0, 0.12, 0.25, 0.4, 0.55, 0.7, 0.85, 1):
            reach = (1 - up**2.2) * half
            low = flat * (1 - across**2) ** 0.5 * (1 - up)
            points.append((pot.x - reach * across, pot.rim + low - tall * 0.62 * up))
        draw.polygon([*points, (pot.x, pot.rim - tall * 0.62), *_dome(pot, half, tall)], fill=shade)
    knob, high = max(half * 0.14, 7), tall * 0.42
    y = pot.rim - tall * 0.6
    draw.ellipse((pot.x - knob, y - high, pot.x + knob, y + knob * 0.5), fill=mixed(colour, "#000000", 0.22))
    draw.ellipse(
        (pot.x - knob * 0.75, y - high, pot.x + knob * 0.55, y - high * 0.25),
        fill=mixed(colour, "#ffffff", 0.16),
    )


def _dome(pot: _Pot, half: float, tall: float) -> list[tuple[float, float]]:
    """The right edge of a lid, from its top down."""
    return [
        (pot.x + (1 - up**2.2) * half, pot.rim - tall * 0.62 * up) for up in (1, 0.85, 0.7, 0.5, 0.3, 0.15, 0)
    ]


def _window(size: tuple[int, int], pot: _Pot, gloss: float) -> Image.Image:
    """Light from a window on a shiny surface, as a mask."""
    tall = pot.foot - pot.rim

    def shape(draw: ImageDraw.ImageDraw, part: float) -> None:
        x, y = pot.x - pot.half * 0.42, pot.rim + tall * 0.3
        wide, high = pot.half * 0.1, tall * 0.17
        box = (x - wide, y - high, x + wide, y + high)
        draw.ellipse([value * part for value in box], fill=round(255 * gloss))

    return soft_mask(size, shape, 12)
