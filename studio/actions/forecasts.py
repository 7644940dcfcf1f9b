"""Once a day: how many of the ranges that were given to makers have held."""

from __future__ import annotations

from datetime import datetime, timedelta

from studio.domain.forecast import held
from studio.models import RangesHeld
from studio.queries.ready_range import asked_before

from .common import moment

#: A little under a day, so that a worker started every morning does it every morning.
EVERY = timedelta(hours=20)
PIECES_ASKED = 60


def reckon_ranges(*, now: datetime | None = None) -> RangesHeld | None:
    """Reckon it anew where the last time is a day ago. Takes seconds in a full studio: not for a page."""
    now = moment(now)
    last = RangesHeld.objects.first()
    if last is not None and now - EVERY < last.reckoned_at <= now:
        return last
    kept, asked = held(ranges=asked_before(most=PIECES_ASKED))
    row, _ = RangesHeld.objects.update_or_create(
        id=1, defaults={"kept": kept, "asked": asked, "reckoned_at": now}
    )
    return row
