"""``manage.py check_books``: does the money add up? Ends with 1 when anything does not."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandError

from studio.models import Charge, Settlement, Statement
from studio.queries.money_check import thorough


class Command(BaseCommand):
    help = (
        "Checks that costs, shares and charges agree, that numbers have no gaps and that no page was altered."
    )

    def handle(self, *args: object, **options: object) -> None:
        problems = thorough()
        for problem in problems:
            self.stderr.write(str(problem))
        if problems:
            raise CommandError(f"The books do not add up: {len(problems)} found.")
        self.stdout.write(
            f"The books add up: {Settlement.objects.count()} firings shared, "
            f"{Charge.objects.count()} charges, "
            f"{Statement.objects.count()} numbered statements and credit notes."
        )
