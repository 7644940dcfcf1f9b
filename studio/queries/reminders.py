"""Who was told of which ready piece and when, and until when it is kept."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from django.db.models import Q

from studio.models import Notice, Person, Piece, Studio

from . import notices as queries

State = Notice.State
Kind = Notice.Kind

#: A notice whose words are known to have reached somebody: by mail, or spoken.
REACHED = Q(state=State.SENT) | Q(state=State.DROPPED, told_at__isnull=False)


def kept_until(day: date, studio: Studio) -> date:
    """The day that a ready mail of this day names."""
    return day + timedelta(weeks=studio.pickup_weeks)


def told_of(piece: Piece, person: Person) -> Notice | None:
    """The latest ready notice about this piece that reached this person."""
    told = Notice.objects.filter(REACHED, kind=Kind.READY, pieces=piece, recipient=person)
    return told.order_by("-made_at", "-id").first()


def reached_on(notice: Notice, studio: Studio) -> date:
    """The studio day on which a notice reached its reader."""
    return queries.studio_day(notice.sent_at or notice.told_at or notice.made_at, studio)


def last_day(notice: Notice, pieces: Iterable[Piece], studio: Studio, day: date) -> date:
    """The day that a reminder or last notice of this day names: what was promised of each piece, and never
    less than the days of a last notice from now.
    """
    promised = []
    for piece in pieces:
        told = told_of(piece, notice.recipient)
        if told is not None:
            promised.append(kept_until(reached_on(told, studio), studio))
        if piece.kept_until:
            promised.append(piece.kept_until)
    choose = max if notice.kind == Kind.LAST else min
    return max(choose(promised, default=day), day + timedelta(days=studio.last_notice_days))
