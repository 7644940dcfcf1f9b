"""What the daily run does about old things, in words, and how long ago "so many months" was."""

from __future__ import annotations

from enum import StrEnum

from .say import later


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
        later("person who left long ago was erased"),
        later("people who left long ago were erased"),
    ),
    Did.NOT_ERASED: (
        later("person could not be erased yet: something is open"),
        later("people could not be erased yet: something is open"),
    ),
    Did.CARE_NOTES: (
        later("health note and number to call of somebody who left went"),
        later("health notes and numbers to call of people who left went"),
    ),
    Did.MAILS: (later("mail lost its words and address"), later("mails lost their words and addresses")),
    Did.REGISTERS: (later("line of a register went"), later("lines of registers went")),
    Did.WAITS: (later("ended wait for a place went"), later("ended waits for places went")),
    Did.DEVICES: (later("device that was signed out went"), later("devices that were signed out went")),
    Did.CODES: (later("sign-in code or counted try went"), later("sign-in codes and counted tries went")),
    Did.SESSIONS: (later("session that was over went"), later("sessions that were over went")),
    Did.PROPOSALS: (later("load that nobody took went"), later("loads that nobody took went")),
    Did.PHOTOS: (later("removed photo went for good"), later("removed photos went for good")),
    Did.FILES: (later("file that no photo names went"), later("files that no photo names went")),
}


def did_words(code: str, count: int) -> str:
    """``3 mails lost their words and addresses``; of a kind that there is no more, its code."""
    if code not in set(Did):
        return f"{count:,} {code}"
    one, many = WORDS[Did(code)]
    return f"{count:,} {one if count == 1 else many}"
