"""Photos that a swatch of a glaze can be taken from: fired pots that carry it, and its own test tiles."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from studio.domain.stages import AFTER_LAST_FIRING, Stage
from studio.models import Glaze, Photo

SHOWN = 24
_SHOWS_GLAZE = (*AFTER_LAST_FIRING, Stage.COLLECTED, Stage.UNCLAIMED)


def photos_of_glaze(glaze: Glaze) -> QuerySet[Photo]:
    """Newest first, taken after the glaze firing. Only the maker's mark is shown with them."""
    carries = Q(piece__glazes_on__glaze=glaze) | Q(piece__test_tile__base=glaze, piece__test_tile__per_cent=0)
    rows = Photo.objects.filter(carries, stage__in=[stage.value for stage in _SHOWS_GLAZE])
    return rows.select_related("piece").distinct().order_by("-taken_at", "-id")
