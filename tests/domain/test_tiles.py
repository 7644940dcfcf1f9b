"""Steps and weights of test tiles. Percentages over and above the base are common practice, no source."""

from decimal import Decimal

import pytest

from studio.domain.problems import DomainError
from studio.domain.tiles import blend_colour, plain, steps, weigh_addition, weigh_blend

D = Decimal


@pytest.mark.parametrize(
    ("first", "last", "count", "wanted"),
    [
        ("0", "8", 5, "0 2 4 6 8"),
        ("0", "100", 11, "0 10 20 30 40 50 60 70 80 90 100"),
        ("1", "2", 4, "1 1.33 1.67 2"),
        ("0.5", "3", 2, "0.5 3"),
    ],
)
def test_equal_steps(first, last, count, wanted):
    found = steps(first=D(first), last=D(last), count=count)
    assert [plain(step) for step in found] == wanted.split()


@pytest.mark.parametrize(
    ("first", "last", "count", "code"),
    [
        ("0", "8", 1, "steps"),
        ("0", "8", 13, "steps"),
        ("8", "8", 3, "percent"),
        ("-1", "8", 3, "percent"),
        ("0", "101", 3, "percent"),
        ("0", "NaN", 3, "percent"),
        ("0", "0.02", 5, "steps"),
    ],
)
def test_what_is_no_series(first, last, count, code):
    with pytest.raises(DomainError) as refused:
        steps(first=D(first), last=D(last), count=count)
    assert refused.value.code == code


def test_four_per_cent_in_200_g_of_base_is_8_g_on_top():
    mix = weigh_addition(dry_g=D(200), per_cent=D(4))
    assert (mix.base_g, mix.other_g) == (D("200.0"), D("8.0"))


@pytest.mark.parametrize("whole", ["100", "33.3", "7.5", "1"])
def test_a_blend_sums_to_the_whole_at_every_step(whole):
    for step in steps(first=D(0), last=D(100), count=12):
        mix = weigh_blend(dry_g=D(whole), per_cent=step)
        assert mix.base_g + mix.other_g == D(whole)
        assert abs(mix.other_g - D(whole) * step / 100) <= D("0.05")
    assert weigh_blend(dry_g=D(100), per_cent=D(100)).base_g == 0


def test_a_blend_is_drawn_from_one_colour_to_the_other():
    drawn = [blend_colour("#5a8052", "#44547e", D(step)) for step in (0, 25, 50, 75, 100)]
    assert drawn == ["#5a8052", "#55755d", "#4f6a68", "#4a5f73", "#44547e"]  # by hand, half up


def test_a_colour_nobody_said_leaves_the_other_one():
    assert blend_colour("", "#44547e", D(25)) == blend_colour("#44547e", "blue", D(25)) == "#44547e"
    assert blend_colour("", "", D(50)) == ""
