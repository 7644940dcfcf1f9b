"""What is lost: in the fire and beside it, by cause, stage, form and month; what was undone is not."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from studio.actions import pieces_end, undo
from studio.models import Person, UnloadAnswer
from studio.queries.losses import losses
from tests import factories
from tests.support import many_results

pytestmark = pytest.mark.django_db

SINCE = factories.NOW - timedelta(days=90)
LONG_AGO = factories.NOW - timedelta(days=900)


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


def test_by_cause_stage_form_and_month(maud: Person) -> None:
    pots = [factories.piece(stage="bone-dry", form="bowl") for _ in range(3)]
    firing = factories.firing("unloading", kind="bisque", pieces=pots, layers=3)
    exploded, *others = firing.placements.select_related("piece", "layer", "firing")
    factories.unload_one(exploded, "lost", loss_cause="exploded", at=factories.NOW)
    for place in others:
        factories.unload_one(place, at=factories.NOW)
    dropped = factories.piece(stage="leather-hard", form="mug")
    pieces_end.lose_piece(
        piece=dropped,
        cause="broken",
        by=maud,
        client_id=factories.client_id(),
        at=factories.NOW - timedelta(days=40),
    )
    found = losses(since=SINCE, until=factories.NOW)
    assert (found.whole.successes, found.whole.trials) == (2, 4)
    assert found.causes == (("Broken", 1), ("Exploded", 1))
    assert found.stages == (("in the bisque firing", 1), ("leather-hard", 1))
    assert [(form, lost.successes, lost.trials) for form, lost in found.forms] == [
        ("Mug", 1, 1),
        ("Bowl", 1, 3),
    ]
    assert [(month.first, month.causes) for month in found.months] == [
        (date(2025, 8, 1), {}),
        (date(2025, 9, 1), {}),
        (date(2025, 10, 1), {"broken": 1}),
        (date(2025, 11, 1), {"exploded": 1}),
    ]


def test_an_undone_loss_is_none(maud: Person) -> None:
    piece = factories.piece(stage="wet")
    number = factories.client_id()
    event = pieces_end.lose_piece(piece=piece, cause="cracked", by=maud, client_id=number)
    undo.undo(event=event, by=maud, client_id=factories.client_id())
    found = losses(since=SINCE, until=factories.NOW)
    assert (found.whole, found.causes) == (None, ())
    assert all(month.lost == 0 for month in found.months)


def test_before_the_span_nothing_counts(maud: Person) -> None:
    many_results.fired(40, on_each=0)
    assert losses(since=timezone.now() + timedelta(days=1), until=timezone.now()).whole is None
    assert losses(since=LONG_AGO, until=factories.NOW).whole.trials == 40


def test_one_query_count_however_many(maud: Person, django_assert_max_num_queries) -> None:
    for count in (40, 400):
        many_results.fired(count, on_each=0, seed=count)
        with django_assert_max_num_queries(4):
            found = losses(since=LONG_AGO, until=factories.NOW)
    lost = UnloadAnswer.objects.filter(outcome="lost").count()
    assert sum(month.lost for month in found.months) == lost
