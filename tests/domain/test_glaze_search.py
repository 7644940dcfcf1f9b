"""One line that asks for results."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain.glaze_search import Asked, layers_match, parse

FORMS = {"bowl": "Bowl", "mug": "Mug", "box": "Box", "other": "Other"}
CLAYS = ["Quill stoneware", "White mere"]


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        (
            "satin white over iron, cone 6, bowls",
            Asked(glazes=(("iron",), ("satin", "white")), cone="6", form="bowl"),
        ),
        ("Bowls, cone 04, iron", Asked(glazes=(("iron",),), cone="04", form="bowl")),
        ("iron cone 6", Asked(glazes=(("iron",),), cone="6")),
        ("inside, on quill stoneware", Asked(surface="inside", clay="Quill stoneware")),
        ("white mere", Asked(clay="White mere")),
        ("boxes", Asked(form="box")),
        ("a over b over c", Asked(glazes=(("c",), ("b",), ("a",)))),
        ("", Asked()),
        (" , ,, ", Asked()),
        ("overglaze", Asked(glazes=(("overglaze",),))),
    ],
)
def test_parts_in_any_order(text: str, asked: Asked) -> None:
    assert parse(text, forms=FORMS, clays=CLAYS) == asked


@given(st.text(max_size=200))
def test_no_line_breaks_it(text: str) -> None:
    parse(text, forms=FORMS, clays=CLAYS)


@pytest.mark.parametrize(
    ("asked", "names", "met"),
    [
        ((("iron",), ("satin", "white")), ("Iron Red", "White Satin"), True),
        ((("iron",), ("satin",)), ("White Satin", "Iron Red"), False),
        ((("iron",),), ("White Satin", "Iron Red"), True),
        ((("sat",),), ("White Satin",), True),
        ((("iron",), ("white",)), ("Iron", "Blue", "White"), False),
        ((), ("Anything",), True),
        ((("iron",), ("white",)), ("Iron",), False),
    ],
)
def test_glazes_lie_over_each_other_as_asked(asked: tuple, names: tuple, met: bool) -> None:
    assert layers_match(asked, names) is met
