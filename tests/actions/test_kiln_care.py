"""The log of a kiln, corrections that leave the old entry, and reminders held silent."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from studio.actions.kiln_care import (
    correct_care,
    note_care,
    put_back_care,
    set_reminder,
    set_reminders,
    silence_reminder,
    take_back_care,
    wake_reminder,
)
from studio.domain.kiln_care import CareKind
from studio.domain.problems import Refused
from studio.models import CareReminder, CareSilence, Kiln, KilnCare, Person
from tests import factories
from tests.factories import NOW, client_id

pytestmark = pytest.mark.django_db

TODAY = NOW.date()


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


@pytest.fixture
def kiln() -> Kiln:
    return factories.kiln("Big round")


def values(**more: object) -> dict[str, object]:
    return {"kind": "kiln-wash", "done_on": TODAY, "client_id": client_id(), "now": NOW, **more}


def test_care_is_noted_with_day_note_and_whom(maud: Person, kiln: Kiln) -> None:
    row = note_care(
        kiln=kiln,
        by=maud,
        **values(kind="elements", done_by="A. Ohmly", note="All six", ohm="24.456"),
    )
    row.refresh_from_db()
    assert (row.kind, row.done_on, row.done_by, row.note) == ("elements", TODAY, "A. Ohmly", "All six")
    assert row.ohm == Decimal("24.46")
    assert (row.made_by, row.made_at) == (maud, NOW)


def test_sent_twice_it_is_one_entry(maud: Person, kiln: Kiln) -> None:
    sent = values()
    assert note_care(kiln=kiln, by=maud, **sent) == note_care(kiln=kiln, by=maud, **sent)
    assert KilnCare.objects.count() == 1
    with pytest.raises(Refused, match="lost its number"):
        note_care(kiln=factories.kiln("Other"), by=maud, **sent)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"kind": "polished"}, "Choose the kind of care"),
        ({"done_on": TODAY + timedelta(days=1)}, "still to come"),
        ({"done_on": date(1925, 1, 1)}, "1925 can't be right"),
        ({"kind": "elements"}, "licensed person"),
        ({"kind": "relay"}, "licensed person"),
        ({"kind": "electrical-check"}, "licensed person"),
        ({"kind": "other"}, "Say in the note"),
        ({"ohm": "0"}, "between 0.1 and 10,000"),
        ({"ohm": "much"}, "between 0.1 and 10,000"),
        ({"ohm": "NaN"}, "between 0.1 and 10,000"),
        ({"note": "x" * 301}, "300"),
        ({"client_id": ""}, "lost its number"),
    ],
)
def test_what_cannot_be_is_refused_whole(maud: Person, kiln: Kiln, wrong: dict, says: str) -> None:
    with pytest.raises(Refused, match=says):
        note_care(kiln=kiln, by=maud, **values(**wrong))
    assert not KilnCare.objects.exists()


def test_a_correction_leaves_the_old_entry_to_be_read(maud: Person, kiln: Kiln) -> None:
    old = note_care(kiln=kiln, by=maud, **values())
    sent = values(done_on=TODAY - timedelta(days=3))
    new = correct_care(care=old, by=maud, **sent)
    assert correct_care(care=old, by=maud, **sent) == new
    old.refresh_from_db()
    assert (old.taken_back_at, old.taken_back_by) == (NOW, maud)
    assert (new.replaces, new.done_on) == (old, TODAY - timedelta(days=3))
    with pytest.raises(Refused, match="taken back already"):
        correct_care(care=old, by=maud, **values())
    with pytest.raises(Refused, match="A correction stands in its place"):
        put_back_care(care=old, by=maud)
    take_back_care(care=new, by=maud, now=NOW)
    put_back_care(care=old, by=maud)
    correct_care(care=old, by=maud, **values(note="Once more"))
    assert KilnCare.objects.filter(taken_back_at__isnull=True).get().note == "Once more"


def test_an_entry_is_taken_back_and_put_back(maud: Person, kiln: Kiln) -> None:
    row = note_care(kiln=kiln, by=maud, **values())
    take_back_care(care=row, by=maud, now=NOW)
    assert take_back_care(care=row, by=maud, now=NOW + timedelta(days=1)).taken_back_at == NOW
    assert put_back_care(care=row, by=maud).taken_back_at is None


def test_intervals_are_set_a_kiln_at_a_time(maud: Person, kiln: Kiln) -> None:
    set_reminder(kiln=kiln, kind="elements", every_months=None, after_firings=90, by=maud, now=NOW)
    set_reminders(kiln=kiln, intervals={CareKind.ELEMENTS: (24, 80), CareKind.RELAY: (None, None)}, by=maud)
    rows = {row.kind: (row.every_months, row.after_firings) for row in CareReminder.objects.all()}
    assert rows == {"elements": (24, 80), "relay": (None, None)}
    for months, firings, kind, says in (
        (0, None, "elements", "months for “elements changed”"),
        (None, 5000, "elements", "firings for “elements changed”"),
        (1, 1, "other", "Choose the reminder"),
    ):
        with pytest.raises(Refused, match=says):
            set_reminder(kiln=kiln, kind=kind, every_months=months, after_firings=firings, by=maud)
    with pytest.raises(Refused):
        set_reminders(kiln=kiln, intervals={CareKind.RELAY: (6, 6), CareKind.ELEMENTS: (0, 1)}, by=maud)
    assert CareReminder.objects.get(kind="relay").every_months is None


def test_a_reminder_is_silenced_with_a_reason_and_woken(maud: Person, kiln: Kiln) -> None:
    sent = {"kiln": kiln, "kind": "kiln-wash", "by": maud, "now": NOW, "client_id": client_id()}
    until = TODAY + timedelta(days=30)
    row = silence_reminder(until=until, why="New shelves are on order", **sent)
    assert silence_reminder(until=until, why="New shelves are on order", **sent) == row
    assert (row.until, row.why, row.by, row.at) == (until, "New shelves are on order", maud, NOW)
    later = silence_reminder(until=until, why="Still not here", **{**sent, "client_id": client_id()})
    row.refresh_from_db()
    assert row.woken_at == NOW
    assert wake_reminder(kiln=kiln, kind="kiln-wash", by=maud, now=NOW) == 1
    assert wake_reminder(kiln=kiln, kind="kiln-wash", by=maud, now=NOW) == 0
    later.refresh_from_db()
    assert (later.woken_at, later.woken_by) == (NOW, maud)
    assert CareSilence.objects.count() == 2


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"until": TODAY - timedelta(days=1)}, "has passed"),
        ({"until": TODAY + timedelta(days=400)}, "a year at most"),
        ({"why": "  "}, "The reason is missing"),
        ({"kind": "other"}, "Choose the reminder"),
    ],
)
def test_a_silence_needs_a_day_to_come_and_a_reason(maud: Person, kiln: Kiln, wrong: dict, says: str) -> None:
    sent = {"kind": "relay", "until": TODAY, "why": "Booked", "client_id": client_id(), "now": NOW}
    with pytest.raises(Refused, match=says):
        silence_reminder(kiln=kiln, by=maud, **{**sent, **wrong})
    assert not CareSilence.objects.exists()


def test_only_the_tutor_writes(maud: Person, kiln: Kiln) -> None:
    ivo = factories.helper()
    row = note_care(kiln=kiln, by=maud, **values())
    for act in (
        lambda: note_care(kiln=kiln, by=ivo, **values()),
        lambda: correct_care(care=row, by=ivo, **values()),
        lambda: take_back_care(care=row, by=ivo),
        lambda: put_back_care(care=row, by=ivo),
        lambda: set_reminder(kiln=kiln, kind="relay", every_months=1, after_firings=None, by=ivo),
        lambda: silence_reminder(
            kiln=kiln, kind="relay", until=TODAY, why="x", by=ivo, client_id=client_id(), now=NOW
        ),
        lambda: wake_reminder(kiln=kiln, kind="relay", by=ivo),
    ):
        with pytest.raises(Refused, match="Only the tutor"):
            act()
