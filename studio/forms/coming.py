"""A place taken on the public page: for oneself, or by a guardian for somebody under 18."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.say import later

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

    first_name = _name(later("Your first name"), "given-name", later("first name"))
    last_name = _name(later("Your last name"), "family-name", later("last name"))
    email = forms.CharField(
        label=later("Your email address"),
        max_length=254,
        help_text=later("We mail you a code. Nothing to remember."),
        widget=forms.EmailInput(
            attrs={"autocomplete": "email", "autocapitalize": "none", "spellcheck": "false"}
        ),
        error_messages={"required": later("Write an address that you read.")},
    )
    phone = WordsField(
        label=later("Your phone number"),
        called=later("phone number"),
        longest=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel", "maxlength": 40, "autocomplete": "tel"}),
    )
    born_on = _birth(later("Your date of birth"), required=False)

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

    young_first = _name(later("Their first name"), "off", later("first name"))
    young_last = _name(later("Their last name"), "off", later("last name"), required=False)
    born_on = _birth(later("Their date of birth"))
    emergency_name = WordsField(label=later("Whom to call in an emergency"), called=later("name"), longest=80)
    emergency_phone = WordsField(
        label=later("That person’s phone number"),
        called=later("phone number"),
        longest=40,
        widget=forms.TextInput(attrs={"type": "tel", "maxlength": 40, "autocomplete": "off"}),
    )
    health_note = WordsField(
        label=later("What the tutor should know for their safety"),
        called=later("note"),
        longest=600,
        lines=True,
        required=False,
        help_text=later("Allergies, medicines, an old injury. Only staff read it."),
    )
    consents = forms.BooleanField(
        label=later("I consent"),
        error_messages={"required": later("Without your consent the place can’t be confirmed.")},
    )
    signed = WordsField(label=later("Your full name, as a signature"), called=later("signature"), longest=121)

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
        label=later("The code from the mail"),
        max_length=40,
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "class": "code-field",
            }
        ),
        error_messages={"required": later("Type the eight characters from the mail.")},
    )
    wait = forms.BooleanField(label=later("If it is full by now, put me on the waiting list"), required=False)
