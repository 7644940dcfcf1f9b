"""``manage.py ready_ranges``: how often the ranges given to makers would have held."""

from __future__ import annotations

from django.core.management.base import CommandParser

from studio.domain.forecast import held
from studio.domain.intervals import wilson
from studio.domain.say import say
from studio.management.language import SpokenCommand
from studio.queries.ready_range import asked_before


class Command(SpokenCommand):
    help = "Says of past pieces how many of the ranges that would have been given for them held."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--pieces", type=int, default=100, help="how many of the latest to ask about")

    def handle(self, *args: object, pieces: int, **options: object) -> None:
        ranges = asked_before(most=max(1, min(pieces, 1000)))
        if not ranges:
            self.stdout.write(say("No piece has become ready yet, so nothing can be said."))
            return
        kept, asked = held(ranges=ranges)
        low, high = wilson(successes=kept, trials=asked)
        days = sorted((latest - earliest).total_seconds() / 86400 for earliest, latest, _ in ranges)
        self.stdout.write(
            say(
                "{kept} of {asked} ranges held, {share} % (95 % interval {low} to {high} %); meant is 80 %. "
                "Half were {days} days or narrower.",
                kept=kept,
                asked=asked,
                share=f"{100 * kept / asked:.0f}",
                low=f"{100 * low:.0f}",
                high=f"{100 * high:.0f}",
                days=f"{days[len(days) // 2]:.0f}",
            )
        )
