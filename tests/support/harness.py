"""Sets the tests up before Django loads: which database, a folder of their own, no network, strict templates.

Django reads its settings once, so all this happens as the options are registered, before any other
conftest or test module is imported. Under xdist the controller decides and starts what is shared; its
workers inherit the environment and get a folder each inside the controller's.
"""

import os
import shutil
import tempfile
from pathlib import Path

import hypothesis
import pytest

from tests.support import network
from tests.support.postgres import Postgres, free_port

WORKER = os.environ.get("PYTEST_XDIST_WORKER")
DATABASE_URL = "WAREBOARD_DATABASE_URL"
FOLDER = "WAREBOARD_VAR"

folder_key = pytest.StashKey[Path]()
postgres_key = pytest.StashKey[Postgres]()


def pytest_addoption(parser: pytest.Parser, pluginmanager: pytest.PytestPluginManager) -> None:
    parser.addoption(
        "--database",
        choices=("sqlite", "postgres"),
        default="sqlite",
        help="run the tests on SQLite, or on a PostgreSQL that is started for them",
    )
    config = pluginmanager.get_plugin("pytestconfig")
    if WORKER:
        os.environ[FOLDER] = str(Path(os.environ[FOLDER]) / WORKER)
    else:
        arguments = parser.parse_known_args(config.invocation_params.args)
        _choose(config, arguments.database)
    network.block()
    _load_django()


def _choose(config: pytest.Config, database: str) -> None:
    # What a developer has set for their own studio must not reach the tests.
    for name in [name for name in os.environ if name.startswith("WAREBOARD_")]:
        if name not in {"WAREBOARD_BROWSER", "WAREBOARD_NO_BROWSER"}:
            del os.environ[name]
    folder = Path(tempfile.mkdtemp(prefix="wareboard-tests-"))
    config.stash[folder_key] = folder
    os.environ[FOLDER] = str(folder)
    os.environ["WAREBOARD_SECRET_KEY"] = "only-for-tests-" + "0123456789" * 5
    os.environ["DJANGO_LIVE_TEST_SERVER_ADDRESS"] = "127.0.0.1"
    if database == "postgres":
        server = Postgres(folder / "postgres", port=free_port())
        config.stash[postgres_key] = server
        os.environ[DATABASE_URL] = server.url


def _load_django() -> None:
    import django
    from django.conf import settings

    if settings.configured:
        raise pytest.UsageError("Unset DJANGO_SETTINGS_MODULE: the tests choose their settings themselves.")
    os.environ["DJANGO_SETTINGS_MODULE"] = "studio.settings"

    from tests.support.templates import UndefinedFails

    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        # A file and not memory: threads, the live server among them, open connections of their own.
        database["TEST"] = {**database.get("TEST", {}), "NAME": str(settings.VAR / "test.sqlite3")}
    else:
        database["CONN_MAX_AGE"] = 0
    for engine in settings.TEMPLATES:
        engine["OPTIONS"]["string_if_invalid"] = UndefinedFails("%s")
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "tests.support.staticfiles.FoundStaticFiles"},
    }
    settings.WHITENOISE_USE_FINDERS = True
    settings.WHITENOISE_AUTOREFRESH = True
    # The real hasher is slow on purpose.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    django.setup()
    # A worker of xdist would find it in its environment and read the settings before it has its own folder.
    del os.environ["DJANGO_SETTINGS_MODULE"]


def pytest_configure(config: pytest.Config) -> None:
    # Every day the same examples, so that a red run is red for the next person too; others in the full run.
    everyday = "not full" in (config.option.markexpr or "")
    hypothesis.settings.register_profile("everyday", derandomize=True, deadline=None, database=None)
    hypothesis.settings.register_profile("full", max_examples=1000, deadline=None, database=None)
    hypothesis.settings.load_profile("everyday" if everyday else "full")
    if postgres_key in config.stash and not config.option.collectonly:
        config.stash[postgres_key].start()


def pytest_unconfigure(config: pytest.Config) -> None:
    if postgres_key in config.stash:
        config.stash[postgres_key].stop()
    if folder_key in config.stash:
        shutil.rmtree(config.stash[folder_key], ignore_errors=True)


def pytest_report_header(config: pytest.Config) -> str:
    from django.db import connection

    if connection.vendor == "sqlite":
        from django.db.backends.sqlite3.base import Database

        return f"database: SQLite {Database.sqlite_version}"
    return (
        f"database: PostgreSQL {config.stash[postgres_key].version}" if postgres_key in config.stash else ""
    )
