"""Devices at a kiln: parse and validate."""

from __future__ import annotations

from django import forms

from .parts import WordsField


class DeviceForm(forms.Form):
    name = WordsField(
        longest=40, label="What it is called", help_text="Such as: the little board on the wall."
    )
