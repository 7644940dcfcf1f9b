"""Pieces of a class by a press each: the form's button, how many, and sizes where they are not as usual."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.say import later, say
from studio.models import ClayBody, Piece, Shelf

from .lengths import SizeField
from .parts import ActForm, codes_from

MOST_PIECES = 200
COUNTS = (1, 2, 3, 4, 5, 6)


class ClassPieceForm(ActForm):
    """``form`` is the pressed button. Sizes left empty are the usual ones."""

    form = forms.ChoiceField(choices=Piece.Form.choices)
    count = forms.TypedChoiceField(
        label=later("How many alike?"),
        choices=[(number, str(number)) for number in COUNTS],
        coerce=int,
        initial=1,
        widget=forms.RadioSelect,
    )
    width = SizeField(called=later("width"), label=later("Across"), required=False)
    height = SizeField(called=later("height"), label=later("Tall"), required=False)
    technique = forms.ChoiceField(
        label=later("How it was made"), choices=Piece.Technique.choices, widget=forms.RadioSelect
    )
    clay = forms.ModelChoiceField(
        queryset=ClayBody.objects.none(), widget=forms.RadioSelect, empty_label=None
    )

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["clay"].queryset = ClayBody.objects.filter(retired_at__isnull=True)

    @property
    def unusual(self) -> list[forms.BoundField]:
        return [self["width"], self["height"]]

    @property
    def more_is_open(self) -> bool:
        return any(self[name].errors for name in ("width", "height", "technique", "clay"))


class ShelfForm(ActForm):
    shelf = forms.ModelChoiceField(
        queryset=Shelf.objects.none(),
        to_field_name="code",
        error_messages={"required": later("Choose a shelf.")},
    )

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["shelf"].queryset = Shelf.objects.filter(retired_at__isnull=True)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if "shelf" in self._errors:
            self._errors.pop("shelf")
            self.add_error(None, say("Choose a shelf from the list."))
        return data


class TickedForm(ActForm):
    """Pieces or events that were ticked, by their codes."""

    def codes(self) -> list[str]:
        return codes_from(self.data.getlist("p"), MOST_PIECES)
