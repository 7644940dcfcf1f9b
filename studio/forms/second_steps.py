"""The second step: a typed code, or what a passkey answered."""

from __future__ import annotations

from django import forms

from studio.domain.say import later

_CODE = {"autocomplete": "one-time-code", "spellcheck": "false", "autocapitalize": "characters"}


class SecondCodeForm(forms.Form):
    code = forms.CharField(
        label=later("The code from your app"),
        help_text=later("Six digits; or one of your recovery codes."),
        max_length=40,
        widget=forms.TextInput(attrs={**_CODE, "class": "code-field"}),
        error_messages={"required": later("Type the code from the app.")},
    )


class FirstCodeForm(forms.Form):
    code = forms.CharField(
        label=later("The six digits that the app shows now"),
        max_length=40,
        widget=forms.TextInput(attrs={**_CODE, "inputmode": "numeric", "class": "code-field"}),
        error_messages={"required": later("Type the six digits from the app.")},
    )


class PasskeyForm(forms.Form):
    """``answer`` is filled in by the page's script."""

    name = forms.CharField(
        label=later("What is it on?"),
        help_text=later("So that you know which to take away when a phone is lost."),
        max_length=60,
        initial=later("My phone"),
    )
    answer = forms.CharField(max_length=20_000, widget=forms.HiddenInput, required=False)
