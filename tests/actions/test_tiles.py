"""Test tiles: a series planned whole or not at all, its marks apart, moved on together, and what was seen."""

from __future__ import annotations

from decimal import Decimal

import pytest

from studio.actions import tiles as actions
from studio.actions.undo import last_undoable, undo
from studio.domain import marks
from studio.domain.problems import Refused
from studio.models import Glaze, Piece, SeriesTile, TileSeries
from studio.queries import tiles as queries
from tests import factories
from tests.factories import client_id

pytestmark = pytest.mark.django_db


def test_every_base_has_its_row_and_every_tile_its_mark() -> None:
    chalk, iron = factories.glaze("Chalk"), factories.glaze("Iron")
    series = factories.tile_series(bases=[chalk, iron], count=4, last=Decimal(6))
    rows = queries.by_base(queries.tiles_of(series))
    assert [(row.base, [tile.mix for tile in row.tiles]) for row in rows] == [
        (chalk, ["Chalk alone", *(f"Chalk with {n} % red iron oxide" for n in (2, 4, 6))]),
        (iron, ["Iron alone", *(f"Iron with {n} % red iron oxide" for n in (2, 4, 6))]),
    ]
    pieces = [tile.piece for tile in series.tiles.all()]
    assert {piece.studios_own for piece in pieces} == {True}
    assert {(piece.form, piece.stage) for piece in pieces} == {("tile", "wet")}
    for piece in pieces:
        others = [other.mark for other in pieces if other != piece]
        assert not marks.clashes(piece.mark, others)
        assert piece.tags.filter(retired_at__isnull=True).exists()


def test_a_line_blend_from_end_to_end() -> None:
    chalk, iron = factories.glaze("Chalk"), factories.glaze("Iron")
    series = factories.tile_series(
        kind="blend", bases=[chalk], blended_with=iron, addition="", last=Decimal(100), count=5
    )
    rows = queries.tiles_of(series)
    assert [row.mix for row in rows][1] == "75 % Chalk, 25 % Iron"
    assert [(row.weighed.base_g, row.weighed.other_g) for row in rows][1] == (Decimal(75), Decimal(25))


def test_planned_twice_is_planned_once() -> None:
    given = {"client_id": client_id(), "by": factories.tutor()}
    assert factories.tile_series(**given) == factories.tile_series(**given)
    assert (TileSeries.objects.count(), SeriesTile.objects.count(), Piece.objects.count()) == (1, 3, 3)


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"addition": ""}, "no-addition"),
        ({"kind": "blend"}, "no-second"),
        ({"bases": 5}, "bases"),
        ({"bases": 2, "kind": "blend"}, "bases"),
        ({"bases": 4, "count": 13}, "steps"),
        ({"cone": ""}, "missing"),
        ({"name": " "}, None),
        ({"dry_g": Decimal(0)}, None),
        ({"width_mm": 2}, None),
    ],
)
def test_refused_whole(changed: dict[str, object], code: str | None) -> None:
    if "bases" in changed:
        changed = {**changed, "bases": [factories.glaze() for _ in range(changed["bases"])]}
    with pytest.raises(Refused) as refused:
        factories.tile_series(**changed)
    if code:
        assert [problem.code for problem in refused.value.problems] == [code]
    assert not TileSeries.objects.exists()
    assert not Piece.objects.exists()


def test_a_glaze_is_not_blended_with_itself() -> None:
    chalk = factories.glaze("Chalk")
    with pytest.raises(Refused, match="blended with itself"):
        factories.tile_series(kind="blend", bases=[chalk], blended_with=chalk)


def test_a_helper_plans_nothing() -> None:
    with pytest.raises(Refused):
        factories.tile_series(by=factories.helper())


def test_moved_on_together_and_each_undone_by_itself() -> None:
    series, ivo = factories.tile_series(), factories.helper()
    given = {"series": series, "to": "bone-dry", "by": ivo, "client_id": client_id()}
    assert actions.move_series(**given) == 3
    piece = series.tiles.first().piece
    assert piece.stage == "bone-dry"
    undo(event=last_undoable(piece), by=ivo, client_id=client_id())
    assert sorted(series.tiles.values_list("piece__stage", flat=True)) == ["bone-dry", "bone-dry", "wet"]
    with pytest.raises(Refused, match="No tile"):
        actions.move_series(series=series, to="collected", by=ivo, client_id=client_id())


def test_fired_noted_and_hung_up() -> None:
    series, ivo = factories.tile_series(), factories.helper()
    pieces = [tile.piece for tile in series.tiles.all()]
    Piece.objects.filter(pk__in=[piece.pk for piece in pieces]).update(stage="glazed")
    pieces = list(Piece.objects.filter(test_tile__series=series).order_by("test_tile__place"))
    factories.closed_firing(pieces=pieces, by=series.planned_by)
    tile = actions.note_tile(
        tile=series.tiles.get(place=2),
        seen="Breaks amber",
        liked=True,
        by=ivo,
        client_id=client_id(),
    )
    assert (tile.seen, tile.liked) == ("Breaks amber", True)
    rows = queries.tiles_of(series)
    assert {row.outcome for row in rows} == {"sound"}
    assert "cone 6, firing" in rows[0].fired
    assert dict(queries.next_stages(rows))["collected"] == 3
    assert actions.move_series(series=series, to="collected", by=ivo, client_id=client_id()) == 3
    assert {tile.piece.stage for tile in series.tiles.all()} == {"collected"}
    [listed] = queries.all_series()
    assert (listed.tile_count, listed.fired_count, listed.liked_count) == (3, 3, 1)


def test_put_away_and_out_again() -> None:
    series = factories.tile_series()
    actions.put_series_away(series=series, by=series.planned_by)
    assert (list(queries.all_series()), list(queries.all_series(away=True))) == ([], [series])
    actions.put_series_away(series=series, by=series.planned_by)
    assert list(queries.all_series()) == [series]


def test_a_glaze_with_tiles_stays_in_the_books() -> None:
    series = factories.tile_series()
    with pytest.raises(Exception, match="protected"):
        Glaze.objects.get(pk=series.tiles.first().base_id).delete()
