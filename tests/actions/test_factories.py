"""The rows tests stand on are sound themselves."""

import pytest

from studio.domain.stages import FiringKind, Stage
from studio.models import Firing, Piece
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("state", ["planned", "firing", "cooling", "unloading", "cancelled"])
@pytest.mark.parametrize("kind", FiringKind)
def test_a_firing_in_each_state_has_its_pieces_where_it_says(state: str, kind: FiringKind) -> None:
    firing = factories.firing(state, kind=kind, pieces=3, layers=2)
    assert firing.placements.count() == 3
    in_kiln = state in {Firing.State.FIRING, Firing.State.COOLING, Firing.State.UNLOADING}
    for piece in Piece.objects.all():
        last = piece.events.last()
        assert (piece.stage, piece.shelf, piece.maker) == (last.to_stage, last.to_shelf, last.to_maker)
        assert (piece.stage in {"bisque-firing", "glaze-firing", "low-firing"}) == in_kiln


def test_pieces_have_marks_of_their_own() -> None:
    marks = {factories.piece(stage=Stage.READY).mark for _ in range(40)}
    assert len(marks) == 40
