"""Who is to be told in person, because no mail reaches them, and of what."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from studio.models import Notice, Person

from . import notices as queries
from .notices_breakage import BREAKAGE

State = Notice.State


@dataclass(slots=True)
class ByHand:
    """One person and their notices; the young whose guardian they are stand with the pieces."""

    person: Person
    notices: list[Notice] = field(default_factory=list)


def by_hand(*, now: datetime) -> list[ByHand]:
    """People without an address, by name, with every notice that waits to be spoken. Constant queries.

    What was lost or flawed is not in it: the tutor reads that on its own page and tells it in her own words.
    """
    found: dict[int, ByHand] = {}
    waiting = queries.seen_by_tutor().filter(state=State.NO_ADDRESS).exclude(kind__in=BREAKAGE)
    waiting = waiting.select_related("recipient", "course", "announcement", "statement")
    waiting = waiting.prefetch_related("pieces__shelf", "about")
    for notice in waiting.order_by("recipient__first_name", "recipient__last_name", "recipient", "made_at"):
        found.setdefault(notice.recipient_id, ByHand(notice.recipient)).notices.append(notice)
    return list(found.values())
