"""Planning a load by hand: parse and validate. The load itself is judged by the actions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.http import QueryDict

from studio.domain.say import later, say
from studio.models import Layer, Piece, Placement

from .lengths import LengthField, in_mm
from .parts import ActForm, codes_from, words_from

#: How far the arrows move a piece, in mm.
NUDGE_MM = 5
_NUDGES = {"left": (-1, 0), "right": (1, 0), "front": (0, -1), "back": (0, 1)}
_FARTHEST_MM = 1000
_HIGHEST_STAND_MM = 120
MOST_TICKED = 80


class MmField(LengthField):
    """A distance in whole millimetres, or inches where the studio has it so. Left empty it stays as it is."""

    def __init__(self, *, least: int, **named: Any) -> None:
        attrs = {"inputmode": "numeric" if least >= 0 else "text", "maxlength": 9, "autocomplete": "off"}
        named.setdefault("widget", forms.TextInput(attrs=attrs))
        named.setdefault("required", False)
        named.setdefault("max_value", _FARTHEST_MM)
        super().__init__(min_value=least, **named)


class MoveForm(ActForm):
    """Where a placed piece is to stand. What is not sent stays as it is.

    ``seen`` is where the page showed it. ``nudge`` and ``turn`` are buttons; ``whole`` says that the tick for
    turned was on the form at all.
    """

    layer = forms.TypedChoiceField(label=later("Layer"), required=False, coerce=int, empty_value=None)
    x_mm = MmField(label=in_mm(later("Right of the middle")), least=-_FARTHEST_MM)
    y_mm = MmField(label=in_mm(later("Behind the middle")), least=-_FARTHEST_MM)
    stand_mm = MmField(label=in_mm(later("Stand")), least=0, max_value=_HIGHEST_STAND_MM)
    turned = forms.BooleanField(label=later("Turned by a quarter"), required=False)
    override_reason = forms.CharField(
        label=later("Reason, where a rule is overruled"), required=False, max_length=300
    )
    whole = forms.BooleanField(required=False, widget=forms.HiddenInput)
    seen = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)
    nudge = forms.ChoiceField(required=False, choices=[(name, name) for name in ("", *_NUDGES)])
    turn = forms.BooleanField(required=False)

    def __init__(self, *args: Any, place: Placement, layers: Mapping[int, str], **named: Any) -> None:
        super().__init__(*args, **named)
        self.place = place
        self.fields["layer"].choices = list(layers.items())

    def move(self) -> dict[str, object]:
        """What `move_placement` is to be told, besides who and when."""
        place, sent = self.place, self.cleaned_data
        told: dict[str, object] = {"seen": sent["seen"], "client_id": sent["client_id"]}
        if sent["override_reason"]:
            told["override_reason"] = sent["override_reason"]
        if sent["nudge"]:
            right, back = _NUDGES[sent["nudge"]]
            return {**told, "x_mm": place.x_mm + right * NUDGE_MM, "y_mm": place.y_mm + back * NUDGE_MM}
        if sent["turn"]:
            return {**told, "turned": not place.turned}
        x_mm = place.x_mm if sent["x_mm"] is None else sent["x_mm"]
        y_mm = place.y_mm if sent["y_mm"] is None else sent["y_mm"]
        layer = sent["layer"] or place.layer.number
        if layer == place.layer.number or (x_mm, y_mm) != (place.x_mm, place.y_mm):
            told |= {"x_mm": x_mm, "y_mm": y_mm}
        if layer != place.layer.number:
            told["layer"] = Layer.objects.get(firing=place.firing_id, number=layer)
        if sent["whole"] or sent["turned"]:
            told["turned"] = sent["turned"]
        if sent["stand_mm"] is not None:
            told["stand_mm"] = sent["stand_mm"]
        return told

    @classmethod
    def of(cls, place: Placement, layers: Mapping[int, str]) -> MoveForm:
        """The form as the piece stands."""
        values = {name: getattr(place, name) for name in ("x_mm", "y_mm", "stand_mm", "turned")}
        return cls(place=place, layers=layers, initial={**values, "layer": place.layer.number})


class PutForm(ActForm):
    """The ticked pieces, where they go, and on what."""

    layer = forms.TypedChoiceField(label=later("Onto"), required=False, coerce=int, empty_value=None)
    stand_mm = MmField(label=in_mm(later("On stands of")), least=0, max_value=_HIGHEST_STAND_MM)
    override_reason = forms.CharField(label=later("Your reason"), required=False, max_length=300)

    def __init__(self, *args: Any, layers: Mapping[int, str], **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["layer"].choices = [("", say("Any with room")), *layers.items()]
        self.ticked = codes_from(self.data.getlist("piece"), MOST_TICKED) if self.is_bound else []

    def clean(self) -> dict[str, Any]:
        if not self.ticked:
            self.add_error(None, say("Tick the pieces that are to go in."))
        return super().clean()


class SwapForm(ActForm):
    """The piece to change places with, by its code."""

    other = forms.ChoiceField(
        label=later("Changes places with"),
        error_messages={"required": later("Choose the piece to change places with.")},
    )
    seen = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def __init__(self, *args: Any, others: Mapping[str, str], **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["other"].choices = [("", say("Choose a piece")), *others.items()]


class PinForm(ActForm):
    pinned = forms.BooleanField(required=False)


class WaitingFilter(forms.Form):
    """Which of the waiting pieces are listed. What makes no sense is left out, never an error."""

    form = forms.ChoiceField(label=later("Kind"), required=False)
    cone = forms.ChoiceField(label=later("Cone asked for"), required=False)
    mark = forms.CharField(label=later("Mark or maker"), required=False, max_length=40)
    page = forms.IntegerField(required=False, min_value=1, max_value=999, widget=forms.HiddenInput)

    def __init__(self, sent: QueryDict, *, cones: list[str]) -> None:
        super().__init__(
            {name: words_from(sent.get(f"w-{name}"), 40) for name in ("form", "cone", "mark", "page")},
            prefix=None,
            auto_id="w_%s",
        )
        self.fields["form"].choices = [("", say("Any")), *Piece.Form.choices]
        self.fields["cone"].choices = [("", say("Any")), ("none", say("None asked for"))]
        self.fields["cone"].choices += [(cone, say("cone {cone}", cone=cone)) for cone in cones]
        self.is_valid()

    @property
    def values(self) -> dict[str, Any]:
        """What is asked for; empty where nothing is."""
        return {name: self.cleaned_data.get(name) or "" for name in ("form", "cone", "mark", "page")}

    @property
    def in_use(self) -> bool:
        return any(self.values.values())
