"""Whether anybody else has written to the database: what was read before that may not be so any more."""

from __future__ import annotations

from django.db import connection


def version() -> int | None:
    """A number that a commit of any other connection, in any process, changes; our own commits do not.

    None where the database keeps no such number: then nothing read earlier may be relied on. SQLite's
    documentation, PRAGMA data_version; two numbers compare only within one connection.
    """
    if connection.vendor != "sqlite":
        return None
    with connection.cursor() as cursor:
        return cursor.execute("PRAGMA data_version").fetchone()[0]
