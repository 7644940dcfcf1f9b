"""Forms about notices."""

from __future__ import annotations

from django import forms

from studio.actions.notices_review import OWN_LONGEST, WHY_LONGEST, WORDS_LONGEST
from studio.domain.say import later

from .parts import WordsField


class LineForm(forms.Form):
    words = WordsField(
        label=later("A line of your own"),
        help_text=later("It stands above your name."),
        longest=WORDS_LONGEST,
        lines=True,
        required=False,
    )


class OwnForm(forms.Form):
    own = WordsField(
        label=later("The same in your own words"),
        called=later("wording"),
        help_text=later("An empty line begins a new paragraph. Left empty, the draft stands again."),
        longest=OWN_LONGEST,
        lines=True,
        required=False,
    )


class DropForm(forms.Form):
    why = WordsField(
        label=later("Why is nothing sent?"),
        called=later("reason"),
        longest=WHY_LONGEST,
        error_messages={"required": later("Write in a few words why nothing is to be sent.")},
    )
