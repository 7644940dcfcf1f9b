"""Glazes and clays: parse and validate."""

from __future__ import annotations

from django import forms

from studio.models import ClayBody, Glaze


class GlazeForm(forms.ModelForm):
    class Meta:
        model = Glaze
        fields = [
            "name",
            "colour",
            "finish",
            "cone_from",
            "cone_to",
            "movement",
            "food_contact",
            "metallic",
            "notes",
        ]
        labels = {"food_contact": "Its maker's word on food", "movement": "How much it moves"}
        help_texts = {
            "food_contact": "What the maker's data sheet says. It is no promise about your pots.",
            "finish": "Satin, gloss, matte …",
        }
        widgets = {
            "colour": forms.TextInput(attrs={"type": "color"}),
            "notes": forms.Textarea(attrs={"rows": 3}),
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
        ]
        labels = {
            "shrinkage_dry_pct": "Shrinks from wet to bone dry, %",
            "shrinkage_bisque_pct": "Shrinks from wet to bisque, %",
            "shrinkage_fired_pct": "Shrinks from wet to fired, %",
            "cone": "Matures at cone",
        }
        help_texts = {
            "shrinkage_fired_pct": "Of the wet length: a 100 mm bar that fires to 88 mm shrinks 12 %.",
        }
        widgets = {"colour": forms.TextInput(attrs={"type": "color"})}
