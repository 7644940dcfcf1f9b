"""The colour of a spot in a photo: a plain field, two halves, a highlight that must not count, the edges."""

import io
import re

import pytest
from PIL import Image, ImageDraw

from studio.imaging.patch import colour_at, spot_picture


def picture(left="#7a4c28", right="#203c78", highlight=False):
    image = Image.new("RGB", (400, 300), left)
    draw = ImageDraw.Draw(image)
    draw.rectangle((200, 0, 399, 299), fill=right)
    if highlight:
        draw.ellipse((92, 142, 104, 154), fill="#ffffff")
    out = io.BytesIO()
    image.save(out, "JPEG", quality=92)
    return out.getvalue()


def apart(found, wanted):
    pairs = zip(re.findall("..", found[1:]), re.findall("..", wanted[1:]), strict=True)
    return max(abs(int(a, 16) - int(b, 16)) for a, b in pairs)


@pytest.mark.parametrize(
    ("x", "y", "wanted"),
    [
        (0.25, 0.5, "#7a4c28"),
        (0.75, 0.5, "#203c78"),
        (0, 0, "#7a4c28"),
        (1, 1, "#203c78"),
        (9, -3, "#203c78"),
    ],
)
def test_the_colour_round_the_spot(x, y, wanted):
    assert apart(colour_at(picture(), x=x, y=y), wanted) <= 4


def test_a_highlight_does_not_count():
    assert apart(colour_at(picture(highlight=True), x=0.245, y=0.493), "#7a4c28") <= 6


def test_the_spot_stays_within_the_photo():
    for x, y in ((0, 0), (0.5, 0.5), (1, 1)):
        drawn = spot_picture(url='/photos/"x".jpg', width_px=400, height_px=300, x=x, y=y, label="<Chalk>")
        left, top, wide, high = map(float, re.search(r'viewBox="([^"]+)"', drawn)[1].split())
        assert left >= 0
        assert top >= 0
        assert left + wide <= 400
        assert top + high <= 300
        assert "<Chalk>" not in drawn
        assert '"x"' not in drawn
