"""Numbers of statements: many at once, processes killed in the middle, cancelled ones. No gap, no double."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection

from studio.actions import money, statements
from studio.models import Person, Statement, StatementLine
from tests import factories as make
from tests.actions.statement_process import STEPS
from tests.actions.test_parallel import at_once

pytestmark = pytest.mark.django_db(transaction=True)
NOW = make.NOW
ROOT = Path(__file__).resolve().parents[2]
SIGKILLED = -9
AT_ONCE = 50


def owing(name: str, maud: Person) -> Person:
    person = make.student(name)
    money.add_charge(
        person=person,
        amount_minor=420,
        words="Clay",
        kind="clay",
        by=maud,
        client_id=make.client_id(),
        now=NOW - timedelta(days=2),
    )
    return person


def check_numbers() -> int:
    """The numbers run from 1 without a gap, and every page is the one that was made; returns how many."""
    rows = list(Statement.objects.select_related("file").order_by("number"))
    assert [row.number for row in rows] == list(range(1, len(rows) + 1))
    for row in rows:
        assert hashlib.sha256(bytes(row.file.data)).hexdigest() == row.sha256
    charged = list(
        StatementLine.objects.filter(statement__cancelled_by=None).values_list("charge", flat=True)
    )
    assert len(charged) == len(set(charged)), "a charge stands on two statements"
    return len(rows)


def test_fifty_at_once_are_numbered_without_gap_or_double() -> None:
    make.studio()
    maud = make.tutor()
    people = [owing(f"Student{number}", maud) for number in range(AT_ONCE)]
    got = at_once(
        lambda n: statements.issue_statement(
            person=people[n], to_on=NOW.date(), by=maud, client_id=f"page-{n}", now=NOW
        ),
        AT_ONCE,
    )
    assert all(isinstance(each, Statement) for each in got)
    assert check_numbers() == AT_ONCE


def test_fifty_pages_for_one_person_state_each_charge_once() -> None:
    make.studio()
    maud = make.tutor()
    ines = owing("Ines", maud)
    got = at_once(
        lambda n: statements.issue_statement(
            person=ines, to_on=NOW.date(), by=maud, client_id=f"page-{n // 10}", now=NOW
        ),
        AT_ONCE,
    )
    # Five pages sent ten times each: five statements, and one of them has the charge.
    assert len({each.pk for each in got}) == check_numbers() == 5
    assert StatementLine.objects.count() == 1
    assert {each.closing_minor for each in got} == {420}


def test_cancelling_and_issuing_at_once_share_one_series() -> None:
    make.studio()
    maud = make.tutor()
    people = [owing(f"Student{number}", maud) for number in range(20)]
    first = [
        statements.issue_statement(person=each, to_on=NOW.date(), by=maud, client_id=f"a{n}", now=NOW)
        for n, each in enumerate(people[:10])
    ]

    def act(number: int) -> object:
        if number < 10:
            return statements.issue_statement(
                person=people[10 + number], to_on=NOW.date(), by=maud, client_id=f"b{number}", now=NOW
            )
        # Each is cancelled by two phones at once.
        return statements.cancel_statement(
            statement=first[(number - 10) // 2], why="Wrong", by=maud, client_id=f"c{number}", now=NOW
        )

    got = at_once(act, 30)
    assert sum(isinstance(each, Statement) for each in got) == 20
    assert got.count(["cancelled-already"]) == 10
    assert check_numbers() == 30


def kill(step: str, nth: int, person: Person) -> subprocess.CompletedProcess[str]:
    database = {
        name: value for name, value in connection.settings_dict.items() if name not in {"TEST", "TIME_ZONE"}
    }
    database["NAME"] = str(database["NAME"])
    return subprocess.run(
        [sys.executable, "-m", "tests.actions.statement_process", step, str(nth), str(person.pk)],
        cwd=ROOT,
        env={**os.environ, "DATABASE": json.dumps(database)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_processes_killed_at_every_step_leave_no_gap() -> None:
    make.studio()
    maud = make.tutor()
    people = [owing(f"Student{number}", maud) for number in range(len(STEPS))]
    with ThreadPoolExecutor(3) as pool:
        done = list(pool.map(lambda n: kill(STEPS[n], 1 + n % 2, people[n]), range(len(STEPS))))
    for each in done:
        assert each.returncode == SIGKILLED, each.stderr
    printed = [int(line) for each in done for line in each.stdout.split()]
    assert len(printed) == len(set(printed)) == 3, "every other one came to its second statement"
    assert check_numbers() == 3
    # The series goes on behind them.
    after = statements.issue_statement(
        person=owing("Tobias", maud), to_on=NOW.date(), by=maud, client_id="after", now=NOW
    )
    assert after.number == 4
    assert check_numbers() == 4
