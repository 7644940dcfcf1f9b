"""The form by which the studio words one kind of mail."""

from __future__ import annotations

from django import forms

from studio.domain.say import later
from studio.domain.wording import BODY_LONGEST, HEADING_LONGEST, SUBJECT_LONGEST

from .parts import WordsField


class WordingForm(forms.Form):
    subject = WordsField(label=later("Subject"), longest=SUBJECT_LONGEST)
    heading = WordsField(label=later("Heading"), longest=HEADING_LONGEST)
    body = WordsField(
        label=later("Body"),
        help_text=later(
            "An empty line begins a new paragraph. Lists and links stand on a line of their own."
        ),
        longest=BODY_LONGEST,
        lines=True,
    )

    def __init__(self, *args: object, **named: object) -> None:
        super().__init__(*args, **named)
        self.fields["body"].widget.attrs["rows"] = 12
