"""A shrink ruler: every fired millimetre is 1 / (1 - S) mm long on paper, and nothing leaves the page."""

import re
import xml.etree.ElementTree as ET

import pytest

from studio.domain.lengths import using
from studio.domain.problems import DomainError
from studio.imaging.shrink_ruler import ruler_page

SVG = "{http://www.w3.org/2000/svg}"


def ticks(page):
    path = ET.fromstring(page).find(f".//{SVG}path[@class='ruler-ticks']").get("d")
    return [float(y) for y in re.findall(r"M[\d.]+ ([\d.]+)h", path)]


# 12 %: 100 mm wet fire to 88 (the form of ASTM C326), so 88 fired millimetres must be 100 mm long.
@pytest.mark.parametrize(("percent", "fired", "wet"), [(12, 88, 100), (0, 100, 100), (10, 180, 200)])
def test_a_fired_length_reads_right_on_wet_clay(percent, fired, wet):
    found = ticks(ruler_page(name="Stoneware", percent=percent))
    assert found[fired] - found[0] == pytest.approx(wet, abs=0.01)


@pytest.mark.parametrize("percent", [0, 5.5, 12, 30])
def test_it_keeps_to_the_page_and_says_what_it_is_for(percent):
    page = ruler_page(name="White <stoneware>", percent=percent)
    root = ET.fromstring(page)
    assert max(ticks(page)) < 297 - 8
    words = " ".join(text.text for text in root.iter(f"{SVG}text"))
    assert "White <stoneware>" in words
    assert f"{percent:.1f} %" in words
    assert "This line is 100 mm." in words


# 44 sixteenths are 2 3/4 in of 25.4 mm (ISO 80000-3); wet they are 1 ÷ 0.88 as long (the form of ASTM C326).
def test_in_a_studio_of_inches_it_has_sixteenths():
    with using("in"):
        page = ruler_page(name="Stoneware", percent=12)
    found = ticks(page)
    assert found[44] - found[0] == pytest.approx(2.75 * 25.4 / 0.88, abs=0.01)
    assert max(found) < 297 - 8
    words = " ".join(text.text for text in ET.fromstring(page).iter(f"{SVG}text"))
    assert "fired inches," in words
    assert "This line is 4 in." in words


def test_nonsense_is_refused():
    with pytest.raises(DomainError):
        ruler_page(name="Stoneware", percent=31)
