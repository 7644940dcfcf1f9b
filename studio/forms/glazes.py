"""Glazes and clays: parse and validate."""

from __future__ import annotations

from django import forms

from studio.domain.say import later
from studio.models import ClayBody, Glaze, Layering

from .lengths import by_unit
from .parts import WordsField


class GlazeForm(forms.ModelForm):
    class Meta:
        model = Glaze
        fields = [
            "name",
            "kind",
            "source",
            "colour",
            "finish",
            "cone_from",
            "cone_to",
            "movement",
            "food_contact",
            "metallic",
            "low_at_g",
            "notes",
            "recipe",
        ]
        labels = {
            "name": later("Name"),
            "kind": later("Kind"),
            "finish": later("Finish"),
            "notes": later("Notes"),
            "low_at_g": later("Say so when less is in hand, g"),
            "recipe": later("Its recipe, as you write it"),
            "food_contact": later("Its maker's word on food"),
            "movement": later("How much it moves"),
        }
        help_texts = {
            "food_contact": later("What the maker's data sheet says. It is no promise about your pots."),
            "finish": later("Satin, gloss, matte …"),
        }
        widgets = {
            "colour": forms.TextInput(attrs={"type": "color"}),
            "notes": forms.Textarea(attrs={"rows": 3}),
            "recipe": forms.Textarea(attrs={"rows": 6}),
        }


class ClayForm(forms.ModelForm):
    class Meta:
        model = ClayBody
        fields = [
            "name",
            "colour",
            "cone",
            "shrinkage_dry_pct",
            "shrinkage_bisque_pct",
            "shrinkage_fired_pct",
            "cone_from",
            "cone_to",
            "absorption_pct",
            "notes",
        ]
        labels = {
            "name": later("Name"),
            "colour": later("Colour"),
            "notes": later("Notes"),
            "shrinkage_dry_pct": later("Shrinks from wet to bone dry, %"),
            "shrinkage_bisque_pct": later("Shrinks from wet to bisque, %"),
            "shrinkage_fired_pct": later("Shrinks from wet to fired, %"),
            "cone": later("Matures at cone"),
        }
        help_texts = {
            "shrinkage_fired_pct": by_unit(
                later("Of the wet length: a 100 mm bar that fires to 88 mm shrinks 12 %."),
                later("Of the wet length: a 4 in bar that fires to 3 1/2 in shrinks 12.5 %."),
            ),
        }
        widgets = {
            "colour": forms.TextInput(attrs={"type": "color"}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }


class BatchForm(forms.Form):
    name = WordsField(
        longest=40, label=later("Batch"), help_text=later("Its number, or what stands on the bucket.")
    )
    made_on = forms.DateField(
        label=later("Mixed or bought on"), widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    in_hand_g = forms.IntegerField(
        label=later("In hand, g"),
        required=False,
        min_value=0,
        max_value=1_000_000,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    notes = WordsField(longest=200, label=later("Note"), required=False)


class WeightForm(forms.Form):
    in_hand_g = forms.IntegerField(required=False, min_value=0, max_value=1_000_000)


class LayeringForm(forms.Form):
    """What is known of this glaze over another one."""

    under = forms.ModelChoiceField(
        Glaze.objects.none(),
        label=later("Over which"),
        to_field_name="code",
        empty_label=later("Choose a glaze"),
    )
    word = forms.ChoiceField(label=later("What is known"), choices=Layering.Word.choices)
    note = WordsField(longest=200, label=later("Note"), required=False)

    def __init__(self, *args: object, glaze: Glaze, **named: object) -> None:
        super().__init__(*args, **named)
        self.fields["under"].queryset = Glaze.objects.filter(retired_at__isnull=True).exclude(pk=glaze.pk)


class SheetForm(forms.Form):
    file = forms.FileField(label=later("The maker's data sheet, as a PDF"))
