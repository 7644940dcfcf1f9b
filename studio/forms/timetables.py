"""When a class meets, as people say it: a first day, a rhythm, an end and days left out."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.domain.problems import DomainError
from studio.domain.recurrence import MOST_MEETINGS, Rhythm, parse, rhythm_of, rule_of
from studio.domain.say import later, say
from studio.models import Course

WEEKDAYS = [
    (0, later("Monday")),
    (1, later("Tuesday")),
    (2, later("Wednesday")),
    (3, later("Thursday")),
    (4, later("Friday")),
    (5, later("Saturday")),
    (6, later("Sunday")),
]
RHYTHMS = [
    (Rhythm.WEEK, later("Every week")),
    (Rhythm.FORTNIGHT, later("Every second week")),
    (Rhythm.MONTH, later("Every month, on that weekday of it")),
    (Rhythm.DAY, later("Every day")),
    (Rhythm.ONCE, later("Once")),
]
_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})\Z|(\d{1,2})[./](\d{1,2})[./](\d{4})\Z")
MOST_DAYS_OFF = 120


class DaysField(forms.CharField):
    """Several days, one a line or parted by commas: 2026-12-22, 22.12.2026 or 22/12/2026, the day first."""

    def __init__(self, **named: Any) -> None:
        named.setdefault("widget", forms.Textarea(attrs={"rows": 2, "autocomplete": "off"}))
        super().__init__(max_length=3000, **named)

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(map(str, value)) if isinstance(value, (list, tuple)) else value

    def clean(self, value: Any) -> list[date]:
        found = set()
        for part in re.split(r"[\s,;]+", super().clean(value)):
            if not part:
                continue
            match = _DAY.match(part)
            try:
                if match is None:
                    raise ValueError
                year, month, day = match.group(1, 2, 3) if match[1] else (match[6], match[5], match[4])
                found.add(date(int(year), int(month), int(day)))
            except ValueError:
                raise ValidationError(
                    say("“{part}” is no day. Write each day like 2026-12-22.", part=part[:20])
                ) from None
        if len(found) > MOST_DAYS_OFF:
            raise ValidationError(
                say("At most {most_days_off} days can be left out.", most_days_off=MOST_DAYS_OFF)
            )
        return sorted(found)


class TimetableForm(forms.Form):
    """Cleans to what `actions.timetables.planned` asks for: see `timetable`."""

    first_on = forms.DateField(
        label=later("First day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    starts_time = forms.TimeField(
        label=later("Starts at"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    minutes = forms.IntegerField(label=later("How long, minutes"), min_value=15, max_value=720, initial=150)
    rhythm = forms.ChoiceField(label=later("How often it meets"), choices=RHYTHMS, initial=Rhythm.WEEK)
    weekdays = forms.TypedMultipleChoiceField(
        label=later("On these days"),
        coerce=int,
        choices=WEEKDAYS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=later("Leave all empty for the weekday of the first day."),
    )
    meetings = forms.IntegerField(
        label=later("How many meetings"),
        min_value=1,
        max_value=MOST_MEETINGS,
        required=False,
        initial=10,
        help_text=later("Days left out are made up for at the end."),
    )
    last_on = forms.DateField(
        label=later("Or until this day"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    dates_off = DaysField(
        label=later("Days left out"),
        required=False,
        help_text=later("Such as 2026-12-22, one a line. The studio’s holidays are left out by themselves."),
    )

    def clean(self) -> dict[str, Any]:
        found = super().clean()
        once = found.get("rhythm") == Rhythm.ONCE
        if not once and "meetings" in found and "last_on" in found:
            if found["meetings"] and found["last_on"]:
                self.add_error("last_on", say("Say how many meetings, or until which day, not both."))
            elif not found["meetings"] and not found["last_on"]:
                self.add_error("meetings", say("Say how many meetings, or until which day."))
        return found

    def timetable(self) -> dict[str, Any]:
        """The arguments of an action that makes meetings, out of a valid form."""
        found = self.cleaned_data
        rule = rule_of(found["rhythm"], found["first_on"], found["weekdays"])
        text = str(rule)
        once = rule.count == 1
        if found["last_on"] and not once:
            text = f"{text};UNTIL={found['last_on']:%Y%m%d}"
        return {
            "rule": text,
            "first_on": found["first_on"],
            "at": found["starts_time"],
            "minutes": found["minutes"],
            "meetings": None if once or found["last_on"] else found["meetings"],
            "dates_off": found["dates_off"],
        }


TIMETABLE_FIELDS = list(TimetableForm.base_fields)


def initial_of(course: Course, first_on: date, meetings: int) -> dict[str, Any]:
    """What the form starts with when a course that stands gets another timetable."""
    try:
        rule = parse(course.rule)
    except DomainError:
        rule = None
    return {
        "first_on": first_on,
        "starts_time": course.starts_time,
        "minutes": course.minutes,
        "rhythm": rhythm_of(rule) if rule else Rhythm.WEEK,
        "weekdays": [each.day for each in rule.weekdays] if rule else [],
        "meetings": max(meetings, 1),
        "dates_off": [day for day in course.dates_off if day >= first_on.isoformat()],
    }
