"""What the demo studio found out by testing: laboratory reports, test tiles, and bars measured twice."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from itertools import count
from random import Random

from studio.actions import laboratory, shrinkage, tiles
from studio.domain.stages import FiringKind, Stage
from studio.imaging.photos import store_ready_many
from studio.imaging.photos_drawn import drawn_photo
from studio.models import Firing, Piece, TileSeries

from .books import Books
from .fires import Fires, Seen
from .ware import Ware

#: A seed and numbers of its own, so that the rest of the story stays as it is.
_SEED, _FIRST_ID = 7, 1_000_000
#: Chalk with more and more iron, as it looks fired, and what was said of each.
_IRON = (
    ("#d9d6cc", "", False),
    ("#cdbf9f", "A warm cream, breaks on the edge.", False),
    ("#b98f57", "Honey. Breaks amber at the rim.", True),
    ("#8a5a34", "Brown, still satin.", False),
    ("#553524", "Nearly black, and matte.", False),
)
_BARS_MM = ("87.4", "87.9", "87.5", "87.1", "87.7", "87.6")


def test_things(books: Books) -> None:
    ware = Ware(books, Random(_SEED), count(_FIRST_ID))  # noqa: S311 - a story, not a secret
    _laboratory(books, ware)
    _bars(books, ware)
    _iron(books, ware)
    _blend(books, ware)


def _laboratory(books: Books, ware: Ware) -> None:
    """Chalk was tested this year, out of a firing in the books; the blue long ago, so that it is due."""
    firing = (
        Firing.objects.filter(kind=FiringKind.GLAZE, kiln=books.kilns["big"], state=Firing.State.CLOSED)
        .order_by("-number")
        .first()
    )
    common = {
        "clay": books.clays["stoneware"],
        "kiln": books.kilns["big"],
        "cone": "6",
        "method": "ISO 6486-1",
        "laboratory": "Tarn End Laboratory",
        "depth_mm": 62,
        "capacity_ml": 600,
        "by": books.tutor,
    }
    laboratory.enter_lab_test(
        glazes=[books.glazes["chalk"]],
        firing=firing,
        tested_on=books.today - timedelta(days=12),
        reference="TE 2231",
        lead="0.04 <0.02 0.03 <0.02",
        cadmium="<0.005 <0.005 <0.005 <0.005",
        notes="Four bowls, glazed inside and over the rim.",
        client_id=ware.client_id(),
        now=books.at(10),
        **common,
    )
    laboratory.enter_lab_test(
        glazes=[books.glazes["mere"]],
        tested_on=books.today - timedelta(days=1200),
        reference="TE 1804",
        lead="0.31 0.28 0.35",
        cadmium="0.02 0.01 0.02",
        client_id=ware.client_id(),
        now=books.at(300),
        **common,
    )


def _bars(books: Books, ware: Ware) -> None:
    for number, later in enumerate(_BARS_MM):
        shrinkage.enter_pair(
            clay=books.clays["stoneware"],
            stage="fired",
            wet_mm=Decimal(100),
            later_mm=Decimal(later),
            what=f"Bar {number + 1}",
            measured_on=books.today - timedelta(days=200 - 30 * number),
            by=books.helper,
            client_id=ware.client_id(),
            now=books.now,
        )


def _plan(books: Books, ware: Ware, days: int, **fields: object) -> TileSeries:
    return tiles.plan_series(
        **{
            "first": Decimal(0),
            "last": Decimal(8),
            "count": len(_IRON),
            "clay": books.clays["stoneware"],
            "cone": "6",
            "dry_g": Decimal(100),
            "width_mm": 52,
            "depth_mm": 42,
            "height_mm": 82,
            "shelf": books.shelves["rack"],
            "by": books.tutor,
            "client_id": ware.client_id(),
            "now": books.at(days, "14:00"),
            "random": ware.random,
            **fields,
        }
    )


def _iron(books: Books, ware: Ware) -> None:
    """A series that has been fired, photographed and talked over."""
    series = _plan(
        books,
        ware,
        50,
        name="Iron in Chalk Satin",
        kind="addition",
        bases=[books.glazes["chalk"]],
        addition="red iron oxide",
        notes="Dipped twice, three seconds each.",
    )
    _move(series, books, ware, Stage.BONE_DRY, 42)
    _fire(series, books, ware, "bisque", "04", 40, "bisque")
    _move(series, books, ware, Stage.GLAZED, 37)
    _fire(series, books, ware, "glaze", "6", 36, "readya")
    pictures = store_ready_many(
        drawn_photo(
            form="tile",
            width_mm=46,
            height_mm=72,
            stage="ready",
            random=ware.random,
            colour=colour,
            clay_colour=books.clays["stoneware"].colour,
            width_px=800,
            height_px=1000,
        )
        for colour, _, _ in _IRON
    )
    for tile, picture, (_, seen, liked) in zip(series.tiles.order_by("place"), pictures, _IRON, strict=True):
        tiles.note_tile(
            tile=tile,
            seen=seen,
            liked=liked,
            photo=picture,
            by=books.tutor,
            client_id=ware.client_id(),
            now=books.at(33, "16:00"),
        )
    _move(series, books, ware, Stage.COLLECTED, 33)


def _move(series: TileSeries, books: Books, ware: Ware, to: Stage, days: int) -> None:
    tiles.move_series(
        series=series, to=to, by=books.tutor, client_id=ware.client_id(), now=books.at(days, "17:00")
    )


def _fire(series: TileSeries, books: Books, ware: Ware, kind: str, cone: str, days: int, shelf: str) -> None:
    fires = Fires(ware)
    pieces = list(Piece.objects.filter(test_tile__series=series).order_by("pk"))
    firing = fires.plan(pieces, kind=kind, cone=cone, kiln="test", now=books.at(days, "09:00"), layers=[0])
    fires.light(firing, books.at(days, "09:30"), until=books.at(days - 2, "09:00"), kwh="12.1")
    done = fires.unload(
        firing, books.at(days - 2, "09:05"), seen=lambda piece: Seen(), shelf=lambda piece, saw: shelf
    )
    fires.close(firing, done + timedelta(minutes=5))


def _blend(books: Books, ware: Ware) -> None:
    """A line blend that is planned and dries."""
    _plan(
        books,
        ware,
        3,
        name="From Fern to Mere Blue",
        kind="blend",
        bases=[books.glazes["fern"]],
        blended_with=books.glazes["mere"],
        last=Decimal(100),
    )
