"""Glazes and clays with how often they are used."""

from __future__ import annotations

from django.db.models import Count, OuterRef, QuerySet, Subquery, Sum

from studio.models import ClayBody, Glaze, GlazeBatch


def glazes(*, retired: bool = False) -> QuerySet[Glaze]:
    """With ``pieces`` that carry it and ``in_hand``, g of its batches in use; None where none is weighed."""
    in_use = GlazeBatch.objects.filter(glaze=OuterRef("pk"), finished_on__isnull=True).order_by()
    in_hand = in_use.values("glaze").annotate(sum=Sum("in_hand_g")).values("sum")
    return (
        Glaze.objects.filter(retired_at__isnull=not retired)
        .select_related("swatch")
        .annotate(pieces=Count("glazeonpiece__piece", distinct=True), in_hand=Subquery(in_hand))
    )


def clays(*, retired: bool = False) -> QuerySet[ClayBody]:
    return ClayBody.objects.filter(retired_at__isnull=not retired).annotate(used=Count("pieces"))
