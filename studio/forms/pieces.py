"""What a list of pieces is asked for."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.stages import STAGE_WORDS, Stage
from studio.models import Person, Shelf
from studio.queries.pieces import Wanted

NOWHERE = "none"


class PiecesForm(forms.Form):
    """Filters of the list. What makes no sense in an address is left out, as if it had not been asked for."""

    q = forms.CharField(
        label="Mark, or maker’s name",
        required=False,
        max_length=60,
        widget=forms.TextInput(
            attrs={"type": "search", "autocomplete": "off", "autocapitalize": "characters"}
        ),
    )
    stage = forms.ChoiceField(required=False, choices=[(stage.value, STAGE_WORDS[stage]) for stage in Stage])
    maker = forms.ModelChoiceField(
        required=False, queryset=Person.objects.none(), to_field_name="code", empty_label="Everybody"
    )
    shelf = forms.ChoiceField(required=False)
    left = forms.BooleanField(required=False)

    def __init__(self, *args: Any, makers: Any, shelves: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["maker"].queryset = makers
        self._shelves: dict[str, Shelf] = {shelf.code: shelf for shelf in shelves}
        self.fields["shelf"].choices = [
            ("", "Anywhere"),
            *((code, shelf.name) for code, shelf in self._shelves.items()),
            (NOWHERE, "On no shelf"),
        ]

    def wanted(self) -> Wanted:
        self.is_valid()
        data = self.cleaned_data
        stage = data.get("stage")
        shelf = data.get("shelf", "")
        return Wanted(
            stage=Stage(stage) if stage else None,
            maker=data.get("maker"),
            shelf=self._shelves.get(shelf),
            nowhere=shelf == NOWHERE,
            ended=bool(data.get("left")),
        )
