"""One pot from bone dry through two firings to ready, and its history played again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import firings, loads, loads_places, money, readings, settling, unload
from studio.actions.pieces_glaze import Coat, note_glazes
from studio.domain.stages import Stage
from studio.models import Event, Notice
from studio.queries.money import balance
from tests import factories as make
from tests.actions.replay import agrees

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def fire(pot: object, *, kind: str, cone: str, kiln: object, by: object, start: object) -> object:
    """Plan, load, light, read, end, open, answer and close; three hours to load, a day and a half to cool."""
    firing = loads.plan_firing(kiln=kiln, kind=kind, cone=cone, by=by, now=start)
    loads.set_layers(firing=firing, props_mm=[150, 0], by=by)
    loads_places.load_piece(
        firing=firing, piece=pot, layer=firing.layers.get(number=1), by=by, stand_mm=12, now=start
    )
    firings.light(firing=firing, by=by, client_id=make.client_id(), now=start + 3 * HOUR)
    readings.note_reading(firing=firing, temperature_c=600, by=by, now=start + 7 * HOUR)
    firings.end_firing(firing=firing, by=by, now=start + 12 * HOUR)
    readings.note_reading(firing=firing, temperature_c="44,5", by=by, now=start + 36 * HOUR)
    unload.start_unload(firing=firing, by=by, now=start + 36 * HOUR)
    unload.answer_place(
        placement=firing.placements.get(),
        outcome="sound",
        by=by,
        client_id=make.client_id(),
        shelf=make.shelf(),
        now=start + 37 * HOUR,
    )
    return settling.close_firing(
        firing=firing, by=by, client_id=make.client_id(), energy_kwh="55", now=start + 38 * HOUR
    )


def test_a_bowl_goes_all_the_way() -> None:
    make.studio()
    maud, ines, kiln = make.tutor(), make.student(), make.kiln()
    bowl = make.piece(maker=ines, stage=Stage.BONE_DRY, clay=make.clay(cone="6"))
    first = fire(bowl, kind="bisque", cone="04", kiln=kiln, by=maud, start=make.NOW)
    bowl.refresh_from_db()
    assert bowl.stage == Stage.BISQUED
    assert not Notice.objects.exists()

    note_glazes(
        piece=bowl,
        coats=[
            Coat(surface="outside", glaze=make.glaze("Chalk"), coats=2, method="dipped", order=1, notes="")
        ],
        by=maud,
        client_id=make.client_id(),
        now=make.NOW + 50 * HOUR,
    )
    second = fire(bowl, kind="glaze", cone="6", kiln=kiln, by=maud, start=make.NOW + 60 * HOUR)
    bowl.refresh_from_db()
    assert bowl.stage == Stage.READY
    assert agrees(bowl)
    assert list(bowl.events.values_list("kind", flat=True)) == [
        Event.Kind.MADE,
        Event.Kind.LIT,
        Event.Kind.UNLOADED,
        Event.Kind.GLAZES,
        Event.Kind.LIT,
        Event.Kind.UNLOADED,
    ]
    (told,) = Notice.objects.all()
    assert list(told.pieces.all()) == [bowl]
    owed = balance(ines)
    shares = [share for each in (first, second) for share in each.shares.filter(payer=ines)]
    assert owed == sum(share.amount_minor for share in shares) > 0
    money.record_payment(
        person=ines, amount_minor=owed, method="card", by=maud, client_id=make.client_id(), now=make.NOW
    )
    assert balance(ines) == 0
