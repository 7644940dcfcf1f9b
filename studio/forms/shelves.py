"""A storage shelf: its name, where it is, what it is for."""

from __future__ import annotations

from django import forms

from studio.models import Shelf

from .parts import WordsField


class ShelfForm(forms.Form):
    name = WordsField(
        longest=40, label="Name", called="name of the shelf", help_text="As it stands on its tag."
    )
    where = WordsField(longest=80, label="Where it is", required=False, called="place")
    purpose = forms.ChoiceField(label="What it is for", choices=Shelf.Purpose.choices)
