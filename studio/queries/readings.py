"""The readings of a firing, thinned where a controller wrote many: what is drawn and worked with."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import connection

from studio.models import Firing, Reading, ReadingsFile

#: Up to so many readings are used one by one.
ALL_UP_TO = 2500
#: Of more, the coldest and the hottest of each of so many stretches.
STRETCHES = 450

# Stretches of equally many readings, in order of time. A plain window over each finds its two extremes; the
# first and the last reading are always among what is kept.
_EXTREMES = """
    SELECT id, at, temperature_c FROM (
        SELECT id, at, temperature_c,
            ROW_NUMBER() OVER (PARTITION BY stretch ORDER BY temperature_c, at) AS from_low,
            ROW_NUMBER() OVER (PARTITION BY stretch ORDER BY temperature_c DESC, at) AS from_high,
            place, many
        FROM (
            SELECT id, at, temperature_c,
                NTILE(%s) OVER (ORDER BY at) AS stretch,
                ROW_NUMBER() OVER (ORDER BY at) AS place,
                COUNT(*) OVER () AS many
            FROM {table} WHERE firing_id = %s
        ) AS dealt
    ) AS ranked
    WHERE from_low = 1 OR from_high = 1 OR place = 1 OR place = many
    ORDER BY at
"""


def readings_of(
    firing: Firing, *, all_up_to: int = ALL_UP_TO, stretches: int = STRETCHES
) -> list[tuple[datetime, Decimal]]:
    """(time, °C) in order of time: every reading, or of very many those that a drawing needs. Two
    queries at most."""
    rows = list(firing.readings.order_by("at").values_list("at", "temperature_c")[: all_up_to + 1])
    if len(rows) <= all_up_to:
        return rows
    sql = _EXTREMES.format(table=connection.ops.quote_name(Reading._meta.db_table))
    return [(row.at, row.temperature_c) for row in Reading.objects.raw(sql, [stretches, firing.pk])]


def curve_of(firing: Firing, **values: int) -> list[tuple[datetime, float]]:
    """Times and °C of a firing for its curve, in order: `readings_of` as plain numbers."""
    return [(at, float(celsius)) for at, celsius in readings_of(firing, **values)]


def known_among(firing: Firing, rows: Sequence[tuple[datetime, Decimal]]) -> tuple[int, int]:
    """How many of these moments, in order, are noted for a firing already: alike, and with another figure."""
    if not rows:
        return 0, 0
    known = dict(
        firing.readings.filter(at__gte=rows[0][0], at__lte=rows[-1][0])
        .order_by()
        .values_list("at", "temperature_c")
    )
    met = [(known[at], celsius) for at, celsius in rows if at in known] if known else []
    alike = sum(noted == celsius for noted, celsius in met)
    return alike, len(met) - alike


def files_of(firing: Firing) -> list[ReadingsFile]:
    """The controllers' files that were saved for this firing and stand, the newest first, without their
    data."""
    saved = firing.readings_files.filter(saved_at__isnull=False, taken_back_at__isnull=True)
    return list(saved.defer("data").select_related("by").order_by("-saved_at", "-id")[:20])
