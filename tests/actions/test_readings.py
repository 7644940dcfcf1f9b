"""A controller's file is kept, looked at, saved whole or not at all, and taken back."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from studio.actions import readings
from studio.actions.readings_insert import FEW, insert_readings
from studio.domain.problems import Refused
from studio.domain.readings_file import Choice
from studio.domain.readings_times import DateOrder
from studio.models import Firing, Reading, ReadingsFile
from studio.queries.readings import curve_of, files_of, readings_of
from tests import factories as make

pytestmark = pytest.mark.django_db
HOUR, MINUTE, SECOND = timedelta(hours=1), timedelta(minutes=1), timedelta(seconds=1)
LIT = make.NOW
NOW = LIT + 30 * HOUR


def burning() -> Firing:
    return make.firing("firing", kind="glaze", lit_at=LIT)


def text_of(
    count: int, *, step: timedelta = MINUTE, start: float = 20, write: str = "%Y-%m-%dT%H:%M:%SZ"
) -> str:
    rows = [f"{LIT + step * n:{write}};{min(start + n / 2, 1222):.1f}" for n in range(count)]
    return "\n".join(["Time;°C", *rows])


def keep(firing: Firing, text: str, name: str = "kiln.csv") -> ReadingsFile:
    return readings.keep_file(firing=firing, name=name, text=text, by=firing.made_by, now=NOW)


def save(file: ReadingsFile, **values: object) -> readings.Saved:
    return readings.save_file(file=file, by=file.firing.made_by, now=NOW, **values)


def noted(firing: Firing) -> list[tuple[datetime, Decimal]]:
    return list(firing.readings.order_by("at").values_list("at", "temperature_c"))


@pytest.mark.parametrize("count", [3, FEW + 1])
def test_saved_it_is_what_was_looked_at_and_its_bytes_are_let_go(count: int) -> None:
    firing = burning()
    file = keep(firing, text_of(count))
    looked = readings.look(file=file, now=NOW)
    assert noted(firing) == []
    assert save(file) == readings.Saved(count, 0, 0)
    assert noted(firing) == looked.rows
    file.refresh_from_db()
    assert (bytes(file.data), file.brought, file.saved_at) == (b"", count, NOW)
    assert set(firing.readings.values_list("source", "by", "file")) == {
        ("imported", firing.made_by_id, file.pk)
    }
    assert files_of(firing) == [file]


def test_very_many_are_written_as_a_few_are() -> None:
    firing, other = burning(), make.firing("firing", kiln=make.kiln("Other"), lit_at=LIT)
    rows = [
        (LIT + n * SECOND + timedelta(microseconds=n % 7), Decimal(n) / 10 - 20) for n in range(FEW + 200)
    ]
    insert_readings(firing, rows, source="imported", by=firing.made_by)
    for start in range(0, len(rows), FEW - 1):
        insert_readings(other, rows[start : start + FEW - 1], source="imported", by=firing.made_by)
    assert noted(firing) == noted(other) == rows


def test_the_same_file_twice_changes_nothing() -> None:
    firing = burning()
    save(keep(firing, text_of(700)))
    before = noted(firing)
    assert save(keep(firing, text_of(700), "again.csv")) == readings.Saved(0, 700, 0)
    assert save(keep(firing, text_of(800))) == readings.Saved(100, 700, 0)
    assert noted(firing)[:700] == before


def test_a_file_sent_twice_waits_once_and_saved_twice_is_once() -> None:
    firing = burning()
    file = keep(firing, text_of(10))
    assert keep(firing, text_of(10)) == file
    save(file)
    assert save(file).fresh == 10
    assert Reading.objects.count() == 10


def test_a_bad_line_is_named_and_nothing_is_half_imported() -> None:
    firing = burning()
    lines = text_of(1200).split("\n")
    lines[777] = lines[777].split(";")[0] + ";off"
    with pytest.raises(Refused, match="Line 778: “off” is no temperature"):
        save(keep(firing, "\n".join(lines)))
    assert noted(firing) == []


def test_what_is_asked_has_to_be_answered_first() -> None:
    firing = make.firing("firing", lit_at=datetime.fromisoformat("2025-11-05T11:00:00Z"))
    rows = [f"05/11/2025 {hour}:00;{20 + hour}" for hour in range(11, 20)]
    file = keep(firing, "\n".join(rows))
    with pytest.raises(Refused, match="can be two days"):
        save(file)
    assert save(file, choice=Choice(date_order=DateOrder.DAY_FIRST)).fresh == 9


def test_what_was_noted_by_hand_stands_and_another_kilns_file_is_refused() -> None:
    firing = burning()
    by = firing.made_by
    readings.note_reading(firing=firing, temperature_c=25, by=by, at=LIT + 2 * MINUTE, now=NOW)
    assert save(keep(firing, text_of(9))) == readings.Saved(8, 0, 1)
    assert dict(noted(firing))[LIT + 2 * MINUTE] == 25
    with pytest.raises(Refused, match="another kiln's, or in °F"):
        save(keep(firing, text_of(9, start=400)))


def test_taking_a_file_back_leaves_all_else() -> None:
    firing = burning()
    readings.note_reading(firing=firing, temperature_c=25, by=firing.made_by, at=LIT + 2 * MINUTE, now=NOW)
    first, second = keep(firing, text_of(9)), keep(firing, text_of(20))
    save(first), save(second)
    assert readings.take_back_file(file=first, by=firing.made_by, now=NOW) == 8
    assert readings.take_back_file(file=first, by=firing.made_by, now=NOW) == 0
    assert len(noted(firing)) == 12
    assert files_of(firing) == [second]


def test_a_closed_firings_record_stands() -> None:
    firing = burning()
    file = keep(firing, text_of(9))
    save(file)
    Firing.objects.filter(pk=firing.pk).update(state="closed")
    with pytest.raises(Refused, match="stand as its record"):
        readings.take_back_file(file=file, by=firing.made_by)


def test_a_reading_of_a_closed_firing_is_not_struck_out() -> None:
    firing = burning()
    row = readings.note_reading(firing=firing, temperature_c=25, by=firing.made_by, at=LIT + HOUR, now=NOW)
    Firing.objects.filter(pk=firing.pk).update(state="closed")
    with pytest.raises(Refused, match="stand as its record"):
        readings.drop_reading(reading=row, by=firing.made_by)


def test_files_nobody_saved_are_forgotten() -> None:
    firing = burning()
    save(keep(firing, text_of(5)))
    keep(firing, text_of(6))
    assert readings.forget_files(now=NOW + timedelta(hours=23)) == 0
    assert readings.forget_files(now=NOW + timedelta(hours=25)) == 1
    assert ReadingsFile.objects.count() == 1


def test_students_and_planned_loads_are_refused() -> None:
    firing = burning()
    with pytest.raises(Refused):
        readings.keep_file(firing=firing, name="x", text="0:00,20", by=make.student())
    with pytest.raises(Refused, match="has not been lit"):
        keep(make.firing("planned", kiln=make.kiln("Other")), text_of(3))


def test_thinned_readings_keep_first_last_and_every_extreme() -> None:
    """20,000 readings: the wild ones among them are what a drawing must not lose."""
    firing = burning()
    rows = [(LIT + 3 * SECOND * n, Decimal(20 + n // 20)) for n in range(20_000)]
    rows[4321], rows[15_007] = (rows[4321][0], Decimal(1400)), (rows[15_007][0], Decimal(-5))
    insert_readings(firing, rows, source="posted")
    thin = readings_of(firing)
    assert len(thin) <= 2 * 450 + 2
    assert {rows[0], rows[4321], rows[15_007], rows[-1]} <= set(thin)
    assert thin == sorted(thin)
    assert set(thin) <= set(rows)
    assert curve_of(firing, all_up_to=30_000) == [(at, float(celsius)) for at, celsius in rows]
