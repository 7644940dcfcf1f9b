"""When mail may go: not in the quiet hours, not on days the studio is closed. Own rule, no source."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time, timedelta

#: A studio closed for longer than this gets its mail out all the same.
LONGEST = 120


def is_quiet(at: time, quiet_from: time | None, quiet_until: time | None) -> bool:
    """Whether a time of day lies in the quiet hours; they may go past midnight. The end is not quiet."""
    if quiet_from is None or quiet_until is None or quiet_from == quiet_until:
        return False
    if quiet_from < quiet_until:
        return quiet_from <= at < quiet_until
    return at >= quiet_from or at < quiet_until


def may_go_from(
    at: datetime,
    *,
    quiet_from: time | None,
    quiet_until: time | None,
    is_closed: Callable[[date], bool],
) -> datetime:
    """The first moment at or after ``at`` (aware, by the studio's clock) at which mail may go.

    After ``LONGEST`` closed days together it may go whatever the day is.
    """
    zone = at.tzinfo
    for _ in range(LONGEST):
        if is_closed(at.date()):
            at = datetime.combine(at.date() + timedelta(days=1), time(0), tzinfo=zone)
        elif is_quiet(at.time(), quiet_from, quiet_until):
            next_day = at.time() >= quiet_until
            day = at.date() + timedelta(days=1) if next_day else at.date()
            at = datetime.combine(day, quiet_until, tzinfo=zone)
        else:
            break
    return at
