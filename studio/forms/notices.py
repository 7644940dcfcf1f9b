"""Forms about notices."""

from __future__ import annotations

from django import forms

from studio.actions.notices_review import OWN_LONGEST, WHY_LONGEST, WORDS_LONGEST

from .parts import WordsField


class LineForm(forms.Form):
    words = WordsField(
        label="A line of your own",
        help_text="It stands above your name.",
        longest=WORDS_LONGEST,
        lines=True,
        required=False,
    )


class OwnForm(forms.Form):
    own = WordsField(
        label="The same in your own words",
        called="wording",
        help_text="An empty line begins a new paragraph. Left empty, the draft stands again.",
        longest=OWN_LONGEST,
        lines=True,
        required=False,
    )


class DropForm(forms.Form):
    why = WordsField(
        label="Why is nothing sent?",
        called="reason",
        longest=WHY_LONGEST,
        error_messages={"required": "Write in a few words why nothing is to be sent."},
    )
