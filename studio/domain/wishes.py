"""What a maker may ask of the studio for a piece, and at which of its stages.

The list is common practice, no source.
"""

from __future__ import annotations

from enum import StrEnum

from .stages import AFTER_LAST_FIRING, LIVE, Route, Stage


class Asking(StrEnum):
    USE = "use"
    DUE = "due"
    REFIRE = "refire"
    GIVE_AWAY = "give-away"
    KEEP = "keep"


def askable(stage: Stage, route: Route) -> list[Asking]:
    """What can be asked of a piece at this stage on this route, in the order a page shows it."""
    if stage not in LIVE:
        return []
    wishes = [Asking.KEEP]
    if stage not in AFTER_LAST_FIRING:
        wishes.append(Asking.DUE)
    wishes.append(Asking.USE)
    if stage in AFTER_LAST_FIRING and route != Route.BISQUE_ONLY:
        wishes.append(Asking.REFIRE)
    return [*wishes, Asking.GIVE_AWAY]
