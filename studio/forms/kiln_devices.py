"""Devices at a kiln: parse and validate."""

from __future__ import annotations

from django import forms

from studio.domain.say import later

from .parts import WordsField


class DeviceForm(forms.Form):
    name = WordsField(
        longest=40,
        label=later("What it is called"),
        help_text=later("Such as: the little board on the wall."),
    )
