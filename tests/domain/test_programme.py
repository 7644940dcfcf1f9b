"""Programmes: durations by hand, warnings at the published temperatures.

Sources: water boils at 100 °C (physics); quartz inversion at 573 °C (standard mineralogy), cooled at 50
°C/h or slower (technical literature); the cone chart for what a ramp reaches; the rest is common practice.
"""

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain.problems import DomainError
from studio.domain.programme import KilnRates, Segment, Ware, cone_of, plan, warnings

#: Slow bisque to cone 06 (998 °C at 60 °C/h), up only.
BISQUE = [Segment(60, 95, 120), Segment(80, 600), Segment(60, 998)]
#: Glaze firing to cone 6 (1222 °C at 60 °C/h).
GLAZE = [Segment(150, 1100), Segment(60, 1222, 0)]
KILN = KilnRates(heating=((20, 400), (1000, 200), (1250, 50)), cooling=((20, 5), (200, 30), (1250, 300)))


def codes(problems):
    return [problem.code for problem in problems]


def test_durations_by_hand():
    """75 °C at 60 = 75 min, + 120; 505 at 80 = 378.75; 398 at 60 = 398."""
    curve = plan(segments=BISQUE, start_c=20)
    assert curve.ends_min == pytest.approx((195, 573.75, 971.75))
    assert curve.duration_min == pytest.approx(971.75)
    assert curve.top_c == 998
    assert curve.celsius_at(minutes=75) == pytest.approx(95)
    assert curve.celsius_at(minutes=100) == pytest.approx(95)
    assert curve.celsius_at(minutes=195 + 60) == pytest.approx(175)
    assert curve.celsius_at(minutes=-5) == 20
    assert curve.celsius_at(minutes=10_000) == 998


def test_down_as_well_as_up():
    curve = plan(segments=[Segment(100, 520), Segment(50, 420, 30)], start_c=20)
    assert curve.ends_min == pytest.approx((300, 450))
    assert curve.points[-1] == pytest.approx((450, 420))


def test_full_power_goes_as_fast_as_the_kiln():
    """At an even 100 °C/h, 980 °C take 588 min; between measured rates it lies between them."""
    even = KilnRates(heating=((20, 100), (1250, 100)))
    assert plan(segments=[Segment(None, 1000)], kiln=even).duration_min == pytest.approx(588)
    time = plan(segments=[Segment(None, 1000)], kiln=KILN).duration_min
    assert 980 / 400 * 60 < time < 980 / 200 * 60
    # ∫ dT/r for r falling evenly from 400 to 200 over 980 °C is 980·ln 2/200 h
    assert time == pytest.approx(980 * 0.693147 / 200 * 60, rel=1e-3)


def test_a_segment_faster_than_the_kiln_takes_longer_and_is_named():
    curve = plan(segments=[Segment(100, 1000), Segment(100, 1250)], kiln=KILN)
    assert curve.limited == (2,)
    assert curve.ends_min[0] == pytest.approx(588)
    assert curve.ends_min[1] - curve.ends_min[0] > 150
    assert "held-up" in codes(warnings(segments=[Segment(100, 1250)], kiln=KILN))


def test_natural_cooling():
    curve = plan(segments=[Segment(None, 1000), Segment(None, 200)], kiln=KILN)
    # From 235.7 °C/h at 1000 °C to 30 at 200, in a straight line: 1050/270 · ln(235.7/30) h
    assert curve.duration_min - curve.ends_min[0] == pytest.approx(
        1050 / 270 * log(235.714 / 30) * 60, rel=1e-3
    )
    assert curve.points[-1][1] == 200


@given(
    st.lists(
        st.builds(Segment, st.floats(5, 500), st.floats(0, 1300), st.floats(0, 300)), min_size=1, max_size=6
    ),
    st.floats(0, 60),
)
def test_time_never_runs_back_and_every_target_is_met(segments, start):
    for kiln in (None, KILN):
        curve = plan(segments=segments, start_c=start, kiln=kiln)
        minutes = [point[0] for point in curve.points]
        assert minutes == sorted(minutes)
        for segment, end in zip(segments, curve.ends_min, strict=True):
            assert curve.celsius_at(minutes=end) == pytest.approx(segment.target_c, abs=1e-6)
    assert (
        plan(segments=segments, start_c=start, kiln=KILN).duration_min
        >= plan(segments=segments, start_c=start).duration_min - 1e-6
    )


