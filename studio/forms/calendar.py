"""The calendar: parse and validate."""

from __future__ import annotations

from django import forms

from studio.domain.say import later
from studio.models import CalendarFeed

from .parts import WordsField

_WHEN = {"type": "datetime-local"}


class WhenForm(forms.Form):
    """When a planned firing is meant to be lit; empty for no date."""

    planned_for = forms.DateTimeField(
        label=later("Meant to be lit"),
        required=False,
        widget=forms.DateTimeInput(attrs=_WHEN, format="%Y-%m-%dT%H:%M"),
        help_text=later("Left empty: no date yet. A date sharpens what makers are told."),
    )


class OwnFeedForm(forms.Form):
    name = WordsField(
        longest=60,
        label=later("What will read it"),
        help_text=later("Such as: my phone. It helps you to know which to end."),
    )


class FeedForm(OwnFeedForm):
    of = forms.ChoiceField(
        label=later("What it shows"),
        choices=CalendarFeed.Of.choices,
        initial=CalendarFeed.Of.STUDIO,
        required=False,
    )

    def clean_of(self) -> str:
        return self.cleaned_data["of"] or CalendarFeed.Of.STUDIO
