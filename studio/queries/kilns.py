"""Kilns with what is in them and what they fired last."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.db.models import Count, Prefetch, Q

from studio.models import Firing, Kiln

PAST_SHOWN = 5
_OPEN = [Firing.State.FIRING, Firing.State.COOLING, Firing.State.UNLOADING]


@dataclass
class KilnNow:
    """A kiln, its open firing if any, the loads being planned for it, and its last closed firings."""

    kiln: Kiln
    hot: Firing | None = None
    planned: list[Firing] = field(default_factory=list)
    past: list[Firing] = field(default_factory=list)


def kilns_now() -> list[KilnNow]:
    """Every kiln in use. Two queries whatever the number."""
    firings = (
        Firing.objects.exclude(state=Firing.State.CANCELLED)
        .annotate(
            places=Count("placements", filter=Q(placements__taken_out_at__isnull=True), distinct=True),
        )
        .order_by("-number")
    )
    rows = []
    kilns = Kiln.objects.filter(retired_at__isnull=True)
    for kiln in kilns.prefetch_related(Prefetch("firings", queryset=firings, to_attr="all_firings")):
        row = KilnNow(kiln)
        for firing in kiln.all_firings:
            firing.kiln = kiln
            if firing.state in _OPEN:
                row.hot = firing
            elif firing.state == Firing.State.PLANNED:
                row.planned.insert(0, firing)
            elif len(row.past) < PAST_SHOWN:
                row.past.append(firing)
        rows.append(row)
    return rows
