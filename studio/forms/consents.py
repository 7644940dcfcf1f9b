"""Forms about what a guardian consents to."""

from __future__ import annotations

from django import forms

from studio.domain.say import later


class AgreeForm(forms.Form):
    """The guardian's own consent: a tick, and their name under the words."""

    consents = forms.BooleanField(
        label=later("I consent"), error_messages={"required": later("Tick it if you consent.")}
    )
    signed = forms.CharField(label=later("Your name, as a signature"), max_length=121)


class PaperForm(forms.Form):
    """A paper that the tutor has in hand."""

    signed_on = forms.DateField(
        label=later("Signed on"),
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={"required": later("Enter the day on which the guardian signed.")},
    )
