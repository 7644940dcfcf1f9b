"""Programmes are kept and copied; a firing keeps the one it was lit with, whatever becomes of it later."""

from __future__ import annotations

import pytest

from studio.actions import firings, loads, loads_places, programmes, witness_cones
from studio.domain.problems import Refused
from studio.models import Programme, WitnessCone
from studio.queries.programmes import chosen_of, curve_of
from tests import factories

pytestmark = pytest.mark.django_db

ROWS = [(60, 95, 60), (80, 600, 0), (None, 1000, 10)]


@pytest.fixture
def maud():
    return factories.tutor()


def saved(maud, **values):
    values = {"name": "Slow bisque", "kind": "bisque", "segments": ROWS, **values}
    return programmes.save_programme(by=maud, **values)


def put_in(firing, maud):
    piece = factories.piece(maker=factories.student(), stage="bone-dry", route="bisque-then-glaze")
    loads_places.load_piece(firing=firing, piece=piece, layer=firing.layers.get(), by=maud)


def rows_of(programme):
    return [(row.rate_c_per_h, row.target_c, row.hold_min) for row in programme.segments.all()]


def test_saved_changed_and_sent_twice(maud):
    one = saved(maud, client_id="a")
    assert saved(maud, client_id="a", name="Other").pk == one.pk
    assert rows_of(one) == ROWS
    changed = saved(maud, programme=one, segments=[(100, 1060, 15)])
    assert rows_of(changed) == [(100, 1060, 15)]
    assert Programme.objects.count() == 1


@pytest.mark.parametrize(
    ("segments", "code"),
    [
        ([], "no-segments"),
        ([(0, 600, 0)], "number-out-of-range"),
        ([(100, 1501, 0)], "number-out-of-range"),
        ([(100, 600, 0), (100, 600, 0)], "empty-segment"),
        ([(100, 600 + n % 2, 1) for n in range(31)], "too-many-segments"),
    ],
)
def test_bad_segments_are_refused_whole(maud, segments, code):
    with pytest.raises(Refused) as refused:
        saved(maud, segments=segments)
    assert refused.value.problems[0].code == code
    assert not Programme.objects.exists()


def test_only_the_tutor_writes_them_and_names_are_once(maud):
    saved(maud)
    with pytest.raises(Refused, match="Only the tutor"):
        saved(factories.helper(), name="Mine")
    with pytest.raises(Refused, match="of this name already"):
        saved(maud, name="slow BISQUE")


def test_a_cone_above_the_kiln_is_refused(maud):
    with pytest.raises(Refused, match="at most"):
        saved(maud, kiln=factories.kiln(highest_cone="6"), cone="8")


def test_a_firing_follows_its_programme_until_lit_and_keeps_it_from_then_on(maud):
    kiln = factories.kiln()
    programme = saved(maud, segments=[(100, 1060, 15)])
    firing = loads.plan_firing(kiln=kiln, kind="bisque", cone="04", programme=programme, by=maud)
    put_in(firing, maud)
    saved(maud, programme=programme, segments=[(120, 1060, 15)])
    firing.refresh_from_db()
    assert chosen_of(firing).segments[0].rate_c_per_h == 120
    assert not chosen_of(firing).kept

    firing = firings.light(firing=firing, by=maud, client_id="lit")
    saved(maud, programme=programme, name="Renamed", segments=[(200, 900, 0)])
    firing.refresh_from_db()
    kept = chosen_of(firing)
    assert kept.kept
    assert (kept.name, kept.segments[0].rate_c_per_h) == ("Slow bisque", 120)
    # (1060 − 20) ÷ 120 h + 15 min = 535 min, by hand
    assert curve_of(firing).duration_min == pytest.approx(535)
    # Chosen once more, the copy it keeps stays; another programme takes its place; none leaves none.
    firing = programmes.choose_programme(firing=firing, programme=programme, by=maud)
    assert chosen_of(firing).name == "Slow bisque"
    other = saved(maud, name="Fast", segments=[(150, 1060, 0)])
    firing = programmes.choose_programme(firing=firing, programme=other, by=maud)
    assert chosen_of(firing).name == "Fast"
    assert chosen_of(programmes.choose_programme(firing=firing, programme=None, by=maud)) is None


def test_taking_back_the_lighting_lets_the_copy_go(maud):
    programme = saved(maud)
    firing = loads.plan_firing(kiln=factories.kiln(), kind="bisque", cone="04", programme=programme, by=maud)
    put_in(firing, maud)
    firing = firings.light(firing=firing, by=maud, client_id="lit")
    assert firing.programme_as_fired["name"] == "Slow bisque"
    firing = firings.undo_light(firing=firing, by=maud, client_id="not")
    firing.refresh_from_db()
    assert firing.programme_as_fired == {}
    assert firing.programme == programme


def test_programmes_of_another_kind_or_kiln_and_retired_ones_are_refused(maud):
    firing = factories.firing("planned", kind="bisque", pieces=1, by=maud)
    for programme, words in (
        (saved(maud, name="Glaze", kind="glaze"), "for a glaze firing"),
        (saved(maud, name="Theirs", kiln=factories.kiln("Other")), "is for Other"),
        (programmes.retire_programme(programme=saved(maud, name="Old"), by=maud), "not in use"),
    ):
        with pytest.raises(Refused, match=words):
            programmes.choose_programme(firing=firing, programme=programme, by=maud)


def test_witness_cones_are_corrected_struck_out_and_put_back(maud):
    firing = factories.firing("cooling", pieces=2, by=maud, layers=2)
    told = {"firing": firing, "layer_number": 1, "cone": "6", "by": maud}
    first = witness_cones.note_witness_cone(**told, bend_degrees=45, client_id="a")
    assert witness_cones.note_witness_cone(**told, bend_degrees=90, client_id="a") == first
    with pytest.raises(Refused, match="noted already"):
        witness_cones.note_witness_cone(**told, bend_degrees=90, client_id="b")
    second = witness_cones.note_witness_cone(**told, bend_degrees=75, client_id="c", corrects=first)
    first.refresh_from_db()
    assert first.ended_at is not None
    assert first.bend_degrees == 45
    assert second.corrects == first
    with pytest.raises(Refused, match="corrected since"):
        witness_cones.restore_witness_cone(cone=first, by=maud)
    witness_cones.strike_witness_cone(cone=second, by=maud)
    assert not WitnessCone.objects.filter(ended_at__isnull=True).exists()
    witness_cones.restore_witness_cone(cone=second, by=maud)
    assert WitnessCone.objects.get(ended_at__isnull=True) == second
    for values, words in (
        ({"layer_number": 3}, "layer"),
        ({"cone": "99"}, "no cone 99"),
        ({"bend_degrees": 121}, "bend"),
    ):
        with pytest.raises(Refused, match=words):
            witness_cones.note_witness_cone(**{**told, "bend_degrees": 0, **values}, client_id="d")


def test_cones_wait_until_the_kiln_is_off(maud):
    firing = factories.firing("firing", pieces=1, by=maud)
    with pytest.raises(Refused, match="still goes on"):
        witness_cones.note_witness_cone(
            firing=firing, layer_number=1, cone="6", bend_degrees=90, by=maud, client_id="a"
        )
