"""Planning a series of test tiles, and what was seen on one."""

from __future__ import annotations

from decimal import Decimal

from django import forms

from studio.domain.say import later
from studio.models import ClayBody, Glaze, Shelf, TileSeries

from .lengths import SizeField, in_cm
from .parts import ActForm, ClientIdField, FigureField, WordsField
from .photos import PhotoField


class TileSeriesForm(forms.Form):
    name = WordsField(longest=60, label=later("Name"), help_text=later("Like: Iron in Chalk, cone 6."))
    kind = forms.ChoiceField(
        label=later("How is it varied?"),
        choices=TileSeries.Kind.choices,
        widget=forms.RadioSelect,
        initial=TileSeries.Kind.ADDITION,
    )
    bases = forms.ModelMultipleChoiceField(
        Glaze.objects.none(),
        label=later("Base"),
        to_field_name="code",
        widget=forms.CheckboxSelectMultiple,
        help_text=later("With several, each is a row of the grid. A blend has one."),
    )
    addition = WordsField(
        longest=60,
        label=later("What is added"),
        required=False,
        help_text=later("For an addition: red iron oxide, 325 mesh."),
    )
    blended_with = forms.ModelChoiceField(
        Glaze.objects.none(),
        label=later("Blended with"),
        to_field_name="code",
        required=False,
        empty_label=later("Nothing"),
        help_text=later("For a line blend: the glaze at its far end."),
    )
    first = FigureField(
        label=later("First step, %"), min_value=0, max_value=100, decimal_places=2, initial=Decimal(0)
    )
    last = FigureField(
        label=later("Last step, %"), min_value=0, max_value=100, decimal_places=2, initial=Decimal(8)
    )
    count = forms.IntegerField(label=later("How many steps"), min_value=2, max_value=12, initial=5)
    dry_g = FigureField(
        label=later("Dry glaze for each tile, g"),
        min_value=1,
        max_value=10_000,
        decimal_places=1,
        initial=Decimal(100),
        help_text=later("Weights of every mix are worked out from it."),
    )
    clay = forms.ModelChoiceField(
        ClayBody.objects.none(),
        label=later("Clay"),
        to_field_name="code",
        empty_label=later("Choose a clay"),
    )
    cone = WordsField(longest=4, label=later("Fired to cone"), initial="6")
    width_mm = SizeField(called=later("width"), label=in_cm(later("Tile across")), initial=50)
    depth_mm = SizeField(called=later("depth"), label=in_cm(later("Front to back as it stands")), initial=40)
    height_mm = SizeField(called=later("height"), label=in_cm(later("Height")), initial=80)
    shelf = forms.ModelChoiceField(
        Shelf.objects.none(),
        label=later("They dry on"),
        to_field_name="code",
        required=False,
        empty_label=later("Not said"),
    )
    notes = WordsField(longest=1000, lines=True, label=later("Notes"), required=False)
    client_id = ClientIdField()

    def __init__(self, *args: object, **named: object) -> None:
        super().__init__(*args, **named)
        glazes = Glaze.objects.filter(retired_at__isnull=True)
        self.fields["bases"].queryset = glazes.filter(kind__in=["glaze", "slip", "underglaze"])
        self.fields["blended_with"].queryset = glazes.filter(kind__in=["glaze", "slip", "underglaze"])
        self.fields["clay"].queryset = ClayBody.objects.filter(retired_at__isnull=True)
        self.fields["shelf"].queryset = Shelf.objects.filter(retired_at__isnull=True)


class TileForm(ActForm):
    seen = WordsField(longest=300, label=later("What do you see?"), required=False)
    liked = forms.BooleanField(label=later("Worth going on with"), required=False)
    photo = PhotoField(label=later("Photo"), required=False)
