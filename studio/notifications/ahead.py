"""What a round of the mail worker has read for the mails ahead, and for how long that may be relied on."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from studio.models import Notice, Studio
from studio.queries import notices as queries
from studio.queries import unchanged
from studio.queries.quiet import Spans, holidays_from

from . import outbox
from .compose import Known
from .compose_pickup import read_all
from .wordings import own_wordings

#: Of notices read at once. Each time all of them could be used it is twice as many, up to this.
MOST = 32
#: Longer than this nothing is relied on, whoever wrote or did not: the time itself changes what is so.
KEPT = timedelta(seconds=1)


class Ahead:
    """The next notices and what their mails need, as it is while nobody else writes to the database.

    Our own writing is known: the end of a mail that went changes nothing for the next ones; after any other
    end call `forget`.
    """

    def __init__(self) -> None:
        self._version: int | None = None
        self._at: datetime | None = None
        self._count = 1
        self._seen: Iterator[Notice] = iter(())
        self._left = 0
        self.holidays: Spans = []
        self.known: Known | None = None

    def is_so(self, now: datetime) -> bool:
        """Whether all that was read is so still; False where that can't be known."""
        return (
            self._version is not None
            and self._at is not None
            and timedelta(0) <= now - self._at <= KEPT
            and self._version == unchanged.version()
        )

    def forget(self) -> None:
        self._version = None

    def read(self, now: datetime, *, count: int | None = None) -> Known:
        """Read everything anew: of as many notices as seems worth while, or of ``count``."""
        used_up = self._version is not None and self._left == 0
        self._count = min(MOST, 2 * self._count) if used_up else 1
        # Before all else: who writes while we read has written since.
        self._version, self._at = unchanged.version(), now
        studio = Studio.the()
        self.holidays = holidays_from(queries.studio_day(now, studio))
        count = self._count if count is None else count
        notices = list(outbox.next_due(now)[:count]) if self._version is not None else []
        self._seen, self._left = self._count_down(notices), len(notices)
        pickups = [notice for notice in notices if notice.kind in queries.PICKUP]
        read = read_all(pickups, queries.studio_day(now, studio)) if pickups else {}
        self.known = Known(studio, own_wordings(), read)
        return self.known

    def _count_down(self, notices: list[Notice]) -> Iterator[Notice]:
        for notice in notices:
            self._left -= 1
            yield notice

    def lease(self, worker: str, now: datetime) -> Notice | None:
        """The next notice to send, leased."""
        if self._left == 0 or not self.is_so(now):
            self.read(now)
        assert self.known is not None
        return outbox.lease(worker, now, self.known.studio, seen=self._seen, holidays=self.holidays)
