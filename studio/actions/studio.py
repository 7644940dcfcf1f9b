"""The studio's own settings."""

from __future__ import annotations

import re
from datetime import datetime
from zoneinfo import available_timezones

from django.db import transaction

from studio.domain.languages import LANGUAGES
from studio.domain.say import later, say
from studio.models import Person, Studio

from .common import clean_choice, clean_email, clean_text, clean_whole, must_be_tutor, refuse, save_checked

_CURRENCY = re.compile(r"[A-Z]{3}\Z")

#: column -> (what it is called, least, most)
_WHOLE = {
    "currency_digits": (later("digits after the point"), 0, 3),
    "pickup_weeks": (later("weeks a ready piece is kept"), 1, 104),
    "opening_limit_c": (later("temperature below which the kiln is opened, °C"), 20, 100),
    "clearance_mm": (later("room round glazed ware in mm"), 0, 100),
    "headroom_mm": (later("room above the tallest piece in mm"), 0, 200),
    "overdue_after_weeks": (later("weeks before asking again"), 1, 104),
    "signed_in_days": (later("days that students stay signed in"), 1, 365),
    "staff_signed_in_days": (later("days that tutor and helpers stay signed in"), 1, 365),
    "retest_years": (later("years after which a laboratory tests again"), 0, 20),
    "notice_grace_minutes": (later("minutes that notices are held back"), 0, 24 * 60),
    "reminder_every": (later("days or classes between reminders"), 1, 90),
    "reminder_rounds": (later("reminders before the last notice"), 0, 12),
    "last_notice_days": (later("days to come after the last notice"), 1, 90),
}
#: column -> (what it is called, longest, whether lines are allowed, whether it must be filled in)
_WORDS = {
    "name": (later("name of the studio"), 80, False, True),
    "tutor_name": (later("name under the mails"), 80, False, False),
    "address": ("address", 300, True, False),
    "pickup_times": (later("times for pickup"), 400, True, False),
    "currency_sign": (later("currency sign"), 4, False, False),
}


_CHOICES = {
    "reminder_by": (later("way of counting reminders"), Studio.ReminderBy),
    "unclaimed": (later("rule for unclaimed pieces"), Studio.Unclaimed),
}


@transaction.atomic
def save_studio(*, by: Person | None, now: datetime | None = None, **settings: object) -> Studio:
    """Change the settings that are named; the rest stay. ``by`` None is the command line of an empty studio.

    Raises `TypeError` for a setting that there isn't.
    """
    if by is not None:
        must_be_tutor(by)
    Studio.the()
    row = Studio.objects.select_for_update(no_key=True).get(pk=1)
    for column, value in settings.items():
        setattr(row, column, _clean(column, value))
    if (row.quiet_from is None) != (row.quiet_until is None):
        refuse("quiet-hours", say("Say from when and until when no mail goes, or leave both empty."))
    save_checked(row)
    return row


def _clean_weekdays(value: object) -> str:
    """Digits, 1 for Monday, in order; one day at least has mail."""
    days = "".join(sorted(set(str(value or ""))))
    if set(days) - set("1234567"):
        refuse("weekdays", say("Choose days of the week."))
    if len(days) == 7:
        refuse("weekdays", say("Leave one day of the week at least on which mail goes."))
    return days


def _clean(column: str, value: object) -> object:
    if column in _WHOLE:
        label, least, most = _WHOLE[column]
        return clean_whole(value, label=label, least=least, most=most)
    if column in _WORDS:
        label, longest, lines, required = _WORDS[column]
        return clean_text(value, label=label, longest=longest, lines=lines, required=required)
    if column == "reply_to":
        return clean_email(value, label=say("address for replies")) or ""
    if column == "language":
        return clean_choice(value, LANGUAGES, label=later("language"))
    if column == "length_unit":
        return clean_choice(value, Studio.LengthUnit.values, label=say("unit of lengths"))
    if column == "time_zone":
        if value not in available_timezones():
            refuse("no-such-zone", say("There is no such time zone. Choose one like Europe/London."))
        return value
    if column == "release_scheme":
        return clean_choice(value, Studio.ReleaseScheme.values, label=say("limits"))
    if column == "currency":
        code = clean_text(value, label=later("currency"), longest=3, required=True).upper()
        if not _CURRENCY.match(code):
            refuse("currency", say("Write the currency as three letters, like GBP or EUR."))
        return code
    if column in _CHOICES:
        label, choices = _CHOICES[column]
        return clean_choice(value, choices.values, label=label)
    if column in {"quiet_from", "quiet_until"}:
        return value
    if column == "reminders_wait":
        return bool(value)
    if column == "closed_weekdays":
        return _clean_weekdays(value)
    raise TypeError(f"There is no setting {column!r}.")