def test_the_cone_a_programme_reaches():
    assert cone_of(plan(segments=GLAZE)).likely == "6"
    assert cone_of(plan(segments=BISQUE)).likely == "06"


def test_a_sound_programme_has_no_warnings():
    bisque = warnings(segments=BISQUE, cone="06", highest_cone="10", ware=Ware(greenware=True))
    glaze = warnings(
        segments=GLAZE, cone="6", highest_cone="10", ware=Ware(glazes=(("Satin white", "5", "7"),))
    )
    assert (bisque, glaze) == ([], [])


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"ware": Ware(damp=True, greenware=True)}, "damp-above-100"),
        ({"segments": [Segment(150, 998)], "ware": Ware(greenware=True)}, "fast-through-steam"),
        ({"segments": [Segment(80, 998)], "ware": Ware(greenware=True, thick=True)}, "fast-through-steam"),
        ({"segments": [*BISQUE, Segment(100, 500)]}, "fast-through-quartz"),
        ({"cone": "8", "highest_cone": "6"}, "cone-above-kiln"),
        ({"segments": [Segment(60, 1320)], "highest_cone": "10", "cone": None}, "too-hot-for-kiln"),
        ({"cone": "04"}, "cone-missed"),
        ({"cone": "09"}, "cone-missed"),
        ({"ware": Ware(glazes=(("Iron red", "5", "6"),))}, "glaze-range"),
        ({"ware": Ware(glazes=(("Iron red", "6", "5"),))}, "glaze-range"),
    ],
)
def test_each_warning(change, code):
    asked = {"segments": BISQUE, "cone": "06", "highest_cone": "10"} | change
    found = warnings(**asked)
    assert code in codes(found)
    assert all(problem.overridable and problem.message.endswith(".") for problem in found)


def test_the_lines_at_100_573_and_50():
    damp = Ware(damp=True)
    assert "damp-above-100" not in codes(warnings(segments=[Segment(30, 100)], ware=damp))
    assert "damp-above-100" in codes(warnings(segments=[Segment(30, 101)], ware=damp))
    down = [*BISQUE, Segment(200, 610), Segment(50, 530), Segment(200, 100)]
    assert "fast-through-quartz" not in codes(warnings(segments=down))
    assert "fast-through-quartz" in codes(warnings(segments=[*BISQUE, Segment(51, 530)]))
    assert "fast-through-quartz" not in codes(warnings(segments=[*BISQUE, Segment(300, 600)]))
    # A thermocouple may be off: the watch is kept from 600 to 540 °C.
    assert "fast-through-quartz" in codes(warnings(segments=[*BISQUE, Segment(50, 560), Segment(60, 100)]))
    assert "fast-through-quartz" not in codes(
        warnings(segments=[*BISQUE, Segment(50, 540), Segment(60, 100)])
    )


@pytest.mark.parametrize(
    ("rate", "thick", "warned"),
    [(100, False, False), (101, False, True), (50, True, False), (51, True, True)],
)
def test_how_fast_through_steam(rate, thick, warned):
    """100 °C/h, and half of that for thick ware: common practice, no source."""
    found = warnings(segments=[Segment(rate, 998)], ware=Ware(greenware=True, thick=thick))
    assert ("fast-through-steam" in codes(found)) is warned


@pytest.mark.parametrize(
    "ask",
    [
        lambda: plan(segments=[]),
        lambda: plan(segments=[Segment(None, 500)]),
        lambda: plan(segments=BISQUE, start_c=float("nan")),
        lambda: Segment(0, 500),
        lambda: Segment(-60, 500),
        lambda: Segment(60, 1600),
        lambda: Segment(60, 500, -1),
        lambda: KilnRates(heating=((20, 0),)),
        lambda: KilnRates(heating=((100, 10), (20, 10))),
        lambda: warnings(segments=BISQUE, cone="sixteen"),
        lambda: warnings(segments=BISQUE, highest_cone="23"),
    ],
)
def test_nonsense_is_refused(ask):
    with pytest.raises(DomainError):
        ask()
