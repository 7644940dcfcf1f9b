"""Own data: what people may correct of themselves, and what the tutor says before somebody is erased."""

from __future__ import annotations

from django import forms

from studio.models import KeepingPeriods, Person


class CorrectForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = ["first_name", "last_name", "phone"]
        labels = {"first_name": "First name", "last_name": "Last name", "phone": "Phone"}
        widgets = {
            "first_name": forms.TextInput(attrs={"autocomplete": "off"}),
            "last_name": forms.TextInput(attrs={"autocomplete": "off"}),
            "phone": forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
        }


class EraseForm(forms.Form):
    sure = forms.BooleanField(
        label="Erase for good. There is no way back.",
        error_messages={"required": "Tick the box if that is what you want."},
    )


class PeriodsForm(forms.ModelForm):
    class Meta:
        model = KeepingPeriods
        fields = ["left_months", "care_days", "mail_months", "register_months", "waiting_months"]
        labels = {
            "left_months": "People who have left are erased after, months",
            "care_days": "Health notes and who to call go after somebody left, days",
            "mail_months": "Words and addresses of mails go after, months",
            "register_months": "Who was at which class goes after, months",
            "waiting_months": "Ended waits for a place go after, months",
        }
        help_texts = {
            "left_months": "0: never by itself. Whoever has a piece here or a sum open waits.",
            "mail_months": "That a mail went, and when, stays. 0: never.",
            "register_months": "0: never.",
            "waiting_months": "0: never.",
        }
