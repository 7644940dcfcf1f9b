"""What a firing cost and who pays it, asked at one query count however much was in the kiln."""

from __future__ import annotations

import pytest

from studio.actions import settling
from studio.domain.stages import Stage
from studio.models import Charge, Firing
from studio.queries import settling as queries
from studio.queries.settled import settled_of
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("count", [1, 30])
def test_a_draft_costs_the_same_for_one_and_thirty(count: int, django_assert_num_queries: object) -> None:
    make.studio(share_basis="own-box")
    lesson = make.session(make.course(firing_allowance_litres=1))
    pots = [make.piece(stage=Stage.GLAZED, session=lesson) for _ in range(count)]
    firing = make.answered(make.firing(Firing.State.UNLOADING, pieces=pots))
    firing = Firing.objects.select_related("kiln").get(pk=firing.pk)
    with django_assert_num_queries(9):
        draft = queries.draft_of(firing, now=make.NOW)
    assert len(draft.shares) == count
    assert sum(share.amount_minor for share in draft.shares) + draft.empty_minor == draft.cost_minor
    assert draft.charged_minor + draft.studio_minor == draft.cost_minor
    assert not Charge.objects.exists()


@pytest.mark.parametrize("count", [1, 30])
def test_posted_shares_cost_four_queries(count: int, django_assert_num_queries: object) -> None:
    firing = make.closed_firing(pieces=count, layers=3)
    with django_assert_num_queries(4):
        settled = settled_of(firing)
        assert settled.rows[0].maker.full_name
    assert len(settled.rows) == count
    assert settled.empty_minor > 0
    assert sum(row.amount_minor for row in settled.rows) + settled.empty_minor == settled.cost_minor


def test_what_the_page_shows_before_closing_is_what_is_posted() -> None:
    firing = make.answered(make.firing(Firing.State.UNLOADING, pieces=5))
    before = queries.draft_of(firing, now=make.NOW)
    settlement = settling.close_firing(
        firing=firing, by=firing.made_by, client_id=make.client_id(), now=make.NOW
    )
    posted = {share.placement_id: (share.amount_minor, share.words) for share in settlement.shares.all()}
    for share in before.shares:
        assert posted[share.placement.pk] == (share.amount_minor, share.words)
    assert [(line.kind, line.words, line.amount_minor) for line in before.lines] == [
        (line.kind, line.words, line.amount_minor) for line in settlement.cost_lines.order_by("pk")
    ]
