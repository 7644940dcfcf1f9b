"""Glazes and clays with how often they are used."""

from __future__ import annotations

from django.db.models import Count, QuerySet

from studio.models import ClayBody, Glaze


def glazes(*, retired: bool = False) -> QuerySet[Glaze]:
    return Glaze.objects.filter(retired_at__isnull=not retired).annotate(
        pieces=Count("glazeonpiece__piece", distinct=True)
    )


def clays(*, retired: bool = False) -> QuerySet[ClayBody]:
    return ClayBody.objects.filter(retired_at__isnull=not retired).annotate(used=Count("pieces"))
