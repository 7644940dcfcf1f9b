"""How long a ready piece is kept: the studio's weeks, or longer where its maker asked and the tutor agreed.

Whoever reminds makers or lists what nobody came for asks here.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet
from django.utils import timezone

from studio.models import Piece, Studio


def kept_to(piece: Piece, *, studio: Studio) -> date:
    """The local day to which a ready piece is kept at least; on that day it may go."""
    # Days of the calendar and not of 24 hours: when the clocks change one of them is longer or shorter.
    by_weeks = timezone.localdate(piece.stage_since, studio.zone) + timedelta(weeks=studio.pickup_weeks)
    return max(by_weeks, piece.kept_until) if piece.kept_until else by_weeks


def not_kept(pieces: QuerySet[Piece], *, now: datetime) -> QuerySet[Piece]:
    """Without those that are kept for their makers beyond today: nobody is reminded of them."""
    today = timezone.localdate(now)
    return pieces.filter(Q(kept_until__isnull=True) | Q(kept_until__lte=today))
