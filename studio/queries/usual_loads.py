"""How much ware a kiln usually takes, from its own past."""

from __future__ import annotations

from statistics import median

from django.db.models import BigIntegerField, F, Sum
from django.db.models.functions import Cast

from studio.models import Firing, Kiln

#: A kiln is never loaded to its walls: without past loads, this part of the chamber counts as a usual load.
USUAL_PART_OF_CHAMBER = 0.40
LOADS_LOOKED_BACK = 10


def usual_load_mm3(kiln: Kiln, *, kind: str = "", besides: Firing | None = None) -> float | None:
    """The median of the kiln's last ten closed loads, of one kind if it is named; None before the first."""
    # Wide from the first factor on: PostgreSQL multiplies small integers as small ones.
    width = Cast("placements__width_mm", BigIntegerField())
    volume = width * F("placements__depth_mm") * F("placements__height_mm")
    past = Firing.objects.filter(kiln=kiln, state=Firing.State.CLOSED, placements__taken_out_at__isnull=True)
    if kind:
        past = past.filter(kind=kind)
    if besides is not None:
        past = past.exclude(pk=besides.pk)
    latest = past.annotate(volume=Sum(volume)).order_by("-number").values_list("volume", flat=True)
    volumes = [volume for volume in latest[:LOADS_LOOKED_BACK] if volume]
    return float(median(volumes)) if volumes else None


def chamber_part_mm3(kiln: Kiln) -> float:
    """What stands in for it before the first load."""
    return kiln.width_mm * kiln.depth_mm * kiln.height_mm * USUAL_PART_OF_CHAMBER
