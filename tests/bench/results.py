"""50,000 results of 25,000 pieces summarised by each database, beside the same count in bare SQL."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.support.postgres import Postgres, free_port

from .row import Row, in_words, seconds

PIECES = 25_000
#: A summary is there within this on each database.
MOST_S = 0.2

BARE = "SELECT combination_id, outcome, count(*) FROM studio_glazeresult GROUP BY combination_id, outcome"


def rows() -> list[Row]:
    found = []
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
            found.append(Row("results", database, "not measured", made.stderr[-60:].strip()))
            continue
        lines = [line.split("\t") for line in made.stdout.splitlines() if "\t" in line]
        bare = next(float(time_s) for what, time_s in lines if what == "bare")
        for what, time_s in lines:
            if what == "bare":
                continue
            whole = float(time_s)
            found.append(
                Row(
                    "results",
                    f"{what}, {database}",
                    in_words(whole),
                    f"bare SQL count {in_words(bare)}",
                    whole / bare,
                    f"{MOST_S * 1000:g} ms",
                    whole <= MOST_S,
                )
            )
    return found


def _measured(database: str, folder: Path) -> list[tuple[str, float]]:
    """What was done -> seconds, in a database of its own."""
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
        return [(what, seconds(work, runs=5)) for what, work in _works()]
    finally:
        if server:
            server.stop()


def _works() -> list[tuple[str, Callable[[], object]]]:
    from datetime import timedelta

    from django.db import connection

    from studio.domain.glaze_search import Asked
    from studio.models import Kiln, Piece
    from studio.queries import base_cracks, glaze_hints, glaze_results, losses, where_flaws
    from studio.queries.loads_waiting import GLAZES
    from tests import factories
    from tests.support import many_results

    many_results.fired(PIECES, combinations=24)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    kiln = Kiln.objects.get()
    one = glaze_results.results().filter(combination=glaze_results.summaries()[0].combination)
    piece = factories.piece(stage="glazed")
    for order, glaze in enumerate(glaze_results.summaries()[0].glazes, start=1):
        piece.glazes_on.create(surface="outside", glaze=glaze, order=order, put_on_at=factories.NOW)
    worn = Piece.objects.select_related("clay").prefetch_related(GLAZES)
    long_ago = factories.NOW - timedelta(days=9000)
    asked = Asked(glazes=(("glaze", "3"), ("glaze", "2")), cone="6", form="bowl")

    def bare() -> None:
        with connection.cursor() as cursor:
            cursor.execute(BARE)
            cursor.fetchall()

    return [
        ("bare", bare),
        ("every combination judged", glaze_results.summaries),
        ("one line asked", lambda: glaze_results.summaries(asked)),
        ("one combination: flaws", lambda: glaze_results.went_wrong(one)),
        ("one combination: layers", lambda: glaze_results.by_layer(one)),
        ("hints for one piece", lambda: glaze_hints.hints_for(worn.filter(pk=piece.pk))),
        ("where flaws gather", lambda: where_flaws.heights(kiln)),
        (
            "what is lost",
            lambda: losses.losses(since=long_ago, until=factories.NOW),
        ),
        ("S-cracks by the base", base_cracks.base_cracks),
    ]


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        for what, time_s in _measured(sys.argv[1], Path(made)):
            print(f"{what}\t{time_s:.6f}")
