"""Courses, clays, glazes, kilns, shelves, tags and the studio's settings."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from studio.actions.clays import restore_clay, retire_clay, save_clay
from studio.actions.courses import save_course
from studio.actions.glazes import restore_glaze, retire_glaze, save_glaze
from studio.actions.kilns import restore_kiln, retire_kiln, save_kiln
from studio.actions.shelves import mark_printed, renew_tag, restore_shelf, retire_shelf, save_shelf
from studio.actions.studio import save_studio
from studio.domain.problems import Refused
from studio.models import ClayBody, Course, Glaze, Kiln, Shelf, Studio, Tag
from tests import factories

pytestmark = pytest.mark.django_db
NOW = factories.NOW


@pytest.fixture
def maud():
    return factories.tutor()


@pytest.mark.parametrize("make_by", [factories.helper, factories.student])
def test_only_the_tutor_changes_what_the_studio_has(make_by) -> None:
    by = make_by()
    size = {"width_mm": 400, "depth_mm": 400, "height_mm": 500, "shelf_width_mm": 350, "shelf_depth_mm": 350}
    for act in (
        lambda: save_shelf(by=by, name="Rack"),
        lambda: save_glaze(by=by, name="Oak ash"),
        lambda: save_clay(
            by=by, name="Stoneware", shrinkage_dry_pct=6, shrinkage_bisque_pct=7, shrinkage_fired_pct=12
        ),
        lambda: save_kiln(by=by, name="Big round", shape="round", power_kw=7, **size),
        lambda: save_course(by=by, name="Tuesday", starts_on=NOW.date()),
        lambda: save_studio(by=by, name="Mine"),
    ):
        with pytest.raises(Refused, match="Only the tutor"):
            act()
    assert not any(model.objects.exists() for model in (Shelf, Glaze, ClayBody, Kiln, Course))


# Shelves and tags


def test_a_shelf_has_a_name_of_its_own_and_a_tag(maud) -> None:
    rack = save_shelf(by=maud, name="Rack 1", where="by the door", purpose="ready", now=NOW)
    assert rack.tags.get().retired_at is None
    with pytest.raises(Refused, match="There is a shelf of this name already"):
        save_shelf(by=maud, name="rack 1", now=NOW)
    save_shelf(by=maud, shelf=rack, name="Ready rack", purpose="ready", now=NOW)
    assert Shelf.objects.get().name == "Ready rack"
    assert Tag.objects.count() == 1


def test_a_shelf_is_retired_when_empty_and_its_tag_with_it(maud) -> None:
    rack = save_shelf(by=maud, name="Rack", now=NOW)
    piece = factories.piece(shelf=rack)
    with pytest.raises(Refused, match="1 piece stands on Rack"):
        retire_shelf(shelf=rack, by=maud, now=NOW)
    piece.shelf = None
    piece.save()
    old = rack.tags.get()
    retire_shelf(shelf=rack, by=maud, now=NOW)
    old.refresh_from_db()
    assert old.retired_at == NOW
    other = save_shelf(by=maud, name="Rack", now=NOW)
    with pytest.raises(Refused, match="of this name already"):
        restore_shelf(shelf=rack, by=maud, now=NOW)
    save_shelf(by=maud, shelf=other, name="Other", now=NOW)
    restore_shelf(shelf=rack, by=maud, now=NOW)
    assert rack.tags.filter(retired_at__isnull=True).get() != old


def test_a_renewed_tag_retires_the_old_one_and_printing_is_noted_once() -> None:
    ivo, piece, shelf = factories.helper(), factories.piece(), factories.shelf()
    old = piece.tags.get()
    new = renew_tag(piece=piece, by=ivo, now=NOW)
    old.refresh_from_db()
    assert (old.retired_at, new.retired_at, new.code == old.code) == (NOW, None, False)
    assert renew_tag(shelf=shelf, by=ivo, now=NOW).shelf == shelf
    assert piece.tags.filter(retired_at__isnull=True).get() == new, "only the tag asked for is renewed"
    assert mark_printed(tags=[new, old], by=ivo, now=NOW) == 2
    assert mark_printed(tags=[new, old], by=ivo, now=NOW + timedelta(days=1)) == 0
    with pytest.raises(Refused, match="Only the tutor or a helper"):
        renew_tag(piece=piece, by=piece.maker, now=NOW)
    with pytest.raises(ValueError, match="one piece or one shelf"):
        renew_tag(piece=piece, shelf=shelf, by=ivo)


# Clays and glazes


def test_clay_shrinks_on_from_stage_to_stage(maud) -> None:
    clay = save_clay(
        by=maud,
        name="Grey stoneware",
        shrinkage_dry_pct="5.54",
        shrinkage_bisque_pct="6.5",
        shrinkage_fired_pct="12",
    )
    assert clay.shrinkage_dry_pct == Decimal("5.5")
    for figures in ((7, 6, 12), (6, 13, 12), (-1, 6, 12), (6, 7, 31), ("NaN", 6, 12), ("x", 6, 12)):
        dry, bisque, fired = figures
        with pytest.raises(Refused):
            save_clay(
                by=maud,
                name="Other",
                shrinkage_dry_pct=dry,
                shrinkage_bisque_pct=bisque,
                shrinkage_fired_pct=fired,
            )
    with pytest.raises(Refused, match="There is a clay of this name"):
        save_clay(
            by=maud,
            name="Grey stoneware",
            shrinkage_dry_pct=6,
            shrinkage_bisque_pct=7,
            shrinkage_fired_pct=12,
        )
    assert retire_clay(clay=clay, by=maud, now=NOW).retired_at == NOW
    assert restore_clay(clay=clay, by=maud).retired_at is None


def test_a_glaze_has_a_range_of_cones_the_right_way_round(maud) -> None:
    glaze = save_glaze(
        by=maud, name="Oak ash", colour="#8A7A5C", cone_from="5", cone_to="7", movement="moves"
    )
    assert glaze.colour == "#8a7a5c"
    for values, words in (
        ({"cone_from": "7", "cone_to": "5"}, "Turn the two round"),
        ({"cone_from": "6", "cone_to": "04"}, "Cone 6 is hotter than cone 04"),
        ({"cone_from": "66"}, "There is no cone"),
        ({"colour": "brown"}, "like #7a8c99"),
        ({"name": "OAK ASH"}, "of this name already"),
        ({"food_contact": "safe"}, "from the list"),
    ):
        with pytest.raises(Refused, match=words):
            save_glaze(by=maud, **{"name": "Other", **values})
    retire_glaze(glaze=glaze, by=maud, now=NOW)
    save_glaze(by=maud, name="Oak ash")
    with pytest.raises(Refused, match="of this name already"):
        restore_glaze(glaze=glaze, by=maud)


# Kilns


def kiln_values(**values: object) -> dict:
    return {
        "name": "Big round",
        "shape": "round",
        "width_mm": 580,
        "depth_mm": 580,
        "height_mm": 690,
        "shelf_width_mm": 520,
        "shelf_depth_mm": 520,
        "power_kw": "7.2",
        "props": {100: 9, 150: 6, 200: 0},
        **values,
    }


def test_a_kiln_is_kept_with_its_props(maud) -> None:
    kiln = save_kiln(by=maud, **kiln_values())
    assert {prop.length_mm: prop.count for prop in kiln.props.all()} == {100: 9, 150: 6}
    save_kiln(by=maud, kiln=kiln, **kiln_values(props={50: 3, 100: 12}))
    assert {prop.length_mm: prop.count for prop in kiln.props.all()} == {50: 3, 100: 12}
    save_kiln(by=maud, kiln=kiln, **kiln_values(props=None, wear_minor_per_firing=350))
    assert kiln.props.count() == 2
    assert retire_kiln(kiln=kiln, by=maud, now=NOW).retired_at == NOW
    assert restore_kiln(kiln=kiln, by=maud).retired_at is None


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"width_mm": 0}, "0 mm can't be the width inside. It is 100 to 2,000 mm"),
        ({"height_mm": 10_000}, "10,000 mm can't be the height inside"),
        ({"depth_mm": 600}, "as deep as it is wide"),
        ({"shelf_width_mm": 600}, "larger than the kiln"),
        ({"floor_gap_mm": 300, "lid_gap_mm": 300, "height_mm": 600}, "fill the whole height"),
        ({"power_kw": 0}, "power"),
        ({"power_kw": "NaN"}, "power"),
        ({"power_kw": "much"}, "power"),
        ({"usual_glaze_cone": "10"}, "hotter than cone 8"),
        ({"highest_cone": ""}, "highest cone is missing"),
        ({"whole_shelves": 0, "half_shelves": 1}, "at least one whole kiln shelf"),
        ({"prop_side_mm": 200}, "200 mm can't be the width of a prop"),
        ({"sides": 3}, "can't be the number of sides"),
        ({"opens": "sideways"}, "Choose the way it opens"),
        ({"thermocouple_clock": 12}, "needs both"),
        ({"thermocouple_height_mm": 300}, "needs both"),
        ({"thermocouple_clock": 13, "thermocouple_height_mm": 300}, "12 is the back"),
        ({"thermocouple_clock": 12, "thermocouple_height_mm": 690}, "above the chamber"),
        (
            {"thermocouple_clock": 12, "thermocouple_height_mm": 300, "thermocouple_reach_mm": 300},
            "past the middle",
        ),
        ({"props": {0: 3}}, "length of a prop"),
        ({"props": {100: -1}}, "number of props"),
        ({"wear_minor_per_firing": -1}, "wear a firing"),
        ({"name": "big ROUND "}, "of this name already"),
    ],
)
def test_a_kiln_that_cannot_be_is_refused_whole(maud, values: dict, words: str) -> None:
    save_kiln(by=maud, **kiln_values())
    with pytest.raises(Refused, match=words):
        save_kiln(by=maud, **kiln_values(**{"name": "Small", **values}))
    assert Kiln.objects.count() == 1


def test_the_chamber_stays_as_it_is_while_a_load_is_made_for_it(maud) -> None:
    kiln = save_kiln(by=maud, **kiln_values())
    firing = factories.firing("planned", kiln=kiln)
    with pytest.raises(Refused, match=f"Firing {firing.number} of Big round is being loaded"):
        save_kiln(by=maud, kiln=kiln, **kiln_values(height_mm=600))
    with pytest.raises(Refused, match="It can be retired when it is done"):
        retire_kiln(kiln=kiln, by=maud, now=NOW)
    assert save_kiln(by=maud, kiln=kiln, **kiln_values(name="Round")).name == "Round"


# Courses


def test_a_course_is_refused_when_it_cannot_be(maud) -> None:
    course = save_course(by=maud, name="Open studio", kind="open", starts_on=date(2025, 9, 1), teacher=maud)
    for values, words in (
        ({"ends_on": date(2025, 8, 1)}, "ends before it starts"),
        ({"starts_on": date(1025, 9, 1)}, "year can't be right"),
        ({"places": 0}, "number of places"),
        ({"teacher": factories.student()}, "no tutor or helper"),
        ({"firing_allowance_litres": -1}, "firing allowance"),
        ({"name": ""}, "name of the course is missing"),
    ):
        with pytest.raises(Refused, match=words):
            save_course(by=maud, **{"name": "Other", "starts_on": date(2025, 9, 1), **values})
    factories.enrolment(factories.student(), course)
    factories.enrolment(factories.student("Tobias"), course)
    with pytest.raises(Refused, match="2 people are enrolled"):
        save_course(by=maud, course=course, name="Open studio", starts_on=date(2025, 9, 1), places=1)


# The studio


def test_settings_named_are_changed_and_the_rest_stay(maud) -> None:
    save_studio(
        by=maud, name="Quillmere Clay Room", time_zone="Europe/Paris", currency="eur", currency_sign="€"
    )
    save_studio(by=maud, reply_to="Maud@Quillmere.example", opening_limit_c=45)
    row = Studio.the()
    assert (row.name, row.currency, row.reply_to, row.opening_limit_c) == (
        "Quillmere Clay Room",
        "EUR",
        "maud@quillmere.example",
        45,
    )
    for settings, words in (
        ({"time_zone": "Europe/Quillmere"}, "no such time zone"),
        ({"currency": "£"}, "three letters"),
        ({"opening_limit_c": 300}, "from 20 to 100"),
        ({"name": ""}, "name of the studio is missing"),
        ({"name": "a\r\nBcc: x"}, "line break"),
        ({"tutor_name": "Maud\nx"}, "line break"),
        ({"reply_to": "a@b.example, c@d.example"}, "single address"),
        ({"pickup_weeks": 0}, "from 1 to 104"),
    ):
        with pytest.raises(Refused, match=words):
            save_studio(by=maud, **{"address": "Elsewhere", **settings})
    assert Studio.the().address == ""
    with pytest.raises(TypeError):
        save_studio(by=maud, colour="red")
