"""Lengths before and after, the size to make, and a lid for a gallery."""

from __future__ import annotations

from decimal import Decimal

from django import forms

from studio.domain.say import later
from studio.models import ClayBody, LengthPair

from .lengths import ExactField, by_unit, in_mm
from .parts import ClientIdField, WordsField


class LengthFigure(ExactField):
    """A length between a bead and the largest kiln."""

    def __init__(self, **named: object) -> None:
        super().__init__(least_mm=5, most_mm=1500, **named)


class PairForm(forms.Form):
    stage = forms.ChoiceField(
        label=later("Measured again"), choices=LengthPair.Stage.choices, initial="fired"
    )
    wet_mm = LengthFigure(
        label=in_mm(later("Wet")),
        help_text=by_unit(
            later("Two needle marks 100 mm apart on a bar are easiest to read."),
            later("Two needle marks 4 in apart on a bar are easiest to read."),
        ),
    )
    later_mm = LengthFigure(label=in_mm(later("Now")))
    cone = WordsField(longest=4, label=later("Fired to cone"), required=False)
    what = WordsField(longest=60, label=later("What was measured"), required=False)
    measured_on = forms.DateField(
        label=later("Measured on"),
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )
    client_id = ClientIdField()


class _ClayField(forms.ModelChoiceField):
    def __init__(self, **named: object) -> None:
        super().__init__(
            ClayBody.objects.filter(retired_at__isnull=True), to_field_name="code", empty_label=None, **named
        )


class RulerForm(forms.Form):
    clay = _ClayField(label=later("Clay"))
    size_mm = LengthFigure(label=in_mm(later("Fired size wanted")))


class LidForm(forms.Form):
    """A gallery as measured, and what the lid is made of."""

    AT = (
        ("wet", later("Wet")),
        ("bone-dry", later("Bone dry")),
        ("bisqued", later("Bisqued")),
        ("fired", later("Fired")),
    )

    gallery_mm = LengthFigure(
        label=in_mm(later("Across the gallery")), help_text=later("The ledge that the lid sits in.")
    )
    gallery_at = forms.ChoiceField(label=later("Measured"), choices=AT)
    clay = _ClayField(label=later("Clay of the pot"))
    lid_clay = _ClayField(label=later("Clay of the lid"))
    lid_at = forms.ChoiceField(label=later("The lid is measured"), choices=AT[:2])
    gap_mm = ExactField(
        label=in_mm(later("Gap all round once fired")),
        least_mm=0,
        most_mm=20,
        initial=Decimal(1),
        help_text=by_unit(
            later("Glaze on either side takes some of it. 1 mm is usual for a small jar."),
            later("Glaze on either side takes some of it. 1/32 in is usual for a small jar."),
        ),
    )
