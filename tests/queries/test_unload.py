"""The unload pages ask the same number of questions for one piece as for thirty."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import unload
from studio.domain.stages import Stage
from studio.models import Firing, GlazeOnPiece, Photo, Piece
from studio.queries.unload import orphans, reconcile, unload_of
from tests import factories as make

pytestmark = pytest.mark.django_db


def photo(piece: Piece, *, taken_at: object, firing: Firing | None = None) -> Photo:
    name = make.client_id()
    return Photo.objects.create(
        piece=piece,
        stage=piece.stage,
        firing=firing,
        taken_at=taken_at,
        file=f"{name}.jpg",
        thumb=f"{name}-400.jpg",
        width_px=10,
        height_px=10,
        sha256="0" * 64,
        client_id=name,
    )


def full(count: int, layers: int = 1) -> Firing:
    glaze = make.glaze()
    pots = [make.piece(stage=Stage.GLAZED) for _ in range(count)]
    firing = make.firing(Firing.State.UNLOADING, pieces=pots, layers=layers)
    for number, placement in enumerate(firing.placements.order_by("pk")):
        GlazeOnPiece.objects.create(piece=placement.piece, surface="outside", glaze=glaze, put_on_at=make.NOW)
        photo(placement.piece, taken_at=firing.lit_at - timedelta(days=1))
        if number % 2:
            unload.answer_place(
                placement=placement,
                outcome="flawed",
                flaws=[unload.SeenFlaw("crazing")],
                jobs=["sand-foot"],
                by=firing.made_by,
                client_id=make.client_id(),
                now=make.NOW,
            )
    return firing


def read_all(firing: Firing) -> int:
    page = unload_of(firing)
    for place in page.places:
        assert place.piece.maker.slip_name(make.NOW.date())
        assert [on.glaze.name for on in place.piece.glazes_on.all()]
        assert place.before.file
        assert place.flaws is not None
        assert place.jobs is not None
        assert place.answer is None or place.answer.by.first_name
    assert page.next
    return page.total


def test_one_and_thirty_pieces_cost_the_same(django_assert_max_num_queries: object) -> None:
    small, large = full(2), full(30, layers=3)
    with django_assert_max_num_queries(10) as few:
        assert read_all(small) == 2
    with django_assert_max_num_queries(10) as many:
        assert read_all(large) == 30
    assert len(few.captured_queries) == len(many.captured_queries)
    with django_assert_max_num_queries(10):
        assert len(reconcile(large)) == 15


def test_layers_come_from_the_top_and_what_was_passed_over_comes_round_again() -> None:
    firing = make.firing(Firing.State.UNLOADING, pieces=6, layers=3)
    page = unload_of(firing)
    assert [(row.name, row.layer.number, row.total) for row in page.layers] == [
        ("Top shelf", 3, 2),
        ("Shelf 2", 2, 2),
        ("Bottom shelf", 1, 2),
    ]
    assert page.next == page.layers[0].places[0]
    skipped = page.next
    for place in page.places[1:]:
        assert page.after(skipped) is not None
        unload.answer_place(
            placement=place.placement,
            outcome="sound",
            by=firing.made_by,
            client_id=make.client_id(),
            now=make.NOW,
        )
        page = unload_of(firing)
    assert [(row.answered, row.left) for row in page.layers] == [(1, 1), (2, 0), (2, 0)]
    assert page.next.piece == skipped.piece
    assert page.after(page.places[-1]).piece == skipped.piece
    assert page.counts == {"sound": 5, "flawed": 0, "lost": 0}
    assert page.place_of(skipped.piece.code).piece == skipped.piece
    assert page.place_of("nothing") is None
    assert page.layer_of(page.next).name == "Top shelf"
    assert page.last.piece == page.places[-1].piece


def test_the_photo_from_before_the_firing_is_told_from_those_of_it() -> None:
    pot = make.piece(stage=Stage.GLAZED)
    firing = make.firing(Firing.State.UNLOADING, pieces=[pot])
    photo(pot, taken_at=firing.lit_at - timedelta(days=9))
    before = photo(pot, taken_at=firing.lit_at - timedelta(days=1))
    after = photo(pot, taken_at=firing.opened_at + timedelta(minutes=3), firing=firing)
    (place,) = unload_of(firing).places
    assert (place.before, place.after) == (before, (after,))


def test_the_studios_own_pieces_are_no_orphans() -> None:
    make.piece(studios_own=True)
    make.piece()
    nobodys = make.piece(nobodys=True)
    make.piece(nobodys=True, stage=Stage.RECLAIMED)
    assert list(orphans()) == [nobodys]
