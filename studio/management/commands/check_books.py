"""``manage.py check_books``: does the money add up? Ends with 1 when anything does not."""

from __future__ import annotations

from django.core.management.base import CommandError

from studio.domain.say import say
from studio.management.language import SpokenCommand
from studio.models import Charge, Settlement, Statement
from studio.queries.money_check import thorough


class Command(SpokenCommand):
    help = (
        "Checks that costs, shares and charges agree, that numbers have no gaps and that no page was altered."
    )

    def handle(self, *args: object, **options: object) -> None:
        problems = thorough()
        for problem in problems:
            self.stderr.write(str(problem))
        if problems:
            raise CommandError(say("The books do not add up: {count} found.", count=len(problems)))
        self.stdout.write(
            say(
                "The books add up: {firings} firings shared, {charges} charges, "
                "{statements} numbered statements and credit notes.",
                firings=Settlement.objects.count(),
                charges=Charge.objects.count(),
                statements=Statement.objects.count(),
            )
        )
