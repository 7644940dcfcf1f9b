"""How often the ranges given to makers have held: reckoned once a day, and said where enough is known."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.management import call_command

from studio.actions import forecasts
from studio.models import RangesHeld
from studio.queries import ranges_held
from tests import factories as make
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

NOW = make.NOW
DAY = timedelta(days=1)


def told(monkeypatch: pytest.MonkeyPatch, *, kept: int, asked: int) -> list[int]:
    """Past ranges of which so many held; what is given back counts how often it was asked."""
    calls: list[int] = []

    def before(*, most: int) -> list[tuple]:
        calls.append(most)
        held = [(NOW - DAY, NOW + DAY, NOW)] * kept
        return held + [(NOW - 3 * DAY, NOW - DAY, NOW)] * (asked - kept)

    monkeypatch.setattr(forecasts, "asked_before", before)
    return calls


def test_reckoned_once_a_day(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = told(monkeypatch, kept=8, asked=10)
    row = forecasts.reckon_ranges(now=NOW)
    assert (row.kept, row.asked, row.reckoned_at) == (8, 10, NOW)
    forecasts.reckon_ranges(now=NOW + timedelta(hours=3))
    assert len(calls) == 1
    told(monkeypatch, kept=9, asked=12)
    forecasts.reckon_ranges(now=NOW + DAY)
    assert [(row.kept, row.asked) for row in RangesHeld.objects.all()] == [(9, 12)]


def test_a_clock_set_back_does_not_stop_it(monkeypatch: pytest.MonkeyPatch) -> None:
    told(monkeypatch, kept=8, asked=10)
    forecasts.reckon_ranges(now=NOW + 400 * DAY)
    told(monkeypatch, kept=7, asked=11)
    assert forecasts.reckon_ranges(now=NOW).asked == 11


@pytest.mark.parametrize(("asked", "said"), [(9, None), (10, 10)])
def test_of_few_nothing_is_said(asked: int, said: int | None, monkeypatch: pytest.MonkeyPatch) -> None:
    told(monkeypatch, kept=5, asked=asked)
    forecasts.reckon_ranges(now=NOW)
    found = ranges_held.latest()
    assert (found.asked if found else None) == said


def test_makers_read_it_beside_the_range(monkeypatch: pytest.MonkeyPatch) -> None:
    make.studio()
    ines = make.student()
    piece = make.piece(maker=ines, stage="bone-dry")
    client = signed_in(ines)
    assert (
        "Eight in ten such ranges are meant to hold." in client.get(f"/pieces/{piece.code}/").content.decode()
    )
    told(monkeypatch, kept=8, asked=10)
    forecasts.reckon_ranges(now=NOW)
    for page in ("/", f"/pieces/{piece.code}/"):
        assert "8 of the last 10 such ranges have held." in client.get(page).content.decode()
    assert "The next one is ready about" in client.get("/").content.decode()


def test_the_mail_worker_reckons_it(monkeypatch: pytest.MonkeyPatch) -> None:
    make.studio()
    told(monkeypatch, kept=8, asked=10)
    call_command("deliver_mail")
    assert RangesHeld.objects.get().kept == 8
