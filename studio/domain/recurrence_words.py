"""A timetable in words: every Tuesday 18:30 to 21:00, 10 meetings, not on 24 December."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from .recurrence import Frequency, Rule, Timetable, Weekday

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)
_NTH = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", -1: "last", -2: "last but one"}
_NUMBERS = {2: "second", 3: "third", 4: "fourth"}


def words_of(timetable: Timetable) -> str:
    """The whole of it, as one phrase without a full stop."""
    if timetable.rule.count == 1:
        day = timetable.first_on
        said = f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"
        return f"once, on {said}, {times(timetable)}"
    parts = [f"{rhythm(timetable.rule, timetable.first_on)} {times(timetable)}"]
    met, out = timetable.days(), timetable.left_out()
    parts.append(f"{len(met)} meeting{'s' if len(met) != 1 else ''}")
    if out:
        parts.append(f"not on {listed_days(out, beside=timetable.first_on)}")
    return ", ".join(parts)


def times(timetable: Timetable) -> str:
    """``18:30 to 21:00`` by the clock on the wall."""
    starts = datetime.combine(timetable.first_on, timetable.at)
    return f"{starts:%H:%M} to {starts + timedelta(minutes=timetable.minutes):%H:%M}"


def rhythm(rule: Rule, first_on: date) -> str:
    """``every Tuesday``, ``every second Tuesday and Thursday``, ``on the first Sunday of every month``."""
    if rule.frequency == Frequency.MONTHLY:
        return f"on {_of_month(rule, first_on)} of every {_every(rule.interval)}month"
    if rule.frequency == Frequency.WEEKLY:
        weekdays = sorted({each.day for each in rule.weekdays} or {first_on.weekday()})
        return f"every {_every(rule.interval)}{_listed([WEEKDAYS[day] for day in weekdays])}"
    if rule.weekdays:
        on = _listed([WEEKDAYS[each.day] for each in sorted(rule.weekdays)])
        return f"every {_every(rule.interval)}day that is a {on}"
    return f"every {_every(rule.interval)}day"


def listed_days(days: list[date], *, beside: date) -> str:
    """``24 December``, ``24 and 31 December``, ``24 December and 7 January 2027``: as few words as will do.

    ``beside`` is the day whose year goes without saying; a day in another year names it.
    """
    by_month: dict[tuple[int, int], list[str]] = {}
    for day in days:
        by_month.setdefault((day.year, day.month), []).append(str(day.day))
    said = [
        f"{_listed(numbers)} {MONTHS[month - 1]}{'' if year == beside.year else f' {year}'}"
        for (year, month), numbers in by_month.items()
    ]
    return _listed(said)


def _every(interval: int) -> str:
    if interval == 1:
        return ""
    if interval in _NUMBERS:
        return f"{_NUMBERS[interval]} "
    ending = {1: "st", 2: "nd", 3: "rd"}.get(interval % 10 if interval % 100 not in {11, 12, 13} else 0, "th")
    return f"{interval}{ending} "


def _of_month(rule: Rule, first_on: date) -> str:
    if not rule.weekdays:
        return f"day {first_on.day}"
    return _listed([_nth(each) for each in rule.weekdays])


def _nth(weekday: Weekday) -> str:
    if not weekday.nth:
        return f"each {WEEKDAYS[weekday.day]}"
    name = _NTH.get(weekday.nth) or f"{_NTH[-weekday.nth]} from the last"
    return f"the {name} {WEEKDAYS[weekday.day]}"


def _listed(parts: list[str]) -> str:
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"
