"""What combinations came to: kept when a firing is closed, gone when it is reopened, counted."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import pieces_glaze, settling
from studio.actions.unload import SeenFlaw
from studio.domain.glaze_search import Asked
from studio.models import Combination, Firing, Glaze, GlazeResult, Person, Piece
from studio.queries import glaze_results as queries
from tests import factories

pytestmark = pytest.mark.django_db

NOW = factories.NOW


@pytest.fixture
def maud() -> Person:
    factories.studio()
    factories.policy()
    return factories.tutor()


@pytest.fixture
def chalk() -> Glaze:
    return factories.glaze("Chalk Satin")


@pytest.fixture
def ember() -> Glaze:
    return factories.glaze("Ember Matte")


def glazed(by: Person, *coats: tuple[str, Glaze | None], **values: object) -> Piece:
    """A glazed piece with these coats; a second one on a surface lies over the first."""
    piece = factories.piece(stage="bisqued", **values)
    orders: dict[str, int] = {}
    rows = []
    for surface, glaze in coats:
        orders[surface] = orders.get(surface, 0) + 1
        rows.append(pieces_glaze.Coat(surface, glaze, order=orders[surface]))
    pieces_glaze.note_glazes(piece=piece, coats=rows, by=by, client_id=factories.client_id(), now=NOW)
    return Piece.objects.get(pk=piece.pk)


def fired(
    by: Person, pieces: list[Piece], outcomes: list[tuple], *, layers: int = 1, **values: object
) -> Firing:
    """Fired, unloaded with (outcome, flaws) and closed."""
    firing = factories.firing("unloading", pieces=pieces, layers=layers, **values)
    places = {place.piece_id: place for place in firing.placements.select_related("piece", "layer")}
    for piece, (outcome, *flaws) in zip(pieces, outcomes, strict=True):
        more = {"loss_cause": "stuck"} if outcome == "lost" else {}
        factories.unload_one(
            places[piece.pk], outcome, by=by, flaws=[SeenFlaw(*flaw) for flaw in flaws], **more
        )
    settling.close_firing(firing=firing, by=by, client_id=factories.client_id(), energy_kwh="60")
    return Firing.objects.get(pk=firing.pk)


def test_one_pot_is_one_witness_for_each_combination_on_it(maud: Person, chalk: Glaze, ember: Glaze) -> None:
    piece = glazed(
        maud, ("inside", chalk), ("rim", chalk), ("outside", chalk), ("outside", ember), ("foot", None)
    )
    fired(maud, [piece], [("flawed", ("running", "outside"))])
    rows = {str(row.combination): row for row in GlazeResult.objects.select_related("combination")}
    assert set(rows) == {"Chalk Satin", "Ember Matte over Chalk Satin"}
    assert (rows["Chalk Satin"].surfaces, rows["Chalk Satin"].outcome) == ("inside rim", "sound")
    over = rows["Ember Matte over Chalk Satin"]
    assert (over.surfaces, over.outcome, over.thick) == ("outside", "flawed", 2)
    assert rows["Chalk Satin"].where == "inside and rim"


def test_reopened_nothing_counts_and_closed_anew_it_counts_once(maud: Person, chalk: Glaze) -> None:
    firing = fired(maud, [glazed(maud, ("inside", chalk))], [("sound",)])
    assert GlazeResult.objects.count() == 1
    settling.reopen_firing(firing=firing, by=maud, client_id=factories.client_id())
    assert GlazeResult.objects.count() == 0
    settling.close_firing(firing=firing, by=maud, client_id=factories.client_id(), energy_kwh="60")
    assert GlazeResult.objects.count() == 1
    assert Combination.objects.count() == 1


def test_summaries_count_and_judge_by_stated_rules(maud: Person, chalk: Glaze, ember: Glaze) -> None:
    good = [glazed(maud, ("inside", chalk)) for _ in range(12)]
    bad = [glazed(maud, ("outside", ember), ("outside", chalk)) for _ in range(3)]
    mixed = [("sound",), ("flawed", ("crawling", "")), ("lost",)]
    fired(maud, [*good, *bad], [*[("sound",)] * 12, *mixed], layers=3)
    first, second = queries.summaries()
    assert (first.words, first.verdict.reliability) == ("Chalk Satin", "reliable here")
    assert second.words == "Chalk Satin over Ember Matte"
    counts = second.verdict
    assert (counts.sound.successes, counts.flawed.successes, counts.lost.successes) == (1, 1, 1)
    assert counts.reliability == "too few to say"
    assert [row.words for row in queries.summaries(reliability="reliable here")] == ["Chalk Satin"]


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        (Asked(glazes=(("chalk",),)), 2),
        (Asked(glazes=(("chalk",), ("ember",))), 1),
        (Asked(glazes=(("ember",), ("chalk",))), 0),
        (Asked(cone="6"), 2),
        (Asked(cone="04"), 0),
        (Asked(form="bowl"), 1),
        (Asked(surface="outside"), 1),
        (Asked(clay="Nobody's clay"), 0),
    ],
)
def test_asked_for_in_one_line(maud: Person, chalk: Glaze, ember: Glaze, asked: Asked, found: int) -> None:
    pieces = [
        glazed(maud, ("inside", chalk), form="bowl"),
        glazed(maud, ("outside", chalk), ("outside", ember), form="mug"),
    ]
    fired(maud, pieces, [("sound",)] * 2)
    assert len(queries.summaries(asked)) == found


def test_flaws_are_counted_where_they_were_seen(maud: Person, chalk: Glaze, ember: Glaze) -> None:
    pieces = [glazed(maud, ("inside", chalk), ("outside", ember)) for _ in range(3)]
    fired(
        maud,
        pieces,
        [
            ("flawed", ("pinholes", "inside"), ("running", "outside")),
            ("flawed", ("pinholes", "")),
            ("flawed", ("s-crack", "foot")),
        ],
    )
    chalks = Combination.objects.get(layers__glaze=chalk)
    rows = queries.results().filter(combination=chalks)
    assert [(flaw.kind, flaw.count) for flaw in queries.went_wrong(rows)] == [("pinholes", 2)]
    embers = queries.results().filter(combination=Combination.objects.get(layers__glaze=ember))
    counted = {(flaw.kind, flaw.count) for flaw in queries.went_wrong(embers)}
    assert counted == {("pinholes", 1), ("running", 1)}


def test_by_shelf_from_the_top(maud: Person, chalk: Glaze) -> None:
    pieces = [glazed(maud, ("inside", chalk)) for _ in range(6)]
    fired(maud, pieces, [("sound",)] * 5 + [("lost",)], layers=3)
    shelves = queries.by_layer(queries.results())
    assert [shelf.name for shelf in shelves] == ["Top shelf", "Shelf 2", "Bottom shelf"]
    assert shelves[0].told == "1 sound, 1 lost"
    assert shelves[2].outcomes == ("sound", "sound")


def test_split_by_kiln_and_cone(maud: Person, chalk: Glaze) -> None:
    for name, cone in (("Big", "6"), ("Small", "7")):
        fired(maud, [glazed(maud, ("inside", chalk))], [("sound",)], kiln=factories.kiln(name), cone=cone)
    rows = queries.results()
    assert {part.words for part in queries.split_by(rows, "kiln")} == {"Big", "Small"}
    assert {part.words for part in queries.split_by(rows, "cone")} == {"Cone 6", "Cone 7"}


def test_bisque_says_nothing_of_glazes(maud: Person) -> None:
    firing = factories.firing("unloading", kind="bisque", pieces=1)
    factories.unload_one(firing.placements.get(), "sound", by=maud)
    settling.close_firing(firing=firing, by=maud, client_id=factories.client_id(), energy_kwh="60")
    assert GlazeResult.objects.count() == 0


@pytest.mark.parametrize("count", [1, 20])
def test_three_queries_whatever_the_number(count: int, maud: Person, django_assert_num_queries) -> None:
    pieces = [glazed(maud, ("inside", factories.glaze(f"Glaze {number}"))) for number in range(count)]
    fired(maud, pieces, [("sound",)] * count, layers=4)
    with django_assert_num_queries(3):
        assert len(queries.summaries()) == count


def test_the_newest_have_a_photo_from_after_the_fire_first(maud: Person, chalk: Glaze) -> None:
    fired(maud, [glazed(maud, ("inside", chalk))], [("sound",)], lit_at=NOW - timedelta(days=3))
    [row] = queries.newest(queries.results())
    assert (row.photo_after, row.photo_any) == (None, None)
