"""A student's first page: what is ready next stands first."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from studio.domain.forecast import Forecast
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


def test_what_is_ready_next_stands_first(monkeypatch: pytest.MonkeyPatch) -> None:
    factories.studio()
    now, ines = timezone.now(), factories.student("Ines")
    bowls = [
        factories.piece(maker=ines, stage="wet", made_at=now - timedelta(days=days)) for days in range(4)
    ]
    soon = {bowls[1].pk: now + timedelta(days=20), bowls[2].pk: now + timedelta(days=3)}

    def ranges(pieces: list, *, now: object) -> dict:
        return {
            piece.pk: Forecast(*[soon[piece.pk]] * 3, few=(), reasons=())
            for piece in pieces
            if piece.pk in soon
        }

    monkeypatch.setattr("studio.views.home.ready_range.ranges_of", ranges)
    page = signed_in(ines).get(reverse("home")).content.decode()
    shown = re.findall(r"/pieces/([0-9A-Z]{8})/", page)
    assert list(dict.fromkeys(shown)) == [bowls[number].code for number in (2, 1, 0, 3)]


def test_what_is_counted_in_classes_says_how_many_are_left_here_and_on_the_piece() -> None:
    factories.studio(pickup_classes=3, glaze_classes=2)
    now, ines, course = timezone.now(), factories.student("Ines"), factories.course()
    days = [timedelta(days=count) for count in (1, 4, 8, 15, 30)]
    pots = {
        "To take home: time is up": factories.piece(maker=ines, stage="ready", made_at=now - days[4]),
        "To take home by the next class": factories.piece(
            maker=ines, stage="ready", made_at=now - days[2] - days[0]
        ),
        "To take home within 2 classes": factories.piece(maker=ines, stage="ready", made_at=now - days[1]),
        "To glaze within 2 classes": factories.piece(maker=ines, stage="bisqued", made_at=now),
    }
    client = signed_in(ines)
    for days in (1, 8, 15):
        factories.attended(ines, factories.session(course, starts_at=now - timedelta(days=days)))
    page = client.get(reverse("home")).content.decode()
    assert "a missed one is left out." in page
    for words, piece in pots.items():
        assert page.count(words) == 1
        own = client.get(reverse("piece", args=[piece.code])).content.decode()
        assert words in own
    mug = factories.piece(maker=factories.student("Tobias"), stage="wet")
    other = signed_in(mug.maker)
    assert "missed class" not in other.get(reverse("home")).content.decode()
    assert "Only classes" not in other.get(reverse("piece", args=[mug.code])).content.decode()
