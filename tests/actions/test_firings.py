"""A kiln is lit, its temperatures noted, and switched off; each of it can be undone."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from studio.actions import firings, loads, loads_places, readings
from studio.domain.problems import Refused
from studio.domain.stages import FiringKind, Stage
from studio.models import Event, Firing, GlazeOnPiece, Override, Placement
from tests import factories as make

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def loaded(*pieces: object, kind: str = "glaze", cone: str = "6") -> Firing:
    by = make.tutor()
    firing = loads.plan_firing(kiln=make.kiln(), kind=kind, cone=cone, by=by, now=make.NOW)
    for piece in pieces:
        loads_places.load_piece(firing=firing, piece=piece, layer=firing.layers.get(), by=by, now=make.NOW)
    return firing


def light(firing: Firing, **values: object) -> Firing:
    values = {"by": firing.made_by, "client_id": make.client_id(), "now": make.NOW, **values}
    return firings.light(firing=firing, **values)


def lit(*, pieces: int = 1) -> Firing:
    return light(loaded(*(make.piece(stage=Stage.GLAZED) for _ in range(pieces))))


def test_lighting_puts_every_piece_into_the_kiln() -> None:
    shelf = make.shelf()
    pots = [make.piece(stage=Stage.GLAZED, shelf=shelf) for _ in range(3)]
    firing = light(loaded(*pots), meter_start_kwh="10412.5")
    assert (firing.state, firing.lit_at) == (Firing.State.FIRING, make.NOW)
    for pot in pots:
        pot.refresh_from_db()
        assert (pot.stage, pot.shelf) == (Stage.GLAZE_FIRING, None)
        event = pot.events.get(kind=Event.Kind.LIT)
        assert (event.from_stage, event.to_stage, event.from_shelf) == (
            Stage.GLAZED,
            Stage.GLAZE_FIRING,
            shelf,
        )
        assert (event.firing, event.by) == (firing, firing.made_by)
        assert Placement.objects.get(holds_piece=pot).firing == firing
    firing.refresh_from_db()
    assert firing.meter_start_kwh == Decimal("10412.5")


def test_a_button_pressed_twice_lights_once() -> None:
    firing, tap = loaded(make.piece(stage=Stage.GLAZED)), make.client_id()
    light(firing, client_id=tap)
    light(firing, client_id=tap, now=make.NOW + HOUR)
    assert Event.objects.filter(kind=Event.Kind.LIT).count() == 1
    firing.refresh_from_db()
    assert firing.lit_at == make.NOW
    with pytest.raises(Refused) as refused:
        light(firing)
    assert refused.value.codes == ["not-planned"]


def test_an_empty_kiln_is_not_lit() -> None:
    with pytest.raises(Refused) as refused:
        light(loaded())
    assert refused.value.codes == ["empty-load"]


def test_a_kiln_that_is_hot_is_not_lit_for_another_firing() -> None:
    first = lit()
    second = loads.plan_firing(kiln=first.kiln, kind="glaze", cone="6", by=first.made_by)
    loads_places.load_piece(
        firing=second, piece=make.piece(stage=Stage.GLAZED), layer=second.layers.get(), by=first.made_by
    )
    with pytest.raises(Refused, match=f"glaze firing {first.number}") as refused:
        light(second)
    assert refused.value.codes == ["kiln-busy"]


def test_what_has_changed_since_it_was_loaded_is_seen_at_lighting() -> None:
    pot = make.piece(stage=Stage.GLAZED)
    firing = loaded(pot)
    low = make.glaze("Barley", cone_from="05", cone_to="03")
    GlazeOnPiece.objects.create(piece=pot, surface="outside", glaze=low, put_on_at=make.NOW)
    with pytest.raises(Refused) as refused:
        light(firing)
    assert refused.value.codes == ["wrong-cone"]
    pot.refresh_from_db()
    assert pot.stage == Stage.GLAZED
    light(firing, override_reason="Wanted to run, in a dish")
    assert Override.objects.get().piece == pot


def test_what_was_overruled_at_loading_needs_no_second_reason() -> None:
    by, damp = make.tutor(), make.piece(stage=Stage.LEATHER_HARD)
    firing = loads.plan_firing(kiln=make.kiln(), kind="bisque", cone="04", by=by)
    loads_places.load_piece(
        firing=firing, piece=damp, layer=firing.layers.get(), by=by, override_reason="A test of damp clay"
    )
    light(firing)
    damp.refresh_from_db()
    assert damp.stage == Stage.BISQUE_FIRING
    assert Override.objects.count() == 1


def test_lighting_can_be_undone_with_everything_where_it_was() -> None:
    shelf = make.shelf()
    pot = make.piece(stage=Stage.GLAZED, shelf=shelf)
    firing, tap = light(loaded(pot)), make.client_id()
    readings.note_reading(firing=firing, temperature_c=40, by=firing.made_by, at=make.NOW, now=make.NOW)
    for _ in range(2):
        firings.undo_light(firing=firing, by=firing.made_by, client_id=tap, now=make.NOW + HOUR)
    pot.refresh_from_db()
    firing.refresh_from_db()
    assert (pot.stage, pot.shelf) == (Stage.GLAZED, shelf)
    assert (firing.state, firing.lit_at, firing.readings.count()) == (Firing.State.PLANNED, None, 0)
    assert [event.kind for event in pot.events.all()] == ["made", "lit", "undone"]
    assert Placement.objects.get(holds_piece=pot).firing == firing
    light(firing, now=make.NOW + 2 * HOUR)
    pot.refresh_from_db()
    assert pot.stage == Stage.GLAZE_FIRING


def test_lighting_stands_once_the_kiln_is_off() -> None:
    firing = lit()
    firings.end_firing(firing=firing, by=firing.made_by, now=make.NOW + 9 * HOUR)
    with pytest.raises(Refused) as refused:
        firings.undo_light(firing=firing, by=firing.made_by, client_id=make.client_id())
    assert refused.value.codes == ["not-firing"]
    firings.undo_end(firing=firing, by=firing.made_by)
    firing.refresh_from_db()
    assert (firing.state, firing.ended_at) == (Firing.State.FIRING, None)
    firings.undo_light(firing=firing, by=firing.made_by, client_id=make.client_id())


# Readings


def test_readings_are_noted_by_hand_and_a_slip_is_put_right() -> None:
    firing, by = lit(), make.helper()
    at = make.NOW + HOUR
    first = readings.note_reading(firing=firing, temperature_c="98,4", by=by, at=at, now=at)
    again = readings.note_reading(firing=firing, temperature_c="89.4", by=by, at=at, now=at)
    assert first.pk == again.pk
    assert list(firing.readings.values_list("temperature_c", flat=True)) == [Decimal("89.4")]
    readings.drop_reading(reading=again, by=by)
    assert not firing.readings.exists()


@pytest.mark.parametrize(
    ("temperature", "after", "code"),
    [
        ("hot", HOUR, "no-temperature"),
        ("NaN", HOUR, "no-temperature"),
        ("Infinity", HOUR, "no-temperature"),
        (1999, HOUR, "no-temperature"),
        (50, -2 * HOUR, "before-lit"),
        (50, 3 * HOUR, "in-future"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(temperature: object, after: timedelta, code: str) -> None:
    firing = lit()
    with pytest.raises(Refused) as refused:
        readings.note_reading(
            firing=firing,
            temperature_c=temperature,
            by=firing.made_by,
            at=make.NOW + after,
            now=make.NOW + 2 * HOUR,
        )
    assert refused.value.codes == [code]
    assert not firing.readings.exists()


def test_a_kiln_that_is_not_lit_has_no_temperatures() -> None:
    firing = loaded()
    with pytest.raises(Refused) as refused:
        readings.note_reading(firing=firing, temperature_c=20, by=firing.made_by)
    assert refused.value.codes == ["not-lit"]


def test_an_import_is_whole_or_nothing_and_twice_is_once() -> None:
    firing = lit()
    now = make.NOW + 9 * HOUR
    rows = [(make.NOW + n * HOUR / 4, Decimal(20 + 30 * n)) for n in range(30)]
    given = {"firing": firing, "by": firing.made_by, "now": now}
    assert readings.import_readings(rows=rows, **given) == 30
    assert readings.import_readings(rows=rows, **given) == 0
    with pytest.raises(Refused) as refused:
        readings.import_readings(rows=[(now - HOUR / 2, Decimal(900)), (make.NOW, Decimal(21))], **given)
    assert refused.value.codes == ["two-at-once"]
    assert firing.readings.count() == 30
    with pytest.raises(Refused):
        readings.import_readings(rows=[(now + 5 * HOUR, Decimal(900))], **given)


# The end


def test_ending_notes_time_and_meter_and_twice_is_once() -> None:
    firing = light(loaded(make.piece(stage=Stage.GLAZED)), meter_start_kwh=100)
    end = {"firing": firing, "by": firing.made_by, "now": make.NOW + 10 * HOUR}
    for values, code in (
        ({"at": make.NOW - HOUR}, "ends-before-start"),
        ({"at": make.NOW + 12 * HOUR}, "in-future"),
        ({"meter_end_kwh": "99.9"}, "meter-backwards"),
        ({"meter_end_kwh": "-1"}, "no-meter"),
        ({"meter_end_kwh": "a lot"}, "no-meter"),
    ):
        with pytest.raises(Refused) as refused:
            firings.end_firing(**{**end, **values})
        assert refused.value.codes == [code]
    firings.end_firing(**end, at=make.NOW + 9 * HOUR, meter_end_kwh="161,4")
    firings.end_firing(**end)
    firing.refresh_from_db()
    assert (firing.state, firing.ended_at) == (Firing.State.COOLING, make.NOW + 9 * HOUR)
    assert firing.meter_end_kwh == Decimal("161.4")


def test_students_do_not_touch_the_kiln() -> None:
    firing, ines = make.firing(Firing.State.FIRING, kind=FiringKind.GLAZE), make.student()
    for act in (
        lambda: firings.light(firing=firing, by=ines, client_id=make.client_id()),
        lambda: firings.undo_light(firing=firing, by=ines, client_id=make.client_id()),
        lambda: readings.note_reading(firing=firing, temperature_c=20, by=ines),
        lambda: readings.import_readings(firing=firing, rows=[], by=ines),
        lambda: firings.end_firing(firing=firing, by=ines),
        lambda: firings.undo_end(firing=firing, by=ines),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert refused.value.codes == ["staff-only"]
