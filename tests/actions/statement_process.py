"""Statements issued by a process of its own, which kills itself with SIGKILL at a named step.

Started as ``python -m tests.actions.statement_process STEP NTH PERSON``. Which database: ``DATABASE`` in the
environment, a JSON of Django's settings. The studio's own code knows nothing of this.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import uuid
from collections.abc import Callable
from typing import Any

STEPS = (
    "before the lock",
    "after the number",
    "after the page",
    "after the row",
    "after the bytes",
    "at commit",
)


def main(step: str, nth: int, person_pk: int) -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "studio.settings"
    from django.conf import settings

    settings.DATABASES = {"default": json.loads(os.environ["DATABASE"])}
    import django

    django.setup()
    from studio.actions import money, statements
    from studio.models import Person, Statement, StatementFile, StatementLine

    count = 0

    def dies(name: str, work: Callable[..., Any], *, before: bool = False) -> Callable[..., Any]:
        def wrapped(*args: Any, **values: Any) -> Any:
            nonlocal count
            result = None if before else work(*args, **values)
            if name == step:
                count += 1
                if count == nth:
                    os.kill(os.getpid(), signal.SIGKILL)
            return work(*args, **values) if before else result

        return wrapped

    statements._hold_numbers = dies("before the lock", statements._hold_numbers, before=True)
    statements._next_number = dies("after the number", statements._next_number)
    statements.statement_pdf = dies("after the page", statements.statement_pdf)
    Statement.objects.create = dies("after the row", Statement.objects.create)
    StatementFile.objects.create = dies("after the bytes", StatementFile.objects.create)
    StatementLine.objects.bulk_create = dies("at commit", StatementLine.objects.bulk_create)

    person = Person.objects.get(pk=person_pk)
    maud = Person.objects.filter(role="tutor").first()
    from django.utils import timezone

    for _ in range(nth + 2):
        money.add_charge(
            person=person, amount_minor=100, words="Clay", kind="clay", by=maud, client_id=str(uuid.uuid4())
        )
        statement = statements.issue_statement(
            person=person, to_on=timezone.now().date(), by=maud, client_id=str(uuid.uuid4())
        )
        print(statement.number, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
