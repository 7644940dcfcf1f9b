"""Care of a kiln: what is done to it, how often, and what a reminder says.

How often is common practice, no source, and every interval can be changed; the kiln's maker and the local
rules know better.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from .calendar_days import months_after
from .problems import DomainError
from .say import date_words, later, say, say_many


class CareKind(StrEnum):
    """What can be done to a kiln between two firings."""

    ELEMENTS = "elements"
    THERMOCOUPLE = "thermocouple"
    RELAY = "relay"
    KILN_WASH = "kiln-wash"
    SHELF_TURNED = "shelf-turned"
    ELECTRICAL_CHECK = "electrical-check"
    OTHER = "other"


CARE_WORDS: dict[CareKind, str] = {
    CareKind.ELEMENTS: later("Elements changed"),
    CareKind.THERMOCOUPLE: later("Thermocouple changed"),
    CareKind.RELAY: later("Relay changed"),
    CareKind.KILN_WASH: later("Kiln wash renewed"),
    CareKind.SHELF_TURNED: later("Kiln shelves turned over"),
    CareKind.ELECTRICAL_CHECK: later("Electrical check"),
    CareKind.OTHER: later("Other"),
}
#: What a reminder asks for.
CARE_ASKS: dict[CareKind, str] = {
    CareKind.ELEMENTS: later("Look at the elements"),
    CareKind.THERMOCOUPLE: later("Change the thermocouple"),
    CareKind.RELAY: later("Have the relays changed"),
    CareKind.KILN_WASH: later("Renew the kiln wash"),
    CareKind.SHELF_TURNED: later("Turn the kiln shelves over"),
    CareKind.ELECTRICAL_CHECK: later("Have the kiln checked by a licensed electrician"),
    CareKind.OTHER: later("Look the kiln over"),
}
#: Work on the wiring: the log asks who did it.
LICENSED = frozenset({CareKind.ELEMENTS, CareKind.RELAY, CareKind.ELECTRICAL_CHECK})
#: All that can be asked for at an interval, what is for safety first.
REMINDED = (
    CareKind.ELECTRICAL_CHECK,
    CareKind.ELEMENTS,
    CareKind.RELAY,
    CareKind.THERMOCOUPLE,
    CareKind.KILN_WASH,
    CareKind.SHELF_TURNED,
)

#: The longest intervals that can be set.
MOST_MONTHS, MOST_FIRINGS = 120, 2000
#: A reminder is spoken of this long before it is due.
SOON_DAYS, SOON_PART = 30, 0.9


@dataclass(frozen=True, slots=True)
class Interval:
    """Asked for after so many months or so many firings, whichever comes first; None: not by that."""

    months: int | None = None
    firings: int | None = None

    @property
    def is_off(self) -> bool:
        return self.months is None and self.firings is None


#: Common practice, no source.
USUAL_INTERVALS: dict[CareKind, Interval] = {
    CareKind.ELEMENTS: Interval(firings=120),
    CareKind.THERMOCOUPLE: Interval(firings=100),
    CareKind.RELAY: Interval(months=24),
    CareKind.KILN_WASH: Interval(firings=15),
    CareKind.SHELF_TURNED: Interval(firings=20),
    CareKind.ELECTRICAL_CHECK: Interval(months=12),
}


class Need(StrEnum):
    OFF = "off"
    LATER = "later"
    SOON = "soon"
    DUE = "due"


@dataclass(frozen=True, slots=True)
class Reminder:
    """How things stand: ``need``, the day it is due by the calendar, firings left, and one sentence."""

    need: Need
    due_on: date | None
    firings_left: int | None
    sentence: str


def reminder(*, interval: Interval, since: date | None, firings_since: int, today: date) -> Reminder:
    """Whether something is due. ``since`` is when it was last done, or the kiln's first firing in the books;
    None before that, and then nothing is due. Raises `DomainError` for a count below 0."""
    if firings_since < 0:
        raise DomainError(say("Firings are counted from 0."), code="firings")
    if interval.is_off:
        return Reminder(Need.OFF, None, None, say("No reminder is set."))
    due_on = months_after(since, interval.months) if since and interval.months else None
    left = None if interval.firings is None else interval.firings - firings_since
    by_day = due_on is not None and due_on <= today
    by_count = left is not None and left <= 0
    if by_day or by_count:
        why = _day_passed(due_on, today) if by_day and due_on else _firings(firings_since)
        return Reminder(Need.DUE, due_on, left, why)
    soon = (due_on is not None and (due_on - today).days <= SOON_DAYS) or (
        interval.firings is not None and firings_since >= interval.firings * SOON_PART
    )
    return Reminder(Need.SOON if soon else Need.LATER, due_on, left, _ahead(due_on, left))


def _day_passed(due_on: date, today: date) -> str:
    if due_on == today:
        return say("Due today.")
    return say("Due since {due_on}.", due_on=date_words(due_on, "j F Y"))


def _firings(count: int) -> str:
    return say("{count} firings since.", count=count) if count != 1 else say("1 firing since.")


def _ahead(due_on: date | None, left: int | None) -> str:
    firings = "" if left is None else say_many("in {count} firing", "in {count} firings", left)
    day = "" if due_on is None else say("on {due_on}", due_on=date_words(due_on, "j F Y"))
    when = say(" or ").join(filter(None, [day, firings]))
    return say("Due {when}.", when=when) if when else say("Counted from its first firing here.")
