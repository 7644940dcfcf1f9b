"""A controller's file of 100,000 readings: looked at and saved, beside csv and a bulk insert alone."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from time import perf_counter
from zoneinfo import ZoneInfo

from django.db import transaction

from studio.domain.readings_file import look_at
from tests.support.postgres import Postgres, free_port

from .row import Row, in_words, seconds

COUNT = 100_000
LIT = datetime(2025, 11, 17, 9, 0, tzinfo=UTC)
#: A file is read in within this on each database.
MOST_S = 5.0


def text() -> str:
    """One reading a second for 28 hours: up to 1222 °C in 20 hours, and down again."""
    rows = ["Time,PV"]
    for second in range(COUNT):
        celsius = 20 + second / 60 if second < 72_000 else 1220 - (second - 72_000) / 60
        rows.append(f"{LIT + timedelta(seconds=second):%Y-%m-%d %H:%M:%S},{celsius:.1f}")
    return "\n".join(rows)


def rows() -> list[Row]:
    file = text()
    bare = seconds(lambda: [*csv.reader(file.split("\n"))], runs=3)
    look = seconds(lambda: look_at(file, lit_at=LIT, zone=ZoneInfo("UTC")), runs=3)
    found = [
        Row(
            "readings",
            f"{COUNT:,} lines understood",
            in_words(look),
            f"csv alone {in_words(bare)}",
            look / bare,
        )
    ]
    for database in ("sqlite", "postgres"):
        # Each database in a process of its own: settings are made once.
        made = subprocess.run(
            [sys.executable, "-m", __spec__.name, database],
            capture_output=True,
            text=True,
            check=False,
            env=os.environ,
        )
        if made.returncode:
            found.append(Row("readings", f"saved, {database}", "not measured", made.stderr[-60:].strip()))
            continue
        whole, plain = map(float, made.stdout.split()[-2:])
        found.append(
            Row(
                "readings",
                f"{COUNT:,} sent, looked at and saved, {database}",
                in_words(whole),
                f"csv and bulk insert {in_words(plain)}",
                whole / plain,
                f"{MOST_S:g} s",
                whole <= MOST_S,
            )
        )
    return found


def _saved(database: str, folder: Path) -> tuple[float, float]:
    """Seconds to send, look at and save the file; and for csv and Django's bulk insert of its rows alone."""
    os.environ |= {"DJANGO_SETTINGS_MODULE": "studio.settings", "WAREBOARD_VAR": str(folder / "var")}
    os.environ.pop("WAREBOARD_DATABASE_URL", None)
    server = None
    if database == "postgres":
        server = Postgres(folder / "postgres", port=free_port())
        server.start()
        os.environ["WAREBOARD_DATABASE_URL"] = server.url
    try:
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        return _measure()
    finally:
        if server:
            server.stop()


def _measure() -> tuple[float, float]:
    from studio.actions import readings
    from studio.models import Reading
    from tests import factories

    file, now = text(), LIT + timedelta(hours=30)
    firing = factories.firing("firing", kind="glaze", lit_at=LIT)
    by = firing.made_by

    def whole() -> None:
        kept = readings.keep_file(firing=firing, name="log.csv", text=file, by=by, now=now)
        readings.look(file=kept, now=now)
        assert readings.save_file(file=kept, by=by, now=now).fresh == COUNT

    def plain() -> None:
        rows = list(csv.reader(file.split("\n")))[1:]
        Reading.objects.bulk_create(
            Reading(
                firing=firing, at=datetime.fromisoformat(at).replace(tzinfo=UTC), temperature_c=Decimal(c)
            )
            for at, c in rows
        )

    times = []
    for work in (whole, plain):
        start = perf_counter()
        with transaction.atomic():
            work()
        times.append(perf_counter() - start)
        firing.readings.all().delete()
    return times[0], times[1]


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        print(*_saved(sys.argv[1], Path(made)))
