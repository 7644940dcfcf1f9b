"""Forms of the way in."""

from __future__ import annotations

from django import forms

from studio.actions.common import clean_email
from studio.domain.problems import Refused
from studio.domain.say import later


class AskCodeForm(forms.Form):
    email = forms.CharField(
        label=later("Your email address"),
        max_length=254,
        strip=True,
        widget=forms.EmailInput(
            attrs={"autocomplete": "email", "autocapitalize": "none", "spellcheck": "false"}
        ),
        error_messages={"required": later("Write the address that the studio writes to.")},
    )
    next = forms.CharField(required=False, max_length=2000, widget=forms.HiddenInput)

    def clean_email(self) -> str:
        try:
            return clean_email(self.cleaned_data["email"], required=True) or ""
        except Refused as refused:
            raise forms.ValidationError(str(refused)) from None


class CodeForm(forms.Form):
    code = forms.CharField(
        label=later("The code from the mail"),
        max_length=40,
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "class": "code-field",
                "inputmode": "text",
            }
        ),
        error_messages={"required": later("Type the eight characters from the mail.")},
    )


class PasswordForm(forms.Form):
    email = forms.CharField(
        label=later("Your email address"),
        max_length=254,
        widget=forms.EmailInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
        error_messages={"required": later("Write your address.")},
    )
    password = forms.CharField(
        label=later("Your password"),
        max_length=1000,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": later("Write your password.")},
    )
    next = forms.CharField(required=False, max_length=2000, widget=forms.HiddenInput)
