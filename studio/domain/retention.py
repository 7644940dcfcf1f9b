"""What the daily run does about old things, in words, and how long ago "so many months" was."""

from __future__ import annotations

import calendar
from datetime import date
from enum import StrEnum


class Did(StrEnum):
    """One kind of thing that goes when its time is over."""

    ERASED = "erased"
    NOT_ERASED = "not-erased"
    CARE_NOTES = "care-notes"
    MAILS = "mails"
    REGISTERS = "registers"
    WAITS = "waits"
    DEVICES = "devices"
    CODES = "codes"
    SESSIONS = "sessions"
    PROPOSALS = "proposals"
    PHOTOS = "photos"
    FILES = "files"


#: For one and for more of each.
WORDS: dict[Did, tuple[str, str]] = {
    Did.ERASED: (
        "person who left long ago was erased",
        "people who left long ago were erased",
    ),
    Did.NOT_ERASED: (
        "person could not be erased yet: something is open",
        "people could not be erased yet: something is open",
    ),
    Did.CARE_NOTES: (
        "health note and number to call of somebody who left went",
        "health notes and numbers to call of people who left went",
    ),
    Did.MAILS: ("mail lost its words and address", "mails lost their words and addresses"),
    Did.REGISTERS: ("line of a register went", "lines of registers went"),
    Did.WAITS: ("ended wait for a place went", "ended waits for places went"),
    Did.DEVICES: ("device that was signed out went", "devices that were signed out went"),
    Did.CODES: ("sign-in code or counted try went", "sign-in codes and counted tries went"),
    Did.SESSIONS: ("session that was over went", "sessions that were over went"),
    Did.PROPOSALS: ("load that nobody took went", "loads that nobody took went"),
    Did.PHOTOS: ("removed photo went for good", "removed photos went for good"),
    Did.FILES: ("file that no photo names went", "files that no photo names went"),
}


def did_words(code: str, count: int) -> str:
    """``3 mails lost their words and addresses``; of a kind that there is no more, its code."""
    if code not in set(Did):
        return f"{count:,} {code}"
    one, many = WORDS[Did(code)]
    return f"{count:,} {one if count == 1 else many}"


def months_before(day: date, months: int) -> date:
    """The same day so many months ago, or the last day of that month where it is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 - months, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
