"""Photos of a piece beside its firings: as it went in and as it came out."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.domain.stages import Stage
from studio.models import Event, Firing, Photo, Piece
from studio.queries.piece_photos import album, photos_of
from studio.queries.pieces_page import standing_events
from tests import factories as make

pytestmark = pytest.mark.django_db

NOW = make.NOW


def taken(piece: Piece, *, days_ago: float, stage: str = "bone-dry", firing: Firing | None = None) -> Photo:
    code = make.client_id()[:12]
    return Photo.objects.create(
        piece=piece,
        stage=stage,
        firing=firing,
        taken_at=NOW - timedelta(days=days_ago),
        file=f"{code}.jpg",
        thumb=f"{code}-small.jpg",
        width_px=1200,
        height_px=900,
        sha256="0" * 64,
        client_id=make.client_id(),
    )


def moved(piece: Piece, was: str, to: str, *, days_ago: float, firing: Firing | None = None) -> None:
    Event.objects.create(
        piece=piece,
        kind=Event.Kind.MOVED,
        from_stage=was,
        to_stage=to,
        firing=firing,
        at=NOW - timedelta(days=days_ago),
        recorded_at=NOW,
        client_id=make.client_id(),
    )


@pytest.fixture
def fired() -> tuple[Piece, Firing, Firing]:
    """A bowl through its bisque firing 20 days ago and its glaze firing 5 days ago."""
    make.studio()
    bowl = make.piece(stage="bone-dry", made_at=NOW - timedelta(days=40))
    bisque = make.firing(kind="bisque", pieces=0)
    glaze = make.firing(kind="glaze", pieces=0)
    moved(bowl, "bone-dry", "bisque-firing", days_ago=20, firing=bisque)
    moved(bowl, "bisque-firing", "bisqued", days_ago=18, firing=bisque)
    moved(bowl, "bisqued", "glazed", days_ago=10)
    moved(bowl, "glazed", "glaze-firing", days_ago=5, firing=glaze)
    moved(bowl, "glaze-firing", "ready", days_ago=3, firing=glaze)
    Piece.objects.filter(pk=bowl.pk).update(stage=Stage.READY)
    bowl.refresh_from_db()
    return bowl, bisque, glaze


def shown(bowl: Piece) -> tuple[list[tuple[int, int | None, int | None]], list[int]]:
    found = album(photos_of(bowl), standing_events(bowl))
    rows = [
        (row.firing.pk, row.before.pk if row.before else None, row.after.pk if row.after else None)
        for row in found.firings
    ]
    return rows, [photo.pk for photo in found.others]


def test_the_last_photo_before_and_the_first_after(fired: tuple[Piece, Firing, Firing]) -> None:
    bowl, bisque, glaze = fired
    thrown = taken(bowl, days_ago=40, stage="wet")
    dry = taken(bowl, days_ago=21)
    glazed = taken(bowl, days_ago=6, stage="glazed")
    out = taken(bowl, days_ago=3.01, stage="glaze-firing", firing=glaze)
    home = taken(bowl, days_ago=1, stage="ready")
    rows, others = shown(bowl)
    assert rows == [(glaze.pk, glazed.pk, out.pk), (bisque.pk, dry.pk, glazed.pk)]
    assert others == [home.pk, thrown.pk]


def test_a_photo_from_before_the_first_fire_is_not_before_the_second(
    fired: tuple[Piece, Firing, Firing],
) -> None:
    bowl, bisque, glaze = fired
    dry, out = taken(bowl, days_ago=21), taken(bowl, days_ago=2, stage="ready")
    assert shown(bowl) == ([(glaze.pk, None, out.pk), (bisque.pk, dry.pk, None)], [])


def test_a_photo_at_unloading_belongs_to_its_firing_though_the_clock_is_off(
    fired: tuple[Piece, Firing, Firing],
) -> None:
    bowl, bisque, _ = fired
    early = taken(bowl, days_ago=30, stage="bisque-firing", firing=bisque)
    rows, others = shown(bowl)
    assert (bisque.pk, None, early.pk) in rows
    assert others == []


def test_without_firings_all_photos_stand_together_and_none_is_no_album() -> None:
    make.studio()
    cup = make.piece(stage="wet")
    assert not album([], standing_events(cup))
    first, second = taken(cup, days_ago=2, stage="wet"), taken(cup, days_ago=1, stage="wet")
    assert shown(cup) == ([], [second.pk, first.pk])


def test_the_page_shows_them_beside_each_other(fired: tuple[Piece, Firing, Firing]) -> None:
    from tests.views.world import signed_in

    bowl, _bisque, glaze = fired
    taken(bowl, days_ago=6, stage="glazed")
    page = signed_in(bowl.maker).get(f"/pieces/{bowl.code}/").content.decode()
    assert f"Glaze firing {glaze.number}" in page
    assert "No photo after it" in page
    assert 'width="1200" height="900"' in page
    assert "Looking after it" in page
