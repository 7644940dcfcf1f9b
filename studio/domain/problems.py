"""Refusals are values.

A rule that says no returns :class:`Problem` objects; the page and the test read the same object. Nonsense
input to a calculation (a negative size, an unknown cone) raises :class:`DomainError` instead: that is a
caller's mistake or a mistyped figure, not a rule of the studio.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One reason why something may not happen.

    ``code`` is stable and for programs; ``message`` is a plain sentence for people and says what to do
    next. ``overridable`` problems may be overruled by the tutor with a written reason. ``about`` is the mark
    of the piece it concerns, or an empty string.
    """

    code: str
    message: str
    overridable: bool = False
    about: str = ""

    def __str__(self) -> str:
        return self.message


class DomainError(ValueError):
    """Input that no studio rule can make sense of. ``str()`` is a plain sentence."""

    def __init__(self, message: str, *, code: str = "nonsense") -> None:
        super().__init__(message)
        self.code = code
        self.message = message


class Refused(Exception):
    """Raised by an action that was not carried out. Carries the problems; nothing was saved."""

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems = [problems] if isinstance(problems, Problem) else list(problems)
        if not self.problems:
            raise ValueError("Refused needs at least one problem")
        super().__init__(" ".join(problem.message for problem in self.problems))

    @property
    def codes(self) -> list[str]:
        return [problem.code for problem in self.problems]

    @property
    def overridable(self) -> bool:
        """True when every problem may be overruled with a reason."""
        return all(problem.overridable for problem in self.problems)
