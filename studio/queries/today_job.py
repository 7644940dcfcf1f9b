"""One line of what needs doing today; each subject makes its own."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Job:
    """One line of "What needs doing": when, what and where. ``marks`` are named before the words."""

    when: str
    title: str
    words: str
    url: str
    note: str = ""
    marks: tuple[str, ...] = ()
    now: bool = False
