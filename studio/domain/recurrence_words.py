"""A timetable in words: every Tuesday 18:30 to 21:00, 10 meetings, not on 24 December."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from .recurrence import Frequency, Rule, Timetable, Weekday
from .say import later, listed, say, say_many

WEEKDAYS = (
    later("Monday"),
    later("Tuesday"),
    later("Wednesday"),
    later("Thursday"),
    later("Friday"),
    later("Saturday"),
    later("Sunday"),
)
MONTHS = (
    *(
        later("January"),
        later("February"),
        later("March"),
        later("April"),
        later("May"),
        later("June"),
        later("July"),
    ),
    *(later("August"), later("September"), later("October"), later("November"), later("December")),
)
_NTH = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", -1: "last", -2: later("last but one")}
_NUMBERS = {2: "second", 3: "third", 4: "fourth"}


def words_of(timetable: Timetable) -> str:
    """The whole of it, as one phrase without a full stop."""
    if timetable.rule.count == 1:
        day = timetable.first_on
        said = f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"
        return say("once, on {said}, {times}", said=said, times=times(timetable))
    parts = [f"{rhythm(timetable.rule, timetable.first_on)} {times(timetable)}"]
    met, out = timetable.days(), timetable.left_out()
    parts.append(say_many("{count} meeting", "{count} meetings", len(met)))
    if out:
        parts.append(say("not on {listed_days}", listed_days=listed_days(out, beside=timetable.first_on)))
    return ", ".join(parts)


def times(timetable: Timetable) -> str:
    """``18:30 to 21:00`` by the clock on the wall."""
    starts = datetime.combine(timetable.first_on, timetable.at)
    return say(
        "{starts} to {starts_2}",
        starts=format(starts, "%H:%M"),
        starts_2=format(starts + timedelta(minutes=timetable.minutes), "%H:%M"),
    )


def rhythm(rule: Rule, first_on: date) -> str:
    """``every Tuesday``, ``every second Tuesday and Thursday``, ``on the first Sunday of every month``."""
    if rule.frequency == Frequency.MONTHLY:
        return say(
            "on {of_month} of every {every}month",
            of_month=_of_month(rule, first_on),
            every=_every(rule.interval),
        )
    if rule.frequency == Frequency.WEEKLY:
        weekdays = sorted({each.day for each in rule.weekdays} or {first_on.weekday()})
        return say(
            "every {every}{listed}",
            every=_every(rule.interval),
            listed=listed([WEEKDAYS[day] for day in weekdays]),
        )
    if rule.weekdays:
        on = listed([WEEKDAYS[each.day] for each in sorted(rule.weekdays)])
        return say("every {every}day that is a {on}", every=_every(rule.interval), on=on)
    return say("every {every}day", every=_every(rule.interval))


def listed_days(days: list[date], *, beside: date) -> str:
    """``24 December``, ``24 and 31 December``, ``24 December and 7 January 2027``: as few words as will do.

    ``beside`` is the day whose year goes without saying; a day in another year names it.
    """
    by_month: dict[tuple[int, int], list[str]] = {}
    for day in days:
        by_month.setdefault((day.year, day.month), []).append(str(day.day))
    said = [
        f"{listed(numbers)} {MONTHS[month - 1]}{'' if year == beside.year else f' {year}'}"
        for (year, month), numbers in by_month.items()
    ]
    return listed(said)


def _every(interval: int) -> str:
    if interval == 1:
        return ""
    if interval in _NUMBERS:
        return f"{_NUMBERS[interval]} "
    ending = {1: "st", 2: "nd", 3: "rd"}.get(interval % 10 if interval % 100 not in {11, 12, 13} else 0, "th")
    return f"{interval}{ending} "


def _of_month(rule: Rule, first_on: date) -> str:
    if not rule.weekdays:
        return say("day {day}", day=first_on.day)
    return listed([_nth(each) for each in rule.weekdays])


def _nth(weekday: Weekday) -> str:
    if not weekday.nth:
        return say("each {weekdays}", weekdays=WEEKDAYS[weekday.day])
    name = _NTH.get(weekday.nth) or say("{nth} from the last", nth=_NTH[-weekday.nth])
    return say("the {name} {weekdays}", name=name, weekdays=WEEKDAYS[weekday.day])
