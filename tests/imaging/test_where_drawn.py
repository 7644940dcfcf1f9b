"""A kiln's height from above with what stood there: placed by arithmetic, escaped, without styles."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from studio.imaging.where_drawn import columns, where_map


def drawn(**values: object) -> ET.Element:
    given = {"rectangle": False, "width_mm": 400, "depth_mm": 400, "dots": [], "label": "Top shelf", **values}
    return ET.fromstring(where_map(**given))


def test_the_back_is_up_and_the_right_is_right() -> None:
    svg = drawn(dots=[(0, 0, "sound"), (100, 150, "sound")])
    middle, other = [node for node in svg if node.get("class") == "where__sound"]
    assert (middle.get("cx"), middle.get("cy")) == ("0", "0")
    assert float(other.get("cx")) == pytest.approx(104 * 100 / 200)
    assert float(other.get("cy")) == pytest.approx(-104 * 150 / 200)


def test_a_deep_kiln_is_drawn_deep() -> None:
    wall = next(node for node in drawn(rectangle=True, width_mm=300, depth_mm=600) if node.tag == "rect")
    assert (wall.get("width"), wall.get("height")) == ("104", "208")


@pytest.mark.parametrize("rectangle", [True, False])
@pytest.mark.parametrize(
    ("side", "x", "y"),
    [("front", 0, 1), ("back", 0, -1), ("left", -1, 0), ("right", 1, 0)],
)
def test_a_shaded_side_lies_where_its_name_says(rectangle: bool, side: str, x: int, y: int) -> None:
    path = next(
        node.get("d") for node in drawn(rectangle=rectangle, marked=[(side, "more")]) if node.tag == "path"
    )
    corners = [
        (float(a), float(b)) for a, b in re.findall(r"(-?[\d.]+) (-?[\d.]+)(?=[ALZ])", path.replace("M", ""))
    ]
    assert len(corners) == 4
    across, down = (sum(each[axis] for each in corners) / 4 for axis in (0, 1))
    assert (round(across / 100), round(down / 100)) == (x, y)


def test_words_are_escaped_and_nothing_is_styled() -> None:
    text = where_map(rectangle=False, width_mm=1, depth_mm=1, dots=[(0, 0, "lost")], label='"><script>')
    assert "<script>" not in text
    assert "style" not in text


def test_columns_are_as_high_as_they_say() -> None:
    bars = [node for node in ET.fromstring(columns([0, 2, 4], most=4, label="Cracked")) if node.tag == "rect"]
    assert [bar.get("height") for bar in bars] == ["0%", "50%", "100%"]
