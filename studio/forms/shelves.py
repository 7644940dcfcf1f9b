"""A storage shelf: its name, where it is, what it is for."""

from __future__ import annotations

from django import forms

from studio.domain.say import later
from studio.models import Shelf

from .parts import WordsField


class ShelfForm(forms.Form):
    name = WordsField(
        longest=40,
        label=later("Name"),
        called=later("name of the shelf"),
        help_text=later("As it stands on its tag."),
    )
    where = WordsField(longest=80, label=later("Where it is"), required=False, called=later("place"))
    purpose = forms.ChoiceField(label=later("What it is for"), choices=Shelf.Purpose.choices)
