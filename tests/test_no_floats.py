"""Money never goes through a float: the columns are whole numbers, and no module of it makes one."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

ROOT = Path(__file__).resolve().parents[1] / "studio"

MODULES = (
    *("domain/money_words", "domain/taxes", "domain/bank_account", "domain/csv_cells", "domain/journal"),
    *("domain/sharing", "domain/sharing_rules", "domain/sharing_sums"),
    *("models/money", "models/statements", "models/sharing"),
    *("queries/money", "queries/money_check", "queries/books", "queries/statements"),
    *("queries/statements_sheet", "queries/settling", "queries/settling_cost", "queries/settled"),
    *("actions/money", "actions/taxes", "actions/statements", "actions/settling", "actions/corrections"),
    *("actions/money_settings", "actions/sharing_policies", "notifications/compose_statement"),
    *("forms/money", "forms/money_field", "forms/statements", "views/statements", "views/bookkeeping"),
)
#: Calls that give a float, or take one for granted.
FLOATING = {"float", "round", "sqrt", "fsum", "log", "exp"}
#: What is between fractions or decimals, which stay exact: the very words of it.
EXACT_DIVISIONS = {
    "domain/sharing": {"exact / policy.rounding_step_minor", "total * weight / whole"},
    # Rounding a fraction gives a whole number.
    "domain/sharing_rules": {"round(volume)"},
    "domain/sharing_sums": {
        *("shared.whole / 10 ** 6", "amount * paid / space"),
        *("amount * share.rate_per_mille / 1000", "amount / step"),
    },
    "queries/settling_cost": {"used / most", "sum(duties, Fraction(0)) / len(duties)"},
}


def floats_in(source: str, *, exact: set[str] = frozenset()) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(source)):
        words = ""
        if isinstance(node, ast.Constant) and isinstance(node.value, float | complex):
            words = repr(node.value)
        elif isinstance(node, ast.BinOp | ast.AugAssign) and isinstance(node.op, ast.Div):
            words = ast.unparse(node)
            if "Fraction(" in words or "Decimal(" in words:
                words = ""
        elif isinstance(node, ast.Call):
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            words = ast.unparse(node) if name in FLOATING else ""
        if words and words not in exact:
            found.append(f"line {node.lineno}: {words}")
    return found


@pytest.mark.parametrize("name", MODULES)
def test_a_module_of_money_makes_no_float(name: str) -> None:
    source = (ROOT / f"{name}.py").read_text(encoding="utf-8")
    assert floats_in(source, exact=EXACT_DIVISIONS.get(name, set())) == []


@pytest.mark.parametrize(
    "source", ["x = 0.5", "x = 1 / 3", "x /= 2", "x = float('1')", "x = round(y, 2)", "x = math.sqrt(2)"]
)
def test_a_float_is_found(source: str) -> None:
    assert len(floats_in(source)) == 1


def test_every_column_of_money_is_a_whole_number_and_none_of_any_table_is_a_float() -> None:
    columns = [field for model in apps.get_app_config("studio").get_models() for field in model._meta.fields]
    assert not [field for field in columns if isinstance(field, models.FloatField)]
    money = [field for field in columns if field.name.endswith("_minor")]
    assert len(money) >= 12
    assert not [str(field) for field in money if not isinstance(field, models.IntegerField)]
