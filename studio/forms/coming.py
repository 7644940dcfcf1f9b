"""A place taken on the public page: for oneself, or by a guardian for somebody under 18."""

from __future__ import annotations

from typing import Any

from django import forms

from .parts import WordsField


def _name(label: str, auto: str, called: str, **named: Any) -> WordsField:
    return WordsField(
        label=label,
        called=called,
        longest=60,
        widget=forms.TextInput(attrs={"maxlength": 60, "autocomplete": auto}),
        **named,
    )


def _birth(label: str, **named: Any) -> forms.DateField:
    return forms.DateField(
        label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **named
    )


class PlaceForm(forms.Form):
    """For somebody of 18 or over."""

    first_name = _name("Your first name", "given-name", "first name")
    last_name = _name("Your last name", "family-name", "last name")
    email = forms.CharField(
        label="Your email address",
        max_length=254,
        help_text="We mail you a code. Nothing to remember.",
        widget=forms.EmailInput(
            attrs={"autocomplete": "email", "autocapitalize": "none", "spellcheck": "false"}
        ),
        error_messages={"required": "Write an address that you read."},
    )
    phone = WordsField(
        label="Your phone number",
        called="phone number",
        longest=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel", "maxlength": 40, "autocomplete": "tel"}),
    )
    born_on = _birth("Your date of birth", required=False)

    def __init__(self, *args: Any, age_matters: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not age_matters and not isinstance(self, YoungPlaceForm):
            del self.fields["born_on"]

    def details(self) -> dict[str, Any]:
        found = dict(self.cleaned_data)
        del found["email"]
        return {name: value for name, value in found.items() if value not in {None, ""}}


class YoungPlaceForm(PlaceForm):
    """By the guardian, for somebody under 18."""

    young_first = _name("Their first name", "off", "first name")
    young_last = _name("Their last name", "off", "last name", required=False)
    born_on = _birth("Their date of birth")
    emergency_name = WordsField(label="Whom to call in an emergency", called="name", longest=80)
    emergency_phone = WordsField(
        label="That person’s phone number",
        called="phone number",
        longest=40,
        widget=forms.TextInput(attrs={"type": "tel", "maxlength": 40, "autocomplete": "off"}),
    )
    health_note = WordsField(
        label="What the tutor should know for their safety",
        called="note",
        longest=600,
        lines=True,
        required=False,
        help_text="Allergies, medicines, an old injury. Only staff read it.",
    )
    consents = forms.BooleanField(
        label="I consent",
        error_messages={"required": "Without your consent the place can’t be confirmed."},
    )
    signed = WordsField(label="Your full name, as a signature", called="signature", longest=121)

    field_order = [
        "young_first",
        "young_last",
        "born_on",
        "first_name",
        "last_name",
        "email",
        "phone",
        "emergency_name",
        "emergency_phone",
        "health_note",
    ]


class PlaceCodeForm(forms.Form):
    code = forms.CharField(
        label="The code from the mail",
        max_length=40,
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "class": "code-field",
            }
        ),
        error_messages={"required": "Type the eight characters from the mail."},
    )
    wait = forms.BooleanField(label="If it is full by now, put me on the waiting list", required=False)
