"""Looking for a page of the diary: nonsense asks for nothing rather than being refused."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.say import later, say
from studio.models import Piece


class DiaryFilter(forms.Form):
    glaze = forms.ChoiceField(label=later("Glaze"), required=False)
    form = forms.ChoiceField(
        label=later("Form"), required=False, choices=[("", later("Every form")), *Piece.Form.choices]
    )
    since = forms.DateField(
        label=later("Glazed from"), required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    until = forms.DateField(label=later("to"), required=False, widget=forms.DateInput(attrs={"type": "date"}))

    def __init__(self, *args: Any, glazes: list[tuple[str, str]], **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["glaze"].choices = [("", say("Every glaze")), *glazes]
        self.is_valid()

    @property
    def wanted(self) -> dict[str, Any]:
        """What was asked for and can be."""
        return {name: self.cleaned_data.get(name) or None for name in self.fields}
