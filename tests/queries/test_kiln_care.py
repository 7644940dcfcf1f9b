"""Firings since each care, which reminders speak, and how long like firings took."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.actions.kiln_care import set_reminder, silence_reminder, wake_reminder
from studio.domain.kiln_care import CareKind, Need
from studio.models import Firing, Kiln, Person, Studio
from studio.queries.kiln_care import CareLine, care_due, care_lines, care_log
from studio.queries.kiln_wear import wear_of
from tests import factories
from tests.factories import NOW, client_id

pytestmark = pytest.mark.django_db


@pytest.fixture
def studio() -> Studio:
    return factories.studio()


@pytest.fixture
def maud(studio: Studio) -> Person:
    return factories.tutor()


@pytest.fixture
def kiln() -> Kiln:
    return factories.kiln("Big round")


def fired(kiln: Kiln, *, days_ago: float, hours: float = 9, **values: object) -> Firing:
    """A firing that is over, without its pieces unless there are some."""
    lit_at = NOW - timedelta(days=days_ago)
    row = factories.firing("cooling", kiln=kiln, lit_at=lit_at, **{"pieces": [], **values})
    ended_at = lit_at + timedelta(hours=hours)
    Firing.objects.filter(pk=row.pk).update(state=Firing.State.CLOSED, ended_at=ended_at)
    return row


def line(kiln: Kiln, kind: str, studio: Studio) -> CareLine:
    return next(one for one in care_lines([kiln], now=NOW, studio=studio)[kiln.pk] if one.kind == kind)


def test_a_kiln_that_never_fired_is_asked_nothing(studio: Studio, kiln: Kiln) -> None:
    lines = care_lines([kiln], now=NOW, studio=studio)[kiln.pk]
    assert len(lines) == 6
    assert not [one for one in lines if one.is_due]
    assert care_due(now=NOW, studio=studio) == {}


def test_without_an_entry_it_is_counted_from_the_first_firing(studio: Studio, kiln: Kiln) -> None:
    fired(kiln, days_ago=400)
    found = line(kiln, "electrical-check", studio)
    assert (found.last, found.since) == (None, (NOW - timedelta(days=400)).date())
    assert found.speaks
    assert [one.kind for one in care_due(now=NOW, studio=studio)[kiln]] == [CareKind.ELECTRICAL_CHECK]


def test_firings_are_counted_from_the_day_on(studio: Studio, maud: Person, kiln: Kiln) -> None:
    for days in (20, 10, 5, 1):
        fired(kiln, days_ago=days)
    factories.firing("planned", kiln=kiln)
    factories.firing("cancelled", kiln=kiln, lit_at=NOW - timedelta(days=2))
    factories.care(kiln, "kiln-wash", days_ago=10)
    set_reminder(kiln=kiln, kind="kiln-wash", every_months=None, after_firings=3, by=maud)
    found = line(kiln, "kiln-wash", studio)
    # The one of the same day came after: a kiln is looked after while it is cold.
    assert found.firings_since == 3
    assert found.reminder.need == Need.DUE
    assert [row.firings_since for row in care_log(kiln, studio=studio)] == [3]


def test_what_was_taken_back_does_not_count(studio: Studio, kiln: Kiln) -> None:
    factories.care(kiln, "relay", days_ago=900)
    factories.care(kiln, "relay", days_ago=3, taken_back_at=NOW)
    assert line(kiln, "relay", studio).speaks
    assert len(care_log(kiln, studio=studio)) == 2


def test_a_silenced_reminder_is_due_and_says_nothing(studio: Studio, maud: Person, kiln: Kiln) -> None:
    factories.care(kiln, "electrical-check", days_ago=380)
    assert line(kiln, "electrical-check", studio).speaks
    silence_reminder(
        kiln=kiln,
        kind="electrical-check",
        until=(NOW + timedelta(days=10)).date(),
        why="Booked for next week",
        by=maud,
        client_id=client_id(),
        now=NOW,
    )
    found = line(kiln, "electrical-check", studio)
    assert found.is_due
    assert not found.speaks
    assert care_due(now=NOW, studio=studio) == {}
    # The day after, it speaks of itself; woken, at once.
    assert care_due(now=NOW + timedelta(days=11), studio=studio)
    wake_reminder(kiln=kiln, kind="electrical-check", by=maud, now=NOW)
    assert line(kiln, "electrical-check", studio).speaks
    # A kiln out of use asks for nothing.
    kiln.retired_at = NOW
    kiln.save()
    assert care_due(now=NOW, studio=studio) == {}


def test_the_count_of_questions_does_not_grow(studio: Studio, kiln: Kiln) -> None:
    def ask() -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            care_due(now=NOW, studio=studio)
            care_log(kiln, studio=studio)
            wear_of(kiln, studio=studio)
        return len(asked)

    factories.care(kiln, "elements", days_ago=300)
    fired(kiln, days_ago=200)
    few = ask()
    for number in range(30):
        other = factories.kiln()
        factories.care(other, "elements", days_ago=number)
        factories.care(kiln, "kiln-wash", days_ago=number)
        fired(kiln, days_ago=150 - number)
    assert ask() == few


# Elements


def test_too_few_firings_say_nothing_and_say_so(studio: Studio, kiln: Kiln) -> None:
    assert wear_of(kiln, studio=studio).chosen is None
    factories.care(kiln, "elements", days_ago=50)
    fired(kiln, days_ago=60)
    for days in (40, 30, 20):
        fired(kiln, days_ago=days)
    found = wear_of(kiln, studio=studio)
    assert (found.firings, len(found.chosen.took), found.has_trend) == (3, 3, False)
    assert found.heading == "Too few firings to say how the elements are"
    assert found.sentences[0].startswith("Three firings of this kind so far. From six firings on")


def test_firing_times_creep_up_with_the_count_of_all_firings(studio: Studio, kiln: Kiln) -> None:
    """Every second firing is a glaze firing, each 6 min longer than the one before: 3 min a firing."""
    factories.care(kiln, "elements", days_ago=100)
    for number in range(20):
        kind, hours = ("glaze", 9 + number * 0.05) if number % 2 == 0 else ("bisque", 8)
        fired(kiln, days_ago=90 - number, kind=kind, hours=hours)
    found = wear_of(kiln, studio=studio)
    assert [group.name for group in found.groups] == ["Bisque firing to cone 04", "Glaze firing to cone 6"]
    glaze = wear_of(kiln, studio=studio, chosen=found.groups[1].key)
    assert [took.count for took in glaze.chosen.took] == list(range(1, 20, 2))
    assert glaze.health.per_firing_min == pytest.approx(3)
    assert glaze.health.slower_percent == pytest.approx(18 * 3 / 540 * 100)
    assert glaze.health.worn
    assert glaze.heading == "The elements look worn"
    assert found.sentences[0] == "Firings take as long as this set’s first ones."


def test_loads_that_are_not_alike_are_left_out(studio: Studio, kiln: Kiln) -> None:
    def pot(size_mm: int) -> list:
        size = {"width_mm": size_mm, "depth_mm": size_mm, "height_mm": size_mm}
        return [factories.piece(stage="glazed", **size)]

    for number in range(7):
        fired(kiln, days_ago=60 - number, pieces=pot(100))
    fired(kiln, days_ago=20, pieces=pot(300), hours=12)
    found = wear_of(kiln, studio=studio)
    assert (len(found.chosen.took), found.chosen.left_out) == (7, 1)
    assert "One firing with a much smaller or larger load left out." in found.sentences


def test_a_programme_that_was_changed_is_another_one(studio: Studio, kiln: Kiln) -> None:
    slow, fast = [[60, 600, 0], [100, 1222, 10]], [[150, 1222, 10]]
    for number, segments in enumerate((slow, slow, fast)):
        fired(kiln, days_ago=9 - number, programme_as_fired={"name": "Glaze 6", "segments": segments})
    found = wear_of(kiln, studio=studio)
    assert [(one.name, len(one.took)) for one in found.groups] == [
        ("Glaze 6 to cone 6, from 9 November", 2),
        ("Glaze 6 to cone 6, from 11 November", 1),
    ]


def test_measured_resistance_counts_from_the_new_set(studio: Studio, kiln: Kiln) -> None:
    factories.care(kiln, "elements", days_ago=200, ohm="20")
    factories.care(kiln, "electrical-check", days_ago=5, ohm="22.4")
    factories.care(kiln, "electrical-check", days_ago=300, ohm="30")
    fired(kiln, days_ago=3)
    found = wear_of(kiln, studio=studio)
    assert (found.new_ohm, found.measured_ohm) == (20, 22.4)
    assert found.health.resistance_percent == pytest.approx(12)
    assert found.heading == "The elements look worn"
    assert any("+12 % against new" in sentence for sentence in found.sentences)
