"""Pieces as they are drawn on a shelf: with maker, clay and the colour that shows."""

from __future__ import annotations

from django.db.models import Case, IntegerField, OuterRef, QuerySet, Subquery, Value, When

from studio.models import GlazeOnPiece, Piece


def standers() -> QuerySet[Piece]:
    """All pieces with ``glaze_colour``, the colour of the last coat outside, else inside, or None."""
    seen_first = Case(
        When(surface="outside", then=Value(0)),
        When(surface="inside", then=Value(1)),
        default=Value(2),
        output_field=IntegerField(),
    )
    coats = GlazeOnPiece.objects.filter(piece=OuterRef("pk"), glaze__isnull=False).order_by(
        seen_first, "-order"
    )
    return Piece.objects.select_related("maker", "clay", "shelf").annotate(
        glaze_colour=Subquery(coats.order_by(seen_first, "-order").values("glaze__colour")[:1])
    )
