"""What a page about flaws and losses is asked for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from studio.domain.say import later

#: What can be looked at -> how many days.
SPANS: Mapping[str, tuple[str, int]] = {
    "3": (later("3 months"), 92),
    "12": (later("12 months"), 366),
    "36": (later("3 years"), 1097),
}


def span_from(typed: str | None) -> str:
    """A key of `SPANS`; a year where nonsense is asked."""
    return typed if typed in SPANS else "12"


def choice_from(typed: str | None, offered: Iterable[tuple[str, str]]) -> str:
    """One of the values that are offered, or empty for anything."""
    return typed if typed and typed in dict(offered) else ""
