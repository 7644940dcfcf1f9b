"""What a phone kept and now delivers: entries of JSON, each one act with an id and a time of its own.

Nothing in them is trusted: a value of another kind counts as missing, and each entry is then validated by the
form that the page itself uses.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from django.http import QueryDict

from studio.domain.problems import Problem, Refused
from studio.domain.say import later, say

from .parts import code_from
from .unload import AnswerForm

#: A phone sends small parts; more than this is no phone of ours.
MOST_ENTRIES = 25
MOST_BYTES = 128 * 1024
#: A phone's clock within this of the studio's is believed as it is: the way there takes a moment too.
CLOCK_BELIEVED = timedelta(minutes=2)

NO_SUCH_PIECE = later("That piece is not in this load. See its page, or enter it under “found in the kiln”.")


class Unreadable(Exception):
    """What was sent is no batch of ours."""


@dataclass(frozen=True, slots=True)
class Batch:
    """``person`` is the code of whoever gave the answers; ``skew`` is how far the phone is behind."""

    person: str
    skew: timedelta
    entries: list[dict[str, Any]]


def read_batch(body: bytes, now: datetime) -> Batch:
    """Raises `Unreadable` for anything but an object with a list of at most `MOST_ENTRIES` objects."""
    if len(body) > MOST_BYTES:
        raise Unreadable
    try:
        sent = json.loads(body)
    except (ValueError, RecursionError):
        raise Unreadable from None
    entries = sent.get("entries") if isinstance(sent, dict) else None
    if not isinstance(entries, list) or not 0 < len(entries) <= MOST_ENTRIES:
        raise Unreadable
    if not all(isinstance(entry, dict) for entry in entries):
        raise Unreadable
    return Batch(code_from(text_of(sent, "person")), skew_of(text_of(sent, "sent_at"), now), entries)


def text_of(entry: dict[str, Any], name: str, most: int = 400) -> str:
    """The text under a name; empty when it is no text."""
    value = entry.get(name)
    return value[:most] if isinstance(value, str) else ""


def texts_of(entry: dict[str, Any], name: str) -> list[str]:
    """The list of texts under a name; empty when it is none."""
    values = entry.get(name)
    return [value[:60] for value in values[:40] if isinstance(value, str)] if isinstance(values, list) else []


def skew_of(phone_now: str, now: datetime) -> timedelta:
    """How far the phone's clock is behind the studio's, by what it showed when it sent this."""
    shown = _moment(phone_now)
    if shown is None:
        return timedelta()
    skew = now - shown
    return skew if abs(skew) > CLOCK_BELIEVED else timedelta()


def seen_at(entry: dict[str, Any], skew: timedelta, now: datetime) -> datetime:
    """When the entry's act happened, by the studio's clock, never in the future.

    ``offset_ms`` is the phone's own knowledge, as it made the entry, of how far its clock was behind; it is
    better than the ``skew`` of the delivery, as a clock may have been set right in between.
    """
    at = _moment(text_of(entry, "at"))
    if at is None:
        raise Refused(Problem("time", say("This was kept without its time. Answer the piece again.")))
    offset = entry.get("offset_ms")
    if isinstance(offset, int | float) and not isinstance(offset, bool) and abs(offset) < 1e12:
        known = timedelta(milliseconds=offset)
        skew = known if abs(known) > CLOCK_BELIEVED else timedelta()
    try:
        return min(at + skew, now)
    except OverflowError:
        raise Refused(
            Problem("time", say("The time of this can't be right. Answer the piece again."))
        ) from None


def answer_form(entry: dict[str, Any]) -> AnswerForm:
    """The page's own form, filled from an entry."""
    sent = QueryDict(mutable=True)
    for name in ("outcome", "surface", "loss_cause", "note", "shelf"):
        sent[name] = text_of(entry, name)
    severity = entry.get("severity")
    if isinstance(severity, int) and not isinstance(severity, bool):
        sent["severity"] = str(severity)
    sent.setlist("flaw", texts_of(entry, "flaws"))
    sent.setlist("job", texts_of(entry, "jobs"))
    return AnswerForm(sent)


def _moment(text: str) -> datetime | None:
    try:
        at = datetime.fromisoformat(text)
        return at.astimezone(UTC) if at.tzinfo else None
    except (ValueError, OverflowError):
        return None
