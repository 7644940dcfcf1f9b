"""Which live pieces stand where."""

from __future__ import annotations

from django.db.models import Count, F, Q, QuerySet

from studio.domain.stages import IN_KILN, LIVE
from studio.models import Piece, Shelf


def standing_on(shelf: Shelf | None, among: QuerySet[Piece] | None = None) -> QuerySet[Piece]:
    """Live pieces on this shelf; for None, those outside kilns that stand on no shelf."""
    pieces = Piece.objects.all() if among is None else among
    pieces = pieces.filter(stage__in=LIVE, shelf=shelf)
    return pieces if shelf is not None else pieces.exclude(stage__in=IN_KILN)


def shelves_with_counts() -> list[Shelf]:
    """All shelves, those in use first, each with ``standing``, the number of live pieces on it."""
    return list(
        Shelf.objects.annotate(standing=Count("pieces", filter=Q(pieces__stage__in=LIVE))).order_by(
            F("retired_at").asc(nulls_first=True), "name"
        )
    )
