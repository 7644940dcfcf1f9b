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
