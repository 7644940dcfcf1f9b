"""Drawings: well-formed SVG that a strict content policy lets through, to scale, and read aloud in words."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from django.template import Context, Template

from studio.domain.stages import Outcome, Stage
from studio.imaging import bars, curves, days, icons, kilns_drawn, kilns_side, marks_drawn, pots, sections
from studio.imaging.profiles import FORMS, half_width_at

EVIL = "</svg><script>alert('x')</script>\" onload=\"&\x00"
SHELF = kilns_drawn.DrawnShelf("round", 520, 520)
ROUND = kilns_drawn.DrawnChamber("polygon", 580, 580, 690)
START = datetime(2025, 11, 17, 18, 0, tzinfo=UTC)


def piece(mark="K7H", x=0.0, y=0.0, **more):
    return kilns_drawn.DrawnPiece(mark, x, y, **{"width_mm": 100, "depth_mm": 100, **more})


def layer(*pieces, **more):
    return kilns_drawn.DrawnLayer(**{"name": "Top shelf", "shelf": SHELF, "pieces": pieces, **more})


def climb(hours=12, top=1222, start=START):
    return [
        curves.Reading(start + timedelta(hours=step / 4), 20 + (top - 20) * step / 4 / hours)
        for step in range(hours * 4 + 1)
    ]


def every_drawing() -> Iterator[tuple[str, str]]:
    """One of each kind, with hostile words wherever words are taken."""
    labels = [curves.Label(START + timedelta(hours=3), 500, EVIL, EVIL, kind="safe")]
    day = days.DayCurve(
        START,
        START + timedelta(hours=24),
        climb(),
        [curves.Reading(START + timedelta(hours=12 + step), 1222 - 90 * step) for step in range(13)],
        labels,
        [days.DaySlip(START + timedelta(hours=5), EVIL), days.DaySlip(START + timedelta(hours=23), EVIL)],
        EVIL,
    )
    pieces = [
        piece(EVIL, label=EVIL, href=f"/pieces/{EVIL}"),
        piece(y=150, round=False, form="mug", gone=True),
    ]
    yield "mark", marks_drawn.cut_mark("K7H")
    yield "foreign mark", marks_drawn.cut_mark(EVIL)
    yield "ink mark", marks_drawn.cut_mark("DNTY", ink=True)
    yield "icon", icons.icon("bone-dry", label=EVIL)
    for form in (*FORMS, "no such form"):
        yield (
            form,
            pots.silhouette(form=form, width_mm=120, height_mm=95, depth_mm=90, colour="#35445C", label=EVIL),
        )
        yield (
            f"section {form}",
            sections.section(
                form=form,
                width_mm=120,
                height_mm=95,
                wet_height_mm=108,
                wet_width_mm=136,
                now_word=EVIL,
                wet_word=EVIL,
            ),
        )
    yield "layer", kilns_drawn.layer_view(ROUND, layer(*pieces, name=EVIL), gap_mm=6)
    yield "map", kilns_drawn.layer_map(layer(*pieces), label=EVIL)
    yield (
        "side",
        kilns_side.side_view(ROUND, (layer(piece(form="jug", height_mm=180)), layer(prop_mm=125)), name=EVIL),
    )
    yield "gauge", kilns_drawn.gauge_kilns(1.12, kind="glaze") + kilns_drawn.gauge_kilns(0.63, kind="bisque")
    yield "day", days.day_figure(day)
    yield (
        "plot",
        curves.firing_plot(
            start=START,
            end=START + timedelta(hours=24),
            asked=climb(),
            measured=climb(),
            to_come=day.to_come,
            band=(START + timedelta(hours=20), START + timedelta(hours=21)),
            now=START + timedelta(hours=12),
            labels=labels,
            summary=EVIL,
        ),
    )
    yield "bar", bars.part_bar(0.5, label=EVIL)
    yield "interval", bars.interval_bar(0.2, 0.4, 0.7, label=EVIL)


@pytest.mark.parametrize(
    ("name", "svg"), list(every_drawing()), ids=lambda value: value[:20] if len(value) < 30 else ""
)
def test_drawings_are_well_formed_and_pass_a_strict_policy(name, svg):
    root = ET.fromstring(f"<div>{svg}</div>")
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for element in root.iter():
        assert element.tag not in {"script", "style", "foreignObject", "image"}
        for attribute, value in element.attrib.items():
            assert attribute != "style"
            assert not attribute.startswith("on")
            # Paint comes from this drawing alone; a link's target is its caller's.
            assert attribute == "href" or "http" not in value
            for reference in re.findall(r"url\(#([\w-]+)\)", value):
                assert reference in ids
            if attribute in {"d", "x", "y", "cx", "cy", "r", "width", "height", "viewBox"}:
                assert not re.search(r"nan|inf|e[-+]?\d", value), (attribute, value)
    for svg_element in root.iter("svg"):
        if svg_element.get("role") == "img":
            assert svg_element.get("aria-label")


def test_every_stage_outcome_flaw_and_job_has_its_own_sign():
    from studio.models import FinishingJob, FlawKind

    for names in (Stage, FlawKind):
        drawn = {icons.icon(name.value) for name in names if name not in {Stage.LOW_FIRING}}
        assert len(drawn) == len(names) - (names is Stage)
    assert len({icons.icon(outcome.value) for outcome in Outcome}) == 3
    assert all(icons.icon(kind) for kind in FinishingJob.Kind.values)


def test_a_sign_is_found_by_any_spelling_and_a_missing_one_is_named():
    assert icons.symbol_name("Bone dry") == icons.symbol_name("bone_dry") == icons.symbol_name("stage-dry")
    with pytest.raises(LookupError, match="no-such-sign"):
        icons.icon("no-such-sign")
    assert set(icons.ALIASES.values()) <= set(icons.sheet())


def test_a_mark_has_strokes_for_every_sign_it_may_hold():
    from studio.domain.marks import ALPHABET

    assert set(ALPHABET) <= set(marks_drawn.SIGNS)
    assert all(marks_drawn.strokes(sign) for sign in marks_drawn.SIGNS)
    assert 'aria-label="Mark K 7 H"' in marks_drawn.cut_mark("k7h")
    assert "cut__lip" in marks_drawn.cut_mark("K7H")
    assert "cut__lip" not in marks_drawn.cut_mark("K7H", ink=True)


def test_pots_are_to_scale():
    def size(**pot):
        found = re.search(r'width="([\d.]+)" height="([\d.]+)"', pots.silhouette(**pot))
        return float(found[1]) - 4, float(found[2]) - 4

    width, height = size(form="bowl", width_mm=200, height_mm=100)
    assert width == pytest.approx(200 * pots.SHELF_SCALE, abs=0.2)
    assert height == pytest.approx(100 * pots.SHELF_SCALE, abs=0.2)
    # A tower is drawn smaller as a whole: its proportions stay.
    width, height = size(form="vase", width_mm=200, height_mm=1000)
    assert height == pytest.approx(pots.TALLEST, abs=0.2)
    assert width == pytest.approx(pots.TALLEST / 5, abs=0.3)


def test_a_pot_without_a_handle_fills_its_width():
    for name, form in FORMS.items():
        assert max(half_width_at(form.profile, y) for y in range(0, 101, 2)) == pytest.approx(50, abs=1.5), (
            name
        )


@pytest.mark.parametrize("colour", ["red", "#12345", "url(#x)", '#123456" onload="x'])
def test_only_hexadecimal_colours_are_drawn(colour):
    with pytest.raises(ValueError, match="hexadecimal"):
        pots.silhouette(form="mug", width_mm=90, height_mm=95, colour=colour)


def test_a_layer_shows_what_stands_where():
    svg = kilns_drawn.layer_view(ROUND, layer(piece(x=-100, y=100), props=kilns_drawn.three_props(SHELF)))
    unit = 327 / (290 * 1.128)
    # To the left and at the back of the kiln is to the left and at the top of the drawing.
    found = re.search(r'class="l-piece" cx="([\d.-]+)" cy="([\d.-]+)" r="([\d.]+)"', svg)
    assert [float(value) for value in found.groups()] == pytest.approx(
        [-100 * unit, -100 * unit, 50 * unit], abs=0.1
    )
    assert svg.count('class="l-post"') == 3
    assert 'aria-label="Top shelf, seen from above: K7H"' in svg
    turned = kilns_drawn.layer_view(ROUND, layer(piece(width_mm=200, depth_mm=100, round=False, turned=True)))
    found = re.search(r'class="l-piece" x="[\d.-]+" y="[\d.-]+" width="([\d.]+)" height="([\d.]+)"', turned)
    assert [float(value) for value in found.groups()] == pytest.approx([100 * unit, 200 * unit], abs=0.1)


def test_pieces_of_a_map_can_be_links():
    svg = kilns_drawn.layer_map(
        layer(piece(href="/unload/1/", label="jug", picked=True), piece("C7A", 90, gone=True))
    )
    assert 'role="group"' in svg
    assert '<a class="l-link" href="/unload/1/" aria-label="K7H jug">' in svg
    assert svg.count("<text") == 1
    assert 'role="img"' in kilns_drawn.layer_map(layer(piece()))


@pytest.mark.parametrize("halves", ["whole", "left", "right", "front", "back", "two"])
@pytest.mark.parametrize("shape", ["round", "rectangle", "polygon"])
def test_half_shelves_are_drawn_on_their_side(shape, halves):
    shelf = kilns_drawn.DrawnShelf(shape, 400, 400, halves=halves)
    chamber = kilns_drawn.DrawnChamber(shape, 450, 450, 500, opens="front")
    svg = kilns_drawn.layer_view(chamber, layer(shelf=shelf))
    ET.fromstring(svg)
    assert svg.count('class="l-shelf"') == 1
    assert ("l-split" in svg) == (halves == "two")


def test_layers_stand_on_each_other_from_the_side():
    layers = (layer(number=1), layer(prop_mm=100, number=2), layer(prop_mm=150, number=3))
    svg = kilns_side.side_view(ROUND, layers, base_prop_mm=25)
    unit = 313 / 580
    tops = [float(y) for y in re.findall(r'class="e-shelf" d="M[\d.-]+ ([\d.]+)h', svg)]
    bottom, middle, top = tops
    assert bottom - middle == pytest.approx((150 + 16) * unit, abs=0.2)
    assert middle - top == pytest.approx((100 + 16) * unit, abs=0.2)
    assert "15.0 cm</text>" in svg
    assert svg.count(">props</text>") == 2
    assert svg.count(">under lid</text>") == 1


@pytest.mark.parametrize(
    ("part", "kilns"), [(0, 1), (0.63, 1), (1.0, 1), (1.12, 2), (2.5, 3), (9, 3), (-1, 1)]
)
def test_a_queue_is_drawn_as_kilns(part, kilns):
    assert kilns_drawn.gauge_kilns(part, kind="glaze").count("<svg") == kilns


@pytest.mark.parametrize(
    ("part", "width"), [(0.25, "25%"), (0, "0%"), (1.4, "100%"), (-2, "0%"), (1 / 3, "33.33%")]
)
def test_bars_carry_their_part_as_an_attribute(part, width):
    assert f'class="bar__part" width="{width}"' in bars.part_bar(part)


def test_a_curve_is_cut_at_the_edges_of_its_window():
    found = curves.clipped(climb(), START + timedelta(hours=1.1), START + timedelta(hours=2.1))
    assert found[0].at == START + timedelta(hours=1.1)
    assert found[-1].at == START + timedelta(hours=2.1)
    assert found[0].temperature_c == pytest.approx(20 + 1202 * 1.1 / 12)
    assert curves.value_at(climb(), START + timedelta(hours=6)) == pytest.approx(621)
    assert curves.value_at(climb(), START - timedelta(hours=1)) is None


def test_a_long_curve_keeps_its_peak_when_it_is_thinned():
    readings = [curves.Reading(START + timedelta(seconds=30 * step), 500.0) for step in range(5000)]
    readings[3217] = curves.Reading(readings[3217].at, 1240.0)
    kept = curves.thinned(readings)
    assert len(kept) < 300
    assert max(reading.temperature_c for reading in kept) == 1240
    assert kept[0] is readings[0]
    assert kept[-1] is readings[-1]


def test_heat_has_the_colour_of_its_temperature_in_every_drawing():
    """1000 °C glows alike in a bisque of 1010 °C and a glaze firing of 1222 °C."""
    for top in (1010, 1300):
        gradient = curves.heat_gradient("x", top, 400)
        offset = float(re.search(r'offset="([\d.]+)%" class="heat-2"', gradient)[1])
        assert (100 - offset) / 100 * top == pytest.approx(1000, abs=2)
    assert "heat-1" not in curves.heat_gradient("x", 1010, 400)
    assert "heat-2" not in curves.heat_gradient("x", 700, 400)


def test_hours_are_ticked_with_the_day_where_it_begins():
    ticks = curves.hour_ticks(START, START + timedelta(hours=30))
    assert [text for _, text in ticks] == [
        "Mon 20:00",
        "Tue 00:00",
        "04:00",
        "08:00",
        "12:00",
        "16:00",
        "20:00",
        "Wed 00:00",
    ]


def test_the_words_say_what_the_curve_shows():
    now = curves.Reading(START + timedelta(hours=12), 1222)
    text = curves.summary_of(measured=climb(), now=now, opens_at=START + timedelta(hours=20, minutes=10))
    assert "The highest reading is 1222 °C at 06:00." in text
    assert "about 14:10" in text
    assert curves.summary_of(measured=[]) == "No temperatures yet."
    rows = curves.rows(start=START, end=START + timedelta(hours=12), measured=climb())
    assert rows[0] == (START, 20, None)
    assert len(rows) == 13


def test_the_heading_stands_beside_a_hill_that_leaves_room_only():
    end = START + timedelta(hours=24)
    early = days.DayCurve(
        START, end, climb(3), [curves.Reading(START + timedelta(hours=5), 600), curves.Reading(end, 60)]
    )
    late = days.DayCurve(START, end, climb(20))
    assert early.beside_words
    assert not late.beside_words
    assert days.DayCurve(START, end).beside_words
    assert "day__crest" not in days.day_figure(days.DayCurve(START, end))


def test_tags_give_each_drawing_of_a_page_its_own_ids():
    page = Template(
        "{% silhouette 'mug' 120 95 depth_mm=90 colour='#35445c' %}{% silhouette 'bowl' 170 80 %}"
        "{% gauge_kilns 0.4 'bisque' %}{% half_section form='jug' width_mm=160 height_mm=170 %}"
        "{% for form in forms %}{% silhouette form 100 100 %}{% endfor %}"
        "{% icon 'ready' %}{% cut_mark 'K7H' %}{% part_bar 0.5 %}{% layer_map layer %}"
    ).render(Context({"forms": ["vase", "jar"], "layer": layer(piece())}))
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids)) == 8
    assert "&lt;svg" not in page
