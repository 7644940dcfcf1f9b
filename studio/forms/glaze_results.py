"""Asking for results of glazes, and noting what was found out: parse and validate."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.glaze_search import Asked, parse
from studio.domain.say import later, say
from studio.models import ClayBody, Kiln, Piece
from studio.queries.glaze_results import RELIABILITIES

from .parts import WordsField, words_from


class ResultsForm(forms.Form):
    """One line to ask with, a kiln and a verdict. Nonsense asks for nothing rather than being refused."""

    q = forms.CharField(
        label=later("Which results"),
        required=False,
        max_length=120,
        help_text=later("Such as: satin white over iron, cone 6, bowls"),
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    kiln = forms.ChoiceField(label=later("Kiln"), required=False)
    said = forms.ChoiceField(
        label=later("Said of it"), required=False, choices=[("", later("Anything")), *RELIABILITIES]
    )

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["kiln"].choices = [
            ("", say("Every kiln")),
            *((kiln.code, kiln.name) for kiln in Kiln.objects.order_by("name")),
        ]
        self.is_valid()

    def asked(self) -> Asked:
        return parse(
            words_from(self.cleaned_data.get("q"), 120),
            forms=dict(Piece.Form.choices),
            clays=ClayBody.objects.values_list("name", flat=True),
        )


class CombinationNotesForm(forms.Form):
    notes = WordsField(longest=1000, lines=True, label=later("What we found out"), required=False)
