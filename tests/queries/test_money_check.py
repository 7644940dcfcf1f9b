"""The daily check finds each thing that can be wrong, and nothing in a sound studio."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from studio.actions import money, statements, taxes
from studio.models import Charge, CostLine, FiringShare, Settlement, Statement, StatementFile, StatementLine
from studio.queries.money_check import quick, thorough
from tests import factories as make
from tests.queries.test_books import story

pytestmark = pytest.mark.django_db
NOW = make.NOW


@pytest.fixture
def sound() -> None:
    """A studio in which much has happened: firings reopened, taxes, credits, statements and a credit note."""
    ines, maud = story(), make.tutor()
    tobias = make.student("Tobias", last_name="Marl")
    make.closed_firing(pieces=[make.piece(maker=tobias, stage="glazed") for _ in range(2)])
    vat = taxes.add_tax_rate(label="VAT", percent=Decimal("20"), by=maud)
    money.add_charge(person=tobias, amount_minor=999, words="Tools", tax=vat, by=maud, client_id="t", now=NOW)
    later = NOW + timedelta(days=1)
    given = {"to_on": later.date(), "by": maud, "now": later}
    first = statements.issue_statement(person=ines, client_id="s1", **given)
    statements.issue_statement(person=tobias, client_id="s2", **given)
    statements.cancel_statement(statement=first, why="Days", by=maud, client_id="s3", now=later)
    statements.issue_statement(person=ines, client_id="s4", **given)


def spoil(model: type, column: str, value: object, **which: object) -> None:
    """Change a row behind the studio's back, as a hand in the database would."""
    row = model.objects.filter(**which).order_by("-pk").first()
    with connection.cursor() as cursor:
        cursor.execute(f'UPDATE "{model._meta.db_table}" SET "{column}" = %s WHERE id = %s', [value, row.pk])


def test_a_sound_studio_has_nothing_wrong(sound: None) -> None:
    assert thorough() == []
    out = StringIO()
    call_command("check_books", stdout=out)
    assert "The books add up: " in out.getvalue()
    assert "4 numbered statements and credit notes." in out.getvalue()


@pytest.mark.parametrize(
    ("code", "act"),
    [
        ("cost-not-shared", lambda: spoil(CostLine, "amount_minor", 1, settlement__reversed_at=None)),
        ("cost-not-shared", lambda: spoil(FiringShare, "amount_minor", 1, settlement__reversed_at=None)),
        (
            "reopened-still-charged",
            lambda: spoil(
                Charge, "amount_minor", 1, share__settlement__reversed_at__isnull=False, reverses=None
            ),
        ),
        ("reversal-differs", lambda: spoil(Charge, "amount_minor", -1, reverses__isnull=False)),
        (
            "charged-to-another",
            lambda: spoil(Charge, "person_id", make.student("Pim").pk, share__isnull=False, reverses=None),
        ),
        ("numbers-gap", lambda: spoil(Statement, "number", 9)),
        ("statement-differs", lambda: spoil(Charge, "amount_minor", 1, statement_lines__statement__number=2)),
        (
            "stated-twice",
            lambda: StatementLine.objects.create(
                statement=Statement.objects.get(number=2), charge=Charge.objects.order_by("pk").first()
            ),
        ),
        ("share-differs", lambda: spoil(Charge, "amount_minor", 1, share__isnull=False, reverses=None)),
        ("tax-differs", lambda: spoil(Charge, "tax_minor", 1, tax_label="VAT", reverses=None)),
        ("page-altered", lambda: spoil(StatementFile, "data", b"%PDF-1.4 another")),
    ],
)
def test_each_fault_is_found_and_ends_the_command_with_an_error(
    sound: None, code: str, act: Callable[[], object]
) -> None:
    act()
    problems = thorough()
    assert code in {problem.code for problem in problems}
    assert all(problem.message.endswith(".") for problem in problems)
    with pytest.raises(CommandError):
        call_command("check_books", stderr=StringIO())


def test_the_quick_check_asks_as_often_for_many_rows_as_for_few(
    sound: None, django_assert_num_queries
) -> None:
    with django_assert_num_queries(8):
        assert quick() == []
    make.closed_firing(pieces=12)
    with django_assert_num_queries(8):
        assert quick() == []
    assert Settlement.objects.count() == 4
