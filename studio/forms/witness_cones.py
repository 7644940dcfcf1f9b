"""Witness cones: parse and validate. Bends are told by where the tip points, as on a clock."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.functional import lazy

from studio.domain.cones import CONES
from studio.domain.say import later, say
from studio.models import Firing, WitnessCone

from .parts import ClientIdField, WordsField

#: Where the tip points, and how far the line from foot to tip leans (common practice, no source): upright at
#: twelve, level at three, down at the shelf at six.
CLOCK = {
    0: later("Stands upright"),
    15: later("Just begun, 1 o’clock"),
    30: later("Leaning, 2 o’clock"),
    45: later("Tip level, 3 o’clock"),
    60: later("Past level, 4 o’clock"),
    75: later("Nearly down, 5 o’clock"),
    90: later("Down, tip at the shelf, 6 o’clock"),
    110: later("Flat, melted onto its plaque"),
}


def _cone_words(cone: str) -> str:
    return say("cone {cone}", cone=cone)


class WitnessConeForm(forms.Form):
    layer_number = forms.TypedChoiceField(label=later("Layer"), coerce=int)
    place = WordsField(
        label=later("Where on it"),
        longest=40,
        required=False,
        widget=forms.TextInput(attrs={"maxlength": 40, "placeholder": later("front, by the spy hole")}),
    )
    cone = forms.ChoiceField(
        label=later("Cone"), choices=[(cone, lazy(_cone_words, str)(cone)) for cone in CONES]
    )
    bend = forms.TypedChoiceField(label=later("How far it bent"), coerce=int, choices=list(CLOCK.items()))
    degrees = forms.IntegerField(
        label=later("Or in degrees"),
        required=False,
        min_value=0,
        max_value=120,
        help_text=later("If you measured it: 90 is down."),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "maxlength": 3, "autocomplete": "off"}),
    )
    note = WordsField(label=later("Note"), longest=200, required=False)
    client_id = ClientIdField()

    def __init__(self, *args: Any, firing: Firing, layers: int, **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["layer_number"].choices = [
            (number, layer_words(number, layers)) for number in range(max(1, layers), 0, -1)
        ]

    def values(self) -> dict[str, Any]:
        """What the action takes."""
        values = dict(self.cleaned_data)
        degrees, bend = values.pop("degrees"), values.pop("bend")
        return {**values, "bend_degrees": bend if degrees is None else degrees}

    @staticmethod
    def initial_of(row: WitnessCone) -> dict[str, Any]:
        known = row.bend_degrees in CLOCK
        nearest = min(CLOCK, key=lambda degrees: abs(degrees - row.bend_degrees))
        return {
            "layer_number": row.layer_number,
            "place": row.place,
            "cone": row.cone,
            "bend": nearest,
            "degrees": None if known else row.bend_degrees,
            "note": row.note,
        }


def layer_words(number: int, layers: int) -> str:
    """``3, the top``."""
    if layers <= 1:
        return say("the only one")
    return f"{number}{(say(', the top') if number == layers else say(', the bottom') if number == 1 else '')}"
