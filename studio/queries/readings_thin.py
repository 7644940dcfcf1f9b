"""Readings of several firings at once, few enough to draw and to reckon with."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Case, Count, F, IntegerField, Value, When, Window
from django.db.models.functions import RowNumber

from studio.models import Firing, Reading

MOST = 400


def thin_readings(firings: Iterable[Firing], *, most: int = MOST) -> dict[int, list[tuple[datetime, float]]]:
    """(time, °C) in order by the firing's primary key, about ``most`` of each at even steps. Two queries.

    Controllers write a reading every few seconds; a curve on a page needs one every few minutes.
    """
    keys = [firing.pk for firing in firings]
    found: dict[int, list[tuple[datetime, float]]] = {key: [] for key in keys}
    rows = Reading.objects.filter(firing__in=keys).order_by()
    counts = dict(rows.values("firing").annotate(n=Count("pk")).values_list("firing", "n"))
    if not counts:
        return found
    steps = [When(firing=key, then=Value(-(-count // most))) for key, count in counts.items()]
    numbered = rows.annotate(
        row=Window(RowNumber(), partition_by="firing", order_by="at"),
        step=Case(*steps, default=Value(1), output_field=IntegerField()),
    ).annotate(left=F("row") % F("step"))
    kept = numbered.filter(left=0).values_list("firing", "at", "temperature_c")
    for key, at, celsius in sorted(kept, key=lambda row: row[1]):
        found[key].append((at, float(celsius)))
    return found
