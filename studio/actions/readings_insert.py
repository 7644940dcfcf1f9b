"""Very many readings into their table at once: a controller's file may hold a hundred thousand.

The rows are what `bulk_create` would write, without making an object of each.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import connection

from studio.domain.say import say
from studio.models import Firing, Person, Reading, ReadingsFile

#: Below this the ordinary way is as fast.
FEW = 500


def insert_readings(
    firing: Firing,
    rows: Sequence[tuple[datetime, Decimal]],
    *,
    source: str,
    by: Person | None = None,
    file: ReadingsFile | None = None,
) -> None:
    """Add readings, (aware time, °C to a tenth); none of the moments may be noted already."""
    if len(rows) < FEW:
        Reading.objects.bulk_create(
            Reading(firing=firing, at=at, temperature_c=celsius, source=source, by=by, file=file)
            for at, celsius in rows
        )
        return
    quote = connection.ops.quote_name
    table = quote(Reading._meta.db_table)
    names = ("firing_id", "source", "by_id", "file_id", "at", "temperature_c")
    columns = ", ".join(quote(name) for name in names)
    same = [firing.pk, source, by.pk if by else None, file.pk if file else None]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                f"INSERT INTO {table} ({columns}) SELECT %s::bigint, %s::varchar, %s::bigint, %s::bigint, "  # noqa: S608
                "at, celsius FROM unnest(%s::timestamptz[], %s::numeric[]) AS new (at, celsius)",
                [*same, [at for at, _ in rows], [celsius for _, celsius in rows]],
            )
            return
        moment, degrees = connection.ops.adapt_datetimefield_value, Reading._meta.get_field("temperature_c")
        tenths = {celsius: degrees.get_db_prep_save(celsius, connection) for _, celsius in rows}
        cursor.executemany(
            say(
                "INSERT INTO {table} ({columns}) VALUES (%s, %s, %s, %s, %s, %s)",
                table=table,
                columns=columns,
            ),
            [(*same, moment(at), tenths[celsius]) for at, celsius in rows],
        )
