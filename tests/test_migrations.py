"""The tables and the models agree, and each step between them says what it does."""

import re
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db.migrations.loader import MigrationLoader

FOLDER = Path(__file__).resolve().parents[1] / "studio" / "migrations"
NAMES = sorted(path.stem for path in FOLDER.glob("[0-9]*.py"))

#: What Django calls a migration when nobody has given it a name.
UNNAMED = re.compile(r"_(auto_\d|initial$|alter_|.*and_more$)")


@pytest.mark.django_db
def test_no_migration_is_pending() -> None:
    out = StringIO()
    try:
        call_command("makemigrations", check=True, dry_run=True, stdout=out, verbosity=2)
    except SystemExit:
        pytest.fail("A model has changed without a migration:\n" + out.getvalue())


def test_there_are_migrations() -> None:
    assert NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_migration_says_what_it_does(name: str) -> None:
    assert re.fullmatch(r"\d{4}_[a-z][a-z0-9]*(_[a-z0-9]+)+", name), name
    assert not UNNAMED.search(name), f"{name}: rename it after what it does"


def test_migrations_stand_in_one_line() -> None:
    loader = MigrationLoader(None)
    assert len(loader.graph.leaf_nodes("studio")) == 1
    numbers = [name[:4] for name in NAMES]
    assert numbers == [f"{number:04}" for number in range(1, len(numbers) + 1)]
