"""A piece that nobody knew turns out to be one of the books."""

from __future__ import annotations

from typing import Any

import pytest

from studio.actions import settling, unload
from studio.actions.known_again import is_this
from studio.actions.pieces import put_on_shelf
from studio.actions.pieces_end import lose_piece
from studio.actions.undo import undo
from studio.actions.unload_found import Unmarked, found_piece
from studio.domain.problems import Refused
from studio.models import Charge, Event, Firing, Notice, Piece, Placement, Tag
from studio.queries.unload import unload_of
from tests import factories as make
from tests.actions.replay import agrees
from tests.views.world import photo_of

pytestmark = pytest.mark.django_db
NOW = make.NOW


@pytest.fixture
def firing() -> Firing:
    make.studio()
    make.shelf("Ready A")
    pots = [make.piece(maker=make.student(name), stage="glazed") for name in ("Ines", "Tobias")]
    return make.firing(Firing.State.UNLOADING, pieces=pots)


def found_in(firing: Firing, **values: Any) -> Piece:
    what = Unmarked(width_mm=105, depth_mm=105, height_mm=90, form="bowl")
    answer = found_piece(
        firing=firing, by=firing.made_by, client_id=make.client_id(), unmarked=what, now=NOW, **values
    )
    return answer.placement.piece


def known(found: Piece, piece: Piece, sent: str = "") -> Event:
    maud = make.tutor() if not Piece.objects.exists() else Firing.objects.first().made_by
    return is_this(found=found, known=piece, by=maud, client_id=sent or make.client_id(), now=NOW)


def fresh(piece: Piece) -> Piece:
    return Piece.objects.get(pk=piece.pk)


def snapshot() -> dict[str, list[Any]]:
    """What an undo must bring back."""
    return {
        "pieces": list(Piece.objects.order_by("pk").values_list("pk", "stage", "shelf", "maker")),
        "places": list(Placement.objects.order_by("pk").values_list("pk", "taken_out_at", "holds_piece"))[:3],
        "answers": [
            (place.placement.pk, place.answer.outcome if place.answer else None, place.found)
            for place in unload_of(Firing.objects.first()).places
        ],
        "tags": list(Tag.objects.order_by("pk").values_list("pk", "retired_at")),
        "photos": [(piece.pk, piece.photos.count()) for piece in Piece.objects.order_by("pk")],
        "flaws": [
            (piece.pk, piece.flaws.filter(withdrawn_at__isnull=True).count())
            for piece in Piece.objects.order_by("pk")
        ],
    }


@pytest.mark.parametrize("said", ["unanswered", "missing"])
def test_it_is_the_one_expected_here(firing: Firing, said: str) -> None:
    place = firing.placements.order_by("pk").first()
    shelf = make.shelf()
    found = found_in(firing, outcome="flawed", flaws=[unload.SeenFlaw("crazing", "inside")], shelf=shelf)
    photo_of(found, firing.made_by, firing=firing)
    if said == "missing":
        unload.missing_piece(placement=place, by=firing.made_by, client_id=make.client_id(), now=NOW)
    was = snapshot()
    event = known(found, place.piece)

    piece = fresh(place.piece)
    assert (piece.stage, piece.shelf) == ("fired", shelf)
    assert fresh(found).stage == "withdrawn"
    assert piece.photos.count() == 1
    assert unload.standing_answer(place).outcome == "flawed"
    assert [flaw.kind for flaw in piece.flaws.filter(withdrawn_at__isnull=True)] == ["crazing"]
    assert unload_of(firing).total == 2
    assert agrees(piece)
    assert agrees(fresh(found))

    undo(event=event, by=firing.made_by, client_id=make.client_id(), now=NOW)
    assert snapshot() == was
    assert agrees(fresh(piece))
    assert agrees(fresh(found))


def test_one_lost_in_an_earlier_load_pays_its_share_here(firing: Firing) -> None:
    ines = firing.placements.order_by("pk").first().piece.maker
    missing = make.piece(maker=ines, stage="glazed")
    lose_piece(piece=missing, cause="broken", by=firing.made_by, client_id=make.client_id(), now=NOW)
    found = found_in(firing)
    was = snapshot()
    event = known(found, fresh(missing))
    assert fresh(missing).stage == "ready"
    assert unload_of(firing).total == 3
    undo(event=event, by=firing.made_by, client_id=make.client_id(), now=NOW)
    assert snapshot() == was
    known(found, fresh(missing))
    make.answered(firing)
    settling.close_firing(
        firing=firing, by=firing.made_by, client_id=make.client_id(), energy_kwh="60", now=NOW
    )
    assert Charge.objects.filter(person=ines).count() == 2
    ready = Notice.objects.get(kind="ready", recipient=ines)
    assert fresh(missing) in ready.pieces.all()
    with pytest.raises(Refused) as refused:  # the firing is closed: what it shared stands on this
        undo(
            event=fresh(missing).events.filter(kind="known").last(),
            by=firing.made_by,
            client_id=make.client_id(),
            now=NOW,
        )
    assert refused.value.codes == ["closed"]


def test_an_orphan_on_a_shelf_is_known_long_after(firing: Firing) -> None:
    found = found_in(
        firing, outcome="flawed", flaws=[unload.SeenFlaw("crazing", "inside")], jobs=["sand-foot"]
    )
    place = firing.placements.order_by("pk").first()
    unload.missing_piece(placement=place, by=firing.made_by, client_id=make.client_id(), now=NOW)
    make.answered(firing)
    settling.close_firing(
        firing=firing, by=firing.made_by, client_id=make.client_id(), energy_kwh="60", now=NOW
    )
    shelf = make.shelf("Nobody's")
    put_on_shelf(piece=found, shelf=shelf, by=firing.made_by, client_id=make.client_id(), now=NOW)
    photo_of(found, firing.made_by)
    charges, was = Charge.objects.count(), snapshot()
    event = known(found, place.piece)
    piece = fresh(place.piece)
    assert (piece.stage, piece.shelf, piece.photos.count()) == ("finishing", shelf, 1)
    assert piece.flaws.filter(withdrawn_at__isnull=True).count() == 1
    assert piece.jobs.get().kind == "sand-foot"
    assert fresh(found).stage == "withdrawn"
    assert Charge.objects.count() == charges
    merged = fresh(found).events.last()
    undo(
        event=merged, by=firing.made_by, client_id=make.client_id(), now=NOW
    )  # from the other piece's history
    assert snapshot() == was
    assert event.undone_by is not None
    assert agrees(piece)
    assert agrees(fresh(found))


def test_sent_twice_is_once_and_what_cannot_be_is_refused(firing: Firing) -> None:
    place, other = firing.placements.order_by("pk")
    found, sent = found_in(firing), make.client_id()
    make.unload_one(other, now=NOW)
    for piece, code in (
        (other.piece, "answered"),
        (found, "same-piece"),
        (make.piece(stage="collected"), "ended"),
    ):
        with pytest.raises(Refused) as refused:
            known(fresh(found), fresh(piece))
        assert refused.value.codes == [code]
    elsewhere = make.firing(Firing.State.COOLING).placements.get().piece
    with pytest.raises(Refused) as refused:
        known(fresh(found), elsewhere)
    assert refused.value.codes == ["in-other-kiln"]
    assert known(found, place.piece, sent).pk == known(found, place.piece, sent).pk
    with pytest.raises(Refused):
        is_this(found=make.piece(stage="ready"), known=place.piece, by=firing.made_by, client_id="another")
