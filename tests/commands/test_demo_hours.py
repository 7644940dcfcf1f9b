"""The demo studio loads at whatever hour somebody tries it, with a class on in the evening or just over."""

from __future__ import annotations

from datetime import datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from studio.management.demo.story import build
from studio.models import Event, MakeUp, Piece, Studio
from tests.actions.replay import agrees

pytestmark = pytest.mark.django_db

HERE = ZoneInfo("Europe/London")
#: Around midnight a day's classes are over, or not begun.
HOURS = [time(0, 5), time(23, 50)]
MORE = [time(hour, 20) for hour in (3, 7, 10, 13, 17, 21, 22, 23)]


@pytest.mark.parametrize("at", [*HOURS, *(pytest.param(each, marks=pytest.mark.full) for each in MORE)])
def test_at_any_hour_nothing_is_ahead_of_time(at: time, settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    now = datetime.combine(timezone.localdate(), at, tzinfo=HERE)
    build(now)
    assert Studio.the().zone == HERE
    assert not Event.objects.filter(at__gt=now).exists()
    assert MakeUp.objects.exists()
    assert [piece.mark for piece in Piece.objects.all() if not agrees(piece)] == []
