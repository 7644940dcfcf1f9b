"""What a studio gives back of a course fee: all, a part or nothing, by the days before the first meeting."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from .problems import DomainError
from .say import say, say_many
from .sharing import round_half_up


@dataclass(frozen=True, slots=True)
class RefundRule:
    """All is given back until ``full_days`` before the first day, ``part_percent`` until ``part_days``."""

    full_days: int
    part_days: int
    part_percent: int

    def __post_init__(self) -> None:
        if not 0 <= self.part_days <= self.full_days:
            raise DomainError(
                say("A part is given back later than all of it: check the two numbers of days.")
            )
        if not 0 <= self.part_percent <= 100:
            raise DomainError(say("A part is from 0 to 100 percent."))

    def percent(self, days_before: int) -> int:
        """What is given back of each hundred, so many days before the first one; none once it has begun."""
        if days_before < 0 or days_before < self.part_days:
            return 0
        return 100 if days_before >= self.full_days else self.part_percent

    def amount(self, fee_minor: int, days_before: int) -> int:
        """In whole minor units, a half up."""
        if type(fee_minor) is not int or fee_minor < 0:
            raise DomainError(say("A fee is whole units of money."), code="float")
        return round_half_up(Fraction(fee_minor * self.percent(days_before), 100))

    def sentences(self) -> list[str]:
        """The rule in plain words, one sentence for each step."""
        if not self.full_days:
            return [say("Until the day of the first meeting you get all of the fee back, after it nothing.")]
        said = [
            say(
                "Until {days} before the first meeting you get all of the fee back.",
                days=_days(self.full_days),
            )
        ]
        if self.part_percent and self.part_days < self.full_days:
            until = (
                say("{days} before it", days=_days(self.part_days))
                if self.part_days
                else say("the day itself")
            )
            said.append(
                say(
                    "Until {until} you get {part_percent} % of it back.",
                    until=until,
                    part_percent=self.part_percent,
                )
            )
        said.append(say("After that nothing is given back."))
        return said


def _days(count: int) -> str:
    return say_many("{count} day", "{count} days", count)
