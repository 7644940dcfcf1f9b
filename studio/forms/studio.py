"""The studio's settings: parse and validate."""

from __future__ import annotations

from zoneinfo import available_timezones

from django import forms

from studio.domain.say import later, say
from studio.models import Studio

from .lengths import LengthField, in_mm


class StudioForm(forms.ModelForm):
    class Meta:
        model = Studio
        fields = [
            "name",
            "tutor_name",
            "reply_to",
            "address",
            "pickup_times",
            "pickup_weeks",
            "overdue_after_weeks",
            "notice_grace_minutes",
            "language",
            "length_unit",
            "time_zone",
            "currency",
            "currency_sign",
            "currency_digits",
            "opening_limit_c",
            "clearance_mm",
            "headroom_mm",
            "signed_in_days",
            "staff_signed_in_days",
        ]
        labels = {
            "name": later("Name"),
            "address": later("Address"),
            "language": later("Language"),
            "time_zone": later("Time zone"),
            "currency_sign": later("Currency sign"),
            "opening_limit_c": later("Kilns are opened below, °C"),
            "length_unit": later("Lengths are written in"),
            "clearance_mm": in_mm(later("Room round glazed ware")),
            "headroom_mm": in_mm(later("Room above the tallest piece")),
            "currency_digits": later("Digits after the point"),
        }
        field_classes = {"clearance_mm": LengthField, "headroom_mm": LengthField}
        help_texts = {
            "language": later("Of pages and mails, where somebody has not chosen another for themselves."),
            "pickup_times": later("As it stands in the mails, one time a line."),
            "opening_limit_c": later(
                "Hands burn and ware cracks: most studios wait for 50. Never above 100."
            ),
            "notice_grace_minutes": later("Time to undo before a notice can go."),
        }
        help_texts |= {
            "signed_in_days": later(
                "Students and guardians, on each device; then a new code is mailed. 1 to 365."
            ),
            "staff_signed_in_days": later("Shorter is safer: their pages show everybody. 1 to 365."),
        }
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "pickup_times": forms.Textarea(attrs={"rows": 3}),
        }

    def clean_time_zone(self) -> str:
        zone = self.cleaned_data["time_zone"].strip()
        if zone not in available_timezones():
            raise forms.ValidationError(
                say("“{zone}” is no time zone. Write one like Europe/London.", zone=zone)
            )
        return zone
