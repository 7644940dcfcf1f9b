"""When mails go, how people are reminded, and what becomes of what nobody comes for."""

from __future__ import annotations

from django import forms

from studio.domain.say import later
from studio.models import Studio

_WEEKDAYS = [
    ("1", later("Monday")),
    ("2", later("Tuesday")),
    ("3", later("Wednesday")),
    ("4", later("Thursday")),
    ("5", later("Friday")),
    ("6", later("Saturday")),
    ("7", later("Sunday")),
]


class MailTimingForm(forms.ModelForm):
    closed_weekdays = forms.MultipleChoiceField(
        label=later("Days without mail"),
        help_text=later("And the studio’s holidays. Sign-in codes and kiln alarms go at all times."),
        choices=_WEEKDAYS,
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )

    class Meta:
        model = Studio
        fields = [
            "notice_grace_minutes",
            "quiet_from",
            "quiet_until",
            "closed_weekdays",
            "reminder_by",
            "reminder_every",
            "reminder_rounds",
            "reminders_wait",
            "pickup_weeks",
            "last_notice_days",
            "unclaimed",
        ]
        labels = {
            "notice_grace_minutes": later("Minutes to undo before a mail can go"),
            "quiet_from": later("No mail from"),
            "quiet_until": later("No mail until"),
            "reminder_by": later("Remind people to collect"),
            "reminder_every": later("How many days, or classes"),
            "reminder_rounds": later("Reminders before the last notice"),
            "reminders_wait": later("Reminders and last notices wait for your word"),
            "pickup_weeks": later("Weeks a ready piece is kept"),
            "last_notice_days": later("Days left when the last notice goes"),
            "unclaimed": later("What becomes of a piece that nobody came for"),
        }
        help_texts = {
            "quiet_from": later(
                "By the studio’s clock, like 21:00. Past midnight is fine. Empty: at all hours."
            ),
            "reminder_by": later("Counted in classes, whoever was ill is not reminded meanwhile."),
            "pickup_weeks": later("The ready mail names the day."),
            "last_notice_days": later("It names the last day to come, and what becomes of the piece then."),
        }
        widgets = {
            "quiet_from": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "quiet_until": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        }

    def clean_closed_weekdays(self) -> str:
        return "".join(self.cleaned_data["closed_weekdays"])
