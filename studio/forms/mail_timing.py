"""When mails go, how people are reminded, and what becomes of what nobody comes for."""

from __future__ import annotations

from django import forms

from studio.models import Studio

_WEEKDAYS = [
    ("1", "Monday"),
    ("2", "Tuesday"),
    ("3", "Wednesday"),
    ("4", "Thursday"),
    ("5", "Friday"),
    ("6", "Saturday"),
    ("7", "Sunday"),
]


class MailTimingForm(forms.ModelForm):
    closed_weekdays = forms.MultipleChoiceField(
        label="Days without mail",
        help_text="And the studio’s holidays. Sign-in codes and kiln alarms go at all times.",
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
            "notice_grace_minutes": "Minutes to undo before a mail can go",
            "quiet_from": "No mail from",
            "quiet_until": "No mail until",
            "reminder_by": "Remind people to collect",
            "reminder_every": "How many days, or classes",
            "reminder_rounds": "Reminders before the last notice",
            "reminders_wait": "Reminders and last notices wait for your word",
            "pickup_weeks": "Weeks a ready piece is kept",
            "last_notice_days": "Days left when the last notice goes",
            "unclaimed": "What becomes of a piece that nobody came for",
        }
        help_texts = {
            "quiet_from": "By the studio’s clock, like 21:00. Past midnight is fine. Empty: at all hours.",
            "reminder_by": "Counted in classes, whoever was ill is not reminded meanwhile.",
            "pickup_weeks": "The ready mail names the day.",
            "last_notice_days": "It names the last day to come, and what becomes of the piece then.",
        }
        widgets = {
            "quiet_from": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "quiet_until": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        }

    def clean_closed_weekdays(self) -> str:
        return "".join(self.cleaned_data["closed_weekdays"])
