"""Days counted by the calendar: whole years of age, and the day so many months or years from another."""

from __future__ import annotations

import calendar
from datetime import date


def age_on(born_on: date, day: date) -> int:
    """Whole years on a day; on 29 February's birthdays they are full on 1 March of other years."""
    return day.year - born_on.year - ((day.month, day.day) < (born_on.month, born_on.day))


def months_after(day: date, months: int) -> date:
    """The same day of the month so many months on, or the month's last one: 31 January + 1 is 28 February.

    Negative months are counted back.
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def years_after(day: date, years: int) -> date:
    """The same day so many years on, when they are full: after 29 February that is 1 March of other years."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)
