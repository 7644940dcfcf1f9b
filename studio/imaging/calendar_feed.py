"""The calendar as calendar programs read it: iCalendar, RFC 5545, with the names of RFC 7986.

Times are written in UTC, so that no program needs our time zones to show them right. Each entry keeps its
UID for good; what changes raises its SEQUENCE, and what is given up stays, cancelled.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from icalendar import Calendar, Event

#: How often programs are asked to look again.
LOOK_AGAIN = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class FeedEntry:
    """``uid`` is the same for good; ``status`` is TENTATIVE, CONFIRMED or CANCELLED."""

    uid: str
    title: str
    starts_at: datetime
    ends_at: datetime
    status: str
    revision: int
    detail: str
    url: str
    where: str = ""


def feed(entries: Iterable[FeedEntry], *, name: str, now: datetime) -> bytes:
    """The whole feed. ``now`` is its time stamp; all times are aware."""
    calendar = Calendar()
    calendar.add("prodid", "-//Wareboard//Studio calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("name", name)
    calendar.add("refresh-interval", LOOK_AGAIN, parameters={"VALUE": "DURATION"})
    for entry in entries:
        event = Event()
        event.add("uid", entry.uid)
        event.add("dtstamp", now.astimezone(UTC))
        event.add("dtstart", entry.starts_at.astimezone(UTC))
        event.add("dtend", entry.ends_at.astimezone(UTC))
        event.add("summary", entry.title)
        event.add("description", entry.detail)
        if entry.where:
            event.add("location", entry.where)
        event.add("status", entry.status)
        event.add("sequence", entry.revision)
        event.add("url", entry.url)
        calendar.add_component(event)
    return calendar.to_ical()
