"""The plot of firing times: places worked by hand."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from studio.imaging.kilns_clear import DrawnClear, clear_from_above, clear_from_the_side
from studio.imaging.wear_plot import Burn, Trend, hours_words, wear_plot


def test_dots_stand_at_their_count_and_hours() -> None:
    # 9 to 11 h with 15 % air is 8.7 to 11.3 h, in half hours 8.5 to 11.5: 10 h is in the middle.
    svg = wear_plot(burns=[Burn(1, 9, "A"), Burn(5, 10, "B"), Burn(10, 11, "C")])
    dots = [dot.attrib for dot in ElementTree.fromstring(svg).iter("circle")]
    assert [(dot["cx"], dot["cy"]) for dot in dots] == [("10%", "83.33%"), ("50%", "50%"), ("100%", "16.67%")]


def test_trend_and_mark_are_drawn_when_there_is_one() -> None:
    burns = [Burn(number, 9 + number / 10, f"Glaze {number}") for number in range(1, 9)]
    assert "wear__trend" not in wear_plot(burns=burns)
    svg = wear_plot(burns=burns, trend=Trend(1, 9.1, 8, 9.8, 10.01), summary="All <well>")
    assert svg.count("wear__trend") == svg.count("wear__worn") == 1
    assert "All &lt;well&gt;" in svg
    assert "Glaze 3: 9 h 18 min" in svg
    ElementTree.fromstring(svg)


@pytest.mark.parametrize(("hours", "said"), [(9, "9 h"), (9.55, "9 h 33 min"), (0.5, "0 h 30 min")])
def test_hours_as_people_say_them(hours: float, said: str) -> None:
    assert hours_words(hours) == said


def test_the_room_round_a_thermocouple_is_drawn_at_its_place() -> None:
    spaces = (DrawnClear(0, 240, 25, 275, 325), DrawnClear(0, 290, 25, 275, 325))
    above = clear_from_above(spaces, 0.5)
    assert 'cx="0" cy="-120" r="12.5"' in above
    assert 'd="M0 -145L0 -120"' in above
    side = clear_from_the_side(spaces, middle=100, floor=400, half=150, tall=350, unit=0.5)
    assert 'x="87.5" y="237.5" width="25" height="25"' in side
    assert clear_from_above((), 1) == clear_from_the_side((), middle=0, floor=0, half=1, tall=1, unit=1) == ""
