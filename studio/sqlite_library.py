"""Choose the SQLite that runs.

SQLite's own release notes describe a rare corruption when a write-ahead log is reset while two connections
work, present up to 3.51.2; Debian 12's Python carries 3.40.1. The ``pysqlite3`` wheel bundles a later
library under the same interface, so where it is installed it takes the place of ``sqlite3`` before Django
loads its backend. The health page tells which version runs.
"""

from __future__ import annotations

import importlib
import sys


def use_bundled_sqlite() -> None:
    """Replace the ``sqlite3`` modules by ``pysqlite3`` where that is installed. Does nothing otherwise."""
    if "django.db.backends.sqlite3.base" in sys.modules:
        return
    try:
        bundled = importlib.import_module("pysqlite3")
        dbapi2 = importlib.import_module("pysqlite3.dbapi2")
    except ImportError:
        return
    sys.modules["sqlite3"] = bundled
    sys.modules["sqlite3.dbapi2"] = dbapi2


def sqlite_version() -> str:
    """The version of the SQLite library in use, such as ``3.53.4``."""
    return sys.modules.get("sqlite3", importlib.import_module("sqlite3")).sqlite_version
