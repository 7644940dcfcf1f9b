"""Wishes of makers: those that wait, those of one piece, and the answers of late."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import QuerySet
from django.urls import reverse

from studio.domain.say import later, say
from studio.domain.stages import ENDED
from studio.models import Person, Piece, Wish

from .counting import counted
from .today_job import Job

#: An answer is news for so long.
NEWS = timedelta(days=14)
SHOWN = 60


def _wishes() -> QuerySet[Wish]:
    return Wish.objects.select_related("piece", "maker", "by", "answered_by", "event__undone_by")


def waiting() -> QuerySet[Wish]:
    """Wishes that wait for the tutor, the longest waiting first. Those of pieces that have left do not."""
    return _wishes().open().exclude(piece__stage__in=ENDED).order_by("made_at", "pk")


def jobs() -> list[Job]:
    """The tutor's line on Today."""
    marks = list(waiting().values_list("piece__mark", flat=True))
    if not marks:
        return []
    return [
        Job(
            later("Today"),
            say("Answer {counted}", counted=counted(len(marks), later("wish"), later("wishes"))),
            say("Makers ask something for their pieces."),
            reverse("wishes"),
            marks=tuple(dict.fromkeys(marks))[:6],
        )
    ]


def answered_lately(*, now: datetime) -> list[Wish]:
    """Answered within the last two weeks, the latest first."""
    wishes = _wishes().filter(withdrawn_at__isnull=True, answered_at__gte=now - NEWS)
    return [wish for wish in wishes.order_by("-answered_at", "-pk")[:SHOWN] if not wish.is_open]


def wishes_of(piece: Piece, *, viewer: Person) -> list[Wish]:
    """Of one piece, not taken back, the newest first; makers see those asked while it was theirs."""
    wishes = _wishes().filter(piece=piece, withdrawn_at__isnull=True).order_by("-made_at", "-pk")
    if not viewer.is_staff_member:
        wishes = wishes.filter(maker=piece.maker_id)
    return list(wishes[:10])


def news_for(makers: Iterable[Person], *, now: datetime) -> list[Wish]:
    """Answers of late for these makers, for their first page. One query."""
    wishes = _wishes().filter(maker__in=makers, withdrawn_at__isnull=True, answered_at__gte=now - NEWS)
    return [wish for wish in wishes.order_by("-answered_at", "-pk")[:10] if not wish.is_open]
