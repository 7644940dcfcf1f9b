"""Firings: parse and validate."""

from __future__ import annotations

from django import forms

from studio.domain.lengths import fine_words
from studio.domain.say import later, midway, say, say_many
from studio.domain.stages import FIRING_WORDS, FiringKind
from studio.models import Kiln, Programme
from studio.queries.programmes import choices_for

from .parts import FigureField

_WHEN = {"type": "datetime-local"}
_WHEN_FORMAT = "%Y-%m-%dT%H:%M"


def programme_label(programme: Programme) -> str:
    """``Slow bisque, bisque firing in Big round``."""
    where = say(" in {kiln}", kiln=programme.kiln) if programme.kiln else ""
    return f"{programme.name}, {midway(programme.get_kind_display())}{where}"


class FiringForm(forms.Form):
    kiln = forms.ModelChoiceField(
        Kiln.objects.none(),
        label=later("Kiln"),
        to_field_name="code",
        widget=forms.RadioSelect,
        empty_label=None,
    )
    kind = forms.ChoiceField(
        label=later("Kind of firing"),
        choices=[(kind.value, words) for kind, words in FIRING_WORDS.items()],
        widget=forms.RadioSelect,
        initial=FiringKind.BISQUE.value,
    )
    cone = forms.CharField(
        label=later("To cone"),
        max_length=4,
        required=False,
        help_text=later("Left empty: the programme's cone, else the kiln's usual one for this kind."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    programme = forms.ModelChoiceField(
        Programme.objects.none(),
        label=later("Programme"),
        required=False,
        to_field_name="code",
        empty_label=later("None, or not decided yet"),
    )
    planned_for = forms.DateTimeField(
        label=later("Meant to be lit"),
        required=False,
        widget=forms.DateTimeInput(attrs=_WHEN, format=_WHEN_FORMAT),
    )
    #: The page's own number: pressed twice, one firing is planned.
    client_id = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kiln"].queryset = Kiln.objects.filter(retired_at__isnull=True)
        self.fields["programme"].queryset = choices_for()
        self.fields["programme"].label_from_instance = programme_label

    def clean(self) -> dict[str, object]:
        fields = super().clean()
        kiln, kind = fields.get("kiln"), fields.get("kind")
        programme = fields.get("programme")
        if not fields.get("cone") and programme and programme.cone and programme.kind == kind:
            fields["cone"] = programme.cone
        if not fields.get("cone") and kiln and kind:
            usual = {FiringKind.BISQUE: kiln.usual_bisque_cone, FiringKind.GLAZE: kiln.usual_glaze_cone}
            if kind not in usual:
                self.add_error("cone", say("Say to which cone: low firings have no usual one."))
            else:
                fields["cone"] = usual[FiringKind(kind)]
        return fields


class LayersForm(forms.Form):
    """The props of a load's layers, bottom first: one field a layer that carries another."""

    def __init__(self, *args: object, heights: list[int], props_mm: list[int], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.count = len(props_mm)
        choices = [(height, fine_words(height)) for height in heights]
        for number, height in enumerate(props_mm[:-1], start=1):
            self.fields[f"prop_{number}"] = forms.TypedChoiceField(
                label=say_many("Props on layer {count}, the bottom", "Props on layer {count}", number),
                choices=choices if height in heights else [(height, fine_words(height)), *choices],
                coerce=int,
                initial=height,
            )

    def props_mm(self) -> list[int]:
        return [self.cleaned_data[f"prop_{number}"] for number in range(1, self.count)] + [0]


class LightForm(forms.Form):
    at = forms.DateTimeField(
        label=later("Lit at"),
        required=False,
        widget=forms.DateTimeInput(attrs=_WHEN, format=_WHEN_FORMAT),
        help_text=later("Left empty: now."),
    )
    meter_start_kwh = FigureField(
        label=later("Meter before, kWh"), required=False, min_value=0, max_digits=9, decimal_places=1
    )
    override_reason = forms.CharField(
        label=later("Reason, where a rule is overruled"), required=False, max_length=300
    )


class EndForm(forms.Form):
    at = forms.DateTimeField(
        label=later("Off at"),
        required=False,
        widget=forms.DateTimeInput(attrs=_WHEN, format=_WHEN_FORMAT),
        help_text=later("Left empty: now."),
    )
    meter_end_kwh = FigureField(
        label=later("Meter after, kWh"), required=False, min_value=0, max_digits=9, decimal_places=1
    )


class OpenForm(forms.Form):
    override_reason = forms.CharField(
        label=later("Open all the same, because"), required=False, max_length=300
    )
