"""Own data: what people may correct of themselves, and what the tutor says before somebody is erased."""

from __future__ import annotations

from django import forms

from studio.domain.say import later
from studio.models import KeepingPeriods, Person


class CorrectForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = ["first_name", "last_name", "phone"]
        labels = {"first_name": later("First name"), "last_name": later("Last name"), "phone": later("Phone")}
        widgets = {
            "first_name": forms.TextInput(attrs={"autocomplete": "off"}),
            "last_name": forms.TextInput(attrs={"autocomplete": "off"}),
            "phone": forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
        }


class EraseForm(forms.Form):
    sure = forms.BooleanField(
        label=later("Erase for good. There is no way back."),
        error_messages={"required": later("Tick the box if that is what you want.")},
    )


class PeriodsForm(forms.ModelForm):
    class Meta:
        model = KeepingPeriods
        fields = ["left_months", "care_days", "mail_months", "register_months", "waiting_months"]
        labels = {
            "left_months": later("People who have left are erased after, months"),
            "care_days": later("Health notes and who to call go after somebody left, days"),
            "mail_months": later("Words and addresses of mails go after, months"),
            "register_months": later("Who was at which class goes after, months"),
            "waiting_months": later("Ended waits for a place go after, months"),
        }
        help_texts = {
            "left_months": later("0: never by itself. Whoever has a piece here or a sum open waits."),
            "mail_months": later("That a mail went, and when, stays. 0: never."),
            "register_months": later("0: never."),
            "waiting_months": later("0: never."),
        }
