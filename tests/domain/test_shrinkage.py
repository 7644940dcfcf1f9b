"""Shrinkage and absorption against the forms of ASTM C326 and C373, and t against scipy."""

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from studio.domain import shrinkage
from studio.domain.problems import DomainError

percent = st.floats(0, 20)
size = st.floats(1, 1000)

# Wet, dry and fired length of a test bar: 100.0, 94.0, 88.0 mm. Forms of ASTM C326; identities for the rest.
BAR = (100.0, 94.0, 88.0)


def test_drying_total_and_firing_shrinkage():
    wet, dry, fired = BAR
    assert shrinkage.linear_percent(before_mm=wet, after_mm=dry) == pytest.approx(6.0, abs=1e-9)
    assert shrinkage.linear_percent(before_mm=wet, after_mm=fired) == pytest.approx(12.0, abs=1e-9)
    on_dry = shrinkage.linear_percent(before_mm=dry, after_mm=fired)
    assert on_dry == pytest.approx(600 / 94, abs=1e-9)
    assert round(on_dry, 3) == 6.383
    assert shrinkage.firing_percent(drying_percent=6, total_percent=12) == pytest.approx(on_dry, abs=1e-9)


def test_volume_shrinkage():
    assert shrinkage.volume_percent(linear_percent=12) == pytest.approx(31.8528, abs=1e-9)


def test_wet_size_divides_and_does_not_add():
    wanted = shrinkage.wet_size(size_mm=90, percent_to_stage=12)
    assert wanted == pytest.approx(102.2727, abs=1e-4)
    assert wanted != pytest.approx(100.8, abs=1)


def test_size_at_any_stage_from_any_other():
    percents = {"bone-dry": 6, "bisqued": 6.5, "fired": 12}
    assert shrinkage.size_at(
        size_mm=94, measured_at="bone-dry", wanted_at="fired", percents=percents
    ) == pytest.approx(88)
    assert shrinkage.size_at(
        size_mm=88, measured_at="fired", wanted_at="wet", percents=percents
    ) == pytest.approx(100)
    with pytest.raises(DomainError, match="no shrinkage figure for glazed"):
        shrinkage.size_at(size_mm=88, measured_at="fired", wanted_at="glazed", percents=percents)


@given(size, percent, percent)
def test_there_and_back_again(size, first, second):
    percents = {"a": first, "b": second}
    there = shrinkage.size_at(size_mm=size, measured_at="a", wanted_at="b", percents=percents)
    back = shrinkage.size_at(size_mm=there, measured_at="b", wanted_at="a", percents=percents)
    assert back == pytest.approx(size, rel=1e-9)


@given(size, percent)
def test_wet_size_and_linear_percent_are_inverse(size, percent):
    wet = shrinkage.wet_size(size_mm=size, percent_to_stage=percent)
    assert shrinkage.linear_percent(before_mm=wet, after_mm=size) == pytest.approx(percent, abs=1e-9)


@given(percent, percent)
def test_stages_multiply(drying, more):
    """What remains after drying times what remains after firing is what remains in all."""
    total = min(drying + more, 30)
    firing = shrinkage.firing_percent(drying_percent=drying, total_percent=total)
    assert (1 - drying / 100) * (1 - firing / 100) == pytest.approx(1 - total / 100)


def test_absorption_as_in_c373():
    """D = 100, S = 58, M = 103 g. Forms and symbols of ASTM C373."""
    body = shrinkage.absorption(dry_g=100.0, suspended_g=58.0, saturated_g=103.0)
    assert body.exterior_volume_cm3 == pytest.approx(45.0)
    assert body.absorption_percent == pytest.approx(3.0, abs=0.005)
    assert body.apparent_porosity_percent == pytest.approx(6.6667, abs=0.01)
    assert body.bulk_density == pytest.approx(2.22222, abs=1e-4)
    assert body.apparent_specific_gravity == pytest.approx(2.38095, abs=1e-4)


@given(st.floats(10, 500), st.floats(0.3, 0.7), st.floats(1, 1.3))
def test_porosity_is_absorption_times_density(dry, float_share, soaked):
    body = shrinkage.absorption(dry_g=dry, suspended_g=dry * float_share, saturated_g=dry * soaked)
    assert body.apparent_porosity_percent == pytest.approx(body.absorption_percent * body.bulk_density)


@pytest.mark.parametrize("freedom", [*range(1, 41), 60, 100, 1000])
def test_students_t(freedom):
    assert shrinkage.t_95(degrees_of_freedom=freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=6e-4)


