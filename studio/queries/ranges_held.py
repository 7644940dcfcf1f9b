"""How often such ranges have held here, for pages that give one."""

from __future__ import annotations

from studio.models import RangesHeld

#: Of fewer nothing is said: one or two would make it 50 % or 100 %.
LEAST_ASKED = 10


def latest() -> RangesHeld | None:
    """As reckoned last; None while there are too few to speak of. One query."""
    return RangesHeld.objects.filter(asked__gte=LEAST_ASKED).first()
