"""S-cracks by the base, from rows in the database to what is said: on simulated studios, and what counts."""

from __future__ import annotations

from random import Random

import pytest

from studio.actions import undo
from studio.actions.unload import SeenFlaw
from studio.domain.trend import At, Trend
from studio.models import Flaw, Piece, UnloadAnswer
from studio.queries.base_cracks import base_cracks
from tests import factories
from tests.support import many_results

pytestmark = pytest.mark.django_db

STUDIOS = 100
PIECES = 300


def said_of_simulated_studios(*, growing: float, flat: float) -> list[Trend]:
    """The same 300 pots a hundred times: which of them crack is drawn anew, ``flat`` of them at a base of
    4 mm and ``growing`` more each mm."""
    rows = many_results.fired(PIECES, on_each=0)
    answers = {
        answer.placement.piece_id: answer for answer in UnloadAnswer.objects.select_related("placement")
    }
    found = []
    for seed in range(STUDIOS):
        random = Random(seed)
        Flaw.objects.all().delete()
        Flaw.objects.bulk_create(
            Flaw(answer=answers[piece.pk], piece=piece, kind="s-crack")
            for piece in rows
            if random.random() < flat + growing * (piece.base_mm - 4)
        )
        found.append(base_cracks().seen.trend)
    return found


def test_an_effect_that_is_there_is_found_in_95_of_100_simulated_studios() -> None:
    assert said_of_simulated_studios(growing=0.03, flat=0.03).count(Trend.MORE) >= 95


def test_none_is_found_where_there_is_none_in_95_of_100_simulated_studios() -> None:
    assert said_of_simulated_studios(growing=0.0, flat=0.15).count(Trend.NONE) >= 95


def out_of_the_kiln(*bases: int | None, cracked: bool, **values: object) -> list[Piece]:
    pieces = [factories.piece(stage="bone-dry", base_mm=mm, **values) for mm in bases]
    firing = factories.firing("unloading", kind="bisque", pieces=pieces, layers=2)
    for place in firing.placements.select_related("piece", "layer", "firing"):
        flaws = [SeenFlaw("s-crack", "foot")] if cracked else [SeenFlaw("warp", "rim")]
        factories.unload_one(place, "flawed", flaws=flaws)
    return pieces


def test_a_thrown_piece_counts_once_with_its_base() -> None:
    out_of_the_kiln(6, 9, cracked=True)
    out_of_the_kiln(6, 6, None, cracked=False)
    out_of_the_kiln(6, cracked=True, technique="slab")
    factories.piece(stage="bone-dry", base_mm=6)
    found = base_cracks()
    assert found.by_mm == (At(6, 1, 3), At(9, 1, 1))
    assert found.unmeasured == 1
    assert found.seen.trend == Trend.TOO_FEW


def test_an_undone_answer_tells_nothing() -> None:
    [piece] = out_of_the_kiln(6, cracked=True)
    event = piece.events.filter(kind="unloaded").get()
    undo.undo(event=event, by=factories.tutor(), client_id=factories.client_id())
    assert base_cracks().by_mm == ()
