"""Imports run one way, and the domain stays pure."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
STUDIO = ROOT / "studio"

_DOMAIN = {"domain", "imaging"}
_MODELS = _DOMAIN | {"models"}
_QUERIES = _MODELS | {"queries"}
_NOTIFICATIONS = _QUERIES | {"notifications"}
_ACTIONS = _NOTIFICATIONS | {"actions"}
_FORMS = _ACTIONS | {"forms"}
#: Small modules at the top that read the machine and no part of the studio.
_GROUND = {"environment", "sqlite_library"}

#: What the modules of each layer may import besides their own layer.
MAY_IMPORT = {
    "domain": set(),
    "imaging": {"domain"},
    "templatetags": _MODELS,
    "models": {"domain"},
    "queries": _MODELS,
    "notifications": _QUERIES,
    "actions": _NOTIFICATIONS,
    "forms": _ACTIONS,
    # Pages and the sentences on them say a time or a sum in the same words.
    "views": _FORMS | _GROUND | {"templatetags"},
    "middleware": _FORMS,
    "context_processors": _FORMS,
    "admin": _FORMS,
    "management": _FORMS | _GROUND,
    "urls": {"views", "urls_of_a_subject"},
    "urls_of_a_subject": {"views"},
    # A table's defaults and validators are named in its migrations.
    "migrations": {"models", "domain"},
    # The languages there are; and what translates the sentences of the rules.
    "settings": _GROUND | {"domain"},
    "environment": set(),
    "sqlite_library": set(),
    "apps": {"domain"},
    "wsgi": set(),
}

#: The clock, chance, files, processes and the network come into the domain as arguments.
IMPURE_MODULES = {
    "asyncio",
    "builtins",
    "glob",
    "http",
    "importlib",
    "io",
    "logging",
    "multiprocessing",
    "os",
    "pathlib",
    "secrets",
    "shutil",
    "signal",
    "socket",
    "sqlite3",
    "subprocess",
    "sys",
    "tempfile",
    "threading",
    "time",
    "urllib",
    "uuid",
    "zoneinfo",
}
#: Parts of those that only reckon with what they are given.
PURE_PARTS = {"urllib.parse", "io.StringIO"}
IMPURE_CALLS = {"open", "print", "input", "exec", "eval", "__import__"}
CLOCK_READS = {"now", "utcnow", "today"}
#: A generator made from a seed that the caller gives is arithmetic; the module's own functions are chance.
FAIR_CHANCE = {"random.Random"}


def module_name(path: Path, base: Path = ROOT) -> str:
    return ".".join(path.relative_to(base).with_suffix("").parts).removesuffix(".__init__")


def imports(tree: ast.Module, name: str, *, is_package: bool) -> Iterator[tuple[int, str]]:
    """Line and full name of everything a module imports, wherever in the module it does so."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            start = node.module or ""
            if node.level:
                parts = name.split(".")
                above = parts[: len(parts) - node.level + (1 if is_package else 0)]
                start = ".".join([*above, start] if start else above)
            for alias in node.names:
                yield node.lineno, f"{start}.{alias.name}"


def layer_of(full_name: str) -> str | None:
    parts = full_name.split(".")
    if parts[0] != "studio" or len(parts) < 2:
        return None
    return "urls_of_a_subject" if parts[1].startswith("urls_") else parts[1]


def faults_of_order(source: str, name: str, *, is_package: bool = False) -> list[str]:
    own = layer_of(name)
    if own is None:
        return []
    if own not in MAY_IMPORT:
        return [f"{name}: “{own}” is no layer; the list in this test says which there are"]
    found = []
    for line, imported in imports(ast.parse(source), name, is_package=is_package):
        top = imported.split(".")[0]
        if top in {"tests", "fixtures"}:
            found.append(f"{name}:{line} imports {imported}")
        other = layer_of(imported)
        if other is not None and other != own and other not in MAY_IMPORT[own]:
            found.append(f"{name}:{line} imports {imported}: {own} comes before {other}")
    return found


def faults_of_purity(source: str, name: str) -> list[str]:
    tree = ast.parse(source)
    found = []
    has_random = False
    for line, imported in imports(tree, name, is_package=False):
        top = imported.split(".")[0]
        has_random |= imported == "random"
        if imported.startswith("random.") and imported not in FAIR_CHANCE:
            found.append(f"{name}:{line} imports {imported}")
        if any(imported == part or imported.startswith(part + ".") for part in PURE_PARTS):
            continue
        if top in IMPURE_MODULES or (top != "studio" and top not in sys.stdlib_module_names):
            found.append(f"{name}:{line} imports {imported}")
    for node in ast.walk(tree):
        if has_random and isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            used = f"{node.value.id}.{node.attr}"
            if node.value.id == "random" and used not in FAIR_CHANCE:
                found.append(f"{name}:{node.lineno} draws with {used}")
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name) and node.func.id in IMPURE_CALLS:
            found.append(f"{name}:{node.lineno} calls {node.func.id}")
        if isinstance(node.func, ast.Attribute) and node.func.attr in CLOCK_READS:
            found.append(f"{name}:{node.lineno} reads the clock with {node.func.attr}")
    return found


MODULES = sorted(STUDIO.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_imports_run_one_way(path: Path) -> None:
    name = module_name(path)
    faults = faults_of_order(path.read_text(encoding="utf-8"), name, is_package=path.name == "__init__.py")
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("path", sorted((STUDIO / "domain").rglob("*.py")), ids=module_name)
def test_the_domain_is_pure(path: Path) -> None:
    faults = faults_of_purity(path.read_text(encoding="utf-8"), module_name(path))
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("studio.domain.marks", "from studio.models import Piece"),
        ("studio.domain.marks", "from ..models import Piece"),
        ("studio.domain.marks", "from .. import models"),
        ("studio.models.pieces", "import studio.actions.pieces"),
        ("studio.queries.pieces", "def f():\n    from studio.actions import pieces"),
        ("studio.imaging.photos", "from studio.models import Photo"),
        ("studio.actions.pieces", "from studio.views.access import tutor"),
        ("studio.management.commands.serve", "from studio.views import home"),
        ("studio.views.home", "from tests.factories import a_piece"),
        ("studio.helpers.odds", "import json"),
    ],
)
def test_an_import_that_runs_back_is_found(name: str, source: str) -> None:
    assert len(faults_of_order(source, name)) == 1


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("studio.views.home", "from ..queries import today\nfrom .access import tutor"),
        ("studio.models.pieces", "from studio.domain.stages import Stage"),
        ("studio.actions.pieces", "from studio.imaging import photos\nfrom . import people"),
    ],
)
def test_an_import_that_runs_on_is_let_be(name: str, source: str) -> None:
    assert faults_of_order(source, name) == []


@pytest.mark.parametrize(
    "source",
    [
        "import random\nx = random.choice('ab')",
        "from random import choice",
        "from django.utils import timezone",
        "from datetime import datetime\nx = datetime.now()",
        "from datetime import date\nx = date.today()",
        "x = open('kiln.csv')",
        "import numpy",
        "from time import monotonic",
    ],
)
def test_an_impure_domain_is_found(source: str) -> None:
    assert len(faults_of_purity(source, "studio.domain.heatwork")) == 1


def test_chance_from_a_seed_is_pure() -> None:
    source = "import random\ndef order(seed):\n    return random.Random(seed).random()"
    assert faults_of_purity(source, "studio.domain.packing") == []