def test_a_bodys_figure_from_pairs():
    pairs = [(100, 88.2), (100, 87.8), (200, 176.2), (150, 131.7)]
    figure = shrinkage.figure_from_pairs(pairs_mm=pairs)
    measured = [(w - f) / w * 100 for w, f in pairs]
    low, high = stats.t.interval(0.95, len(measured) - 1, loc=sum(measured) / 4, scale=stats.sem(measured))
    assert figure.percent == pytest.approx(sum(measured) / 4)
    assert (figure.low, figure.high) == pytest.approx((low, high), abs=1e-3)
    assert figure.piece_low < figure.low < figure.high < figure.piece_high
    assert (figure.pairs, figure.few) == (4, True)


def test_the_makers_word_counts_like_one_pair():
    assert shrinkage.figure_from_pairs(pairs_mm=[], stated_percent=12) == shrinkage.BodyFigure(12, 0)
    assert shrinkage.figure_from_pairs(pairs_mm=[(100, 87)], stated_percent=12).percent == pytest.approx(12.5)
    nine = shrinkage.figure_from_pairs(pairs_mm=[(100, 87)] * 9, stated_percent=12)
    assert nine.percent == pytest.approx(12.9)
    assert nine.low <= nine.percent <= nine.high


def test_the_interval_holds_95_in_100():
    """Of 400 bodies with known shrinkage, a 95 % interval misses 8 to 33 (binomial, 99.9 %)."""
    random = Random(5)
    missed = 0
    for _ in range(400):
        truth = random.uniform(8, 14)
        pairs = [(100, 100 - random.gauss(truth, 0.3)) for _ in range(random.randint(2, 12))]
        figure = shrinkage.figure_from_pairs(pairs_mm=pairs)
        missed += not figure.low <= truth <= figure.high
    assert 8 <= missed <= 33


@pytest.mark.parametrize(
    "ask",
    [
        lambda: shrinkage.linear_percent(before_mm=0, after_mm=1),
        lambda: shrinkage.linear_percent(before_mm=100, after_mm=-1),
        lambda: shrinkage.linear_percent(before_mm=float("nan"), after_mm=1),
        lambda: shrinkage.wet_size(size_mm=90, percent_to_stage=100),
        lambda: shrinkage.wet_size(size_mm=10_001, percent_to_stage=10),
        lambda: shrinkage.figure_from_pairs(pairs_mm=[]),
        lambda: shrinkage.figure_from_pairs(pairs_mm=[(100, 50)]),
        lambda: shrinkage.absorption(dry_g=100, suspended_g=100, saturated_g=103),
        lambda: shrinkage.absorption(dry_g=100, suspended_g=50, saturated_g=99),
        lambda: shrinkage.absorption(dry_g=0, suspended_g=-1, saturated_g=1),
        lambda: shrinkage.t_95(degrees_of_freedom=0),
    ],
)
def test_nonsense_is_refused(ask):
    with pytest.raises(DomainError):
        ask()


def test_a_lid_is_brought_to_the_fired_size_and_back():
    percents = {"bone-dry": 6, "bisqued": 6.5, "fired": 12}
    # By hand: a gallery of 100 mm wet fires to 88; less 1 mm all round the lid is 86, which is 97.727 wet.
    lid = shrinkage.lid_for(
        gallery_mm=100,
        gallery_at="wet",
        lid_at="wet",
        gap_mm=1,
        gallery_percents=percents,
        lid_percents=percents,
    )
    assert (lid.gallery_fired_mm, lid.lid_fired_mm) == (pytest.approx(88), pytest.approx(86))
    assert lid.lid_mm == pytest.approx(97.7273, abs=1e-4)


def test_a_lid_for_a_fired_pot_of_another_clay():
    # 88 mm fired, less twice 1.5 mm, of a body of 10 %: 85 / 0.9.
    lid = shrinkage.lid_for(
        gallery_mm=88,
        gallery_at="fired",
        lid_at="wet",
        gap_mm=1.5,
        gallery_percents={"fired": 12},
        lid_percents={"fired": 10},
    )
    assert lid.lid_mm == pytest.approx(85 / 0.9)


@pytest.mark.parametrize("gap", [44, 60, -1, float("nan")])
def test_a_gap_that_leaves_no_lid(gap):
    with pytest.raises(DomainError, match="leaves no lid"):
        shrinkage.lid_for(
            gallery_mm=100,
            gallery_at="wet",
            lid_at="wet",
            gap_mm=gap,
            gallery_percents={"fired": 12},
            lid_percents={"fired": 12},
        )
