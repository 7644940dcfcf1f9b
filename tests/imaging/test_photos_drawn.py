"""Photos drawn by code: every form at every stage, the same again from the same numbers, quick."""

import io
import time
from random import Random

import pytest
from PIL import Image

from studio.domain.stages import Stage
from studio.imaging.photos_drawn import drawn_photo
from studio.imaging.profiles import FORMS

MIDDLE = (600, 640)


def photo(**pot) -> Image.Image:
    given = {"form": "mug", "width_mm": 120, "height_mm": 95, "stage": "ready", "random": Random(3), **pot}
    return Image.open(io.BytesIO(drawn_photo(**given)))


def tone(picture: Image.Image) -> tuple[float, ...]:
    """The mean colour of the pot's middle."""
    part = picture.crop((540, 600, 660, 680))
    return part.resize((1, 1), Image.Resampling.BOX).getpixel((0, 0))


@pytest.mark.parametrize("form", [*FORMS, "something else"])
def test_every_form_is_drawn(form):
    for width, height in ((90, 60), (300, 30), (40, 400), (5, 5)):
        assert photo(form=form, width_mm=width, height_mm=height, colour="#35445c").size == (1200, 900)


def test_the_same_numbers_give_the_same_picture():
    one, two, other = (
        drawn_photo(
            form="jug", width_mm=160, height_mm=170, stage="glazed", random=Random(seed), colour="#35445c"
        )
        for seed in (5, 5, 6)
    )
    assert one == two
    assert one != other


@pytest.mark.parametrize("stage", list(Stage))
def test_every_stage_is_drawn(stage):
    assert photo(stage=stage, colour="#35445c").format == "JPEG"


def test_clay_pales_as_it_dries_and_glaze_is_chalky_until_it_is_fired():
    wet, leather, dry, raw, fired = (
        sum(tone(photo(stage=stage, colour="#35445c"))[:3])
        for stage in ("wet", "leather-hard", "bone-dry", "glazed", "ready")
    )
    assert wet < leather < dry
    assert raw > fired + 120
    red, _, blue = tone(photo(stage="bisqued", colour="#35445c"))
    assert red > blue + 15


def test_the_glaze_has_its_colour():
    red, green, blue = tone(photo(colour="#2b4a8c"))
    assert blue > red + 30
    red, green, blue = tone(photo(colour="#4e7a44"))
    assert green > red + 10
    assert green > blue + 10


def test_hundreds_can_be_drawn_for_a_demo():
    """Processor time, so that a busy machine does not matter: a tenth of a second a picture at the most."""
    start = time.process_time()
    for seed in range(10):
        photo(random=Random(seed), form="jug", width_mm=160, height_mm=170, colour="#35445c")
    assert (time.process_time() - start) / 10 < 0.1
