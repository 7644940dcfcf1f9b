"""Kilns and their props: parse and validate."""

from __future__ import annotations

import re

from django import forms

from studio.models import Kiln

from .money_field import MoneyField

_PROP = re.compile(r"(\d{1,3})\s*(?:mm)?\s*[:x×*]\s*(\d{1,3})\Z")


class KilnForm(forms.ModelForm):
    """A kiln with its stock of props, written one length a line."""

    props = forms.CharField(
        label="Props in stock",
        required=False,
        widget=forms.Textarea(attrs={"rows": 5, "inputmode": "text"}),
        help_text="One length a line, in mm, and how many there are: 102 × 9. Three hold a layer.",
    )

    wear_minor_per_firing = MoneyField(
        label="Wear of elements and shelves, a firing",
        help_text="What a new set costs, over the firings it lasts.",
    )
    consumables_minor_per_firing = MoneyField(label="Witness cones and kiln wash, a firing")
    labour_minor_per_firing = MoneyField(
        label="Labour, a firing", help_text="0 where the studio charges none. It can differ at closing."
    )

    class Meta:
        model = Kiln
        fields = [
            "name",
            "where",
            "shape",
            "width_mm",
            "depth_mm",
            "height_mm",
            "shelf_width_mm",
            "shelf_depth_mm",
            "shelf_thickness_mm",
            "floor_gap_mm",
            "lid_gap_mm",
            "whole_shelves",
            "half_shelves",
            "power_kw",
            "highest_cone",
            "usual_bisque_cone",
            "usual_glaze_cone",
            "wear_minor_per_firing",
            "consumables_minor_per_firing",
            "labour_minor_per_firing",
            "duty_percent",
        ]
        labels = {
            "width_mm": "Chamber width inside, mm",
            "depth_mm": "Chamber depth inside, mm",
            "height_mm": "Chamber height inside, mm",
            "shelf_width_mm": "Kiln shelf width, mm",
            "shelf_depth_mm": "Kiln shelf depth, mm",
            "shelf_thickness_mm": "Kiln shelf thickness, mm",
            "floor_gap_mm": "Bottom shelf off the floor, mm",
            "lid_gap_mm": "Room kept under the lid, mm",
            "whole_shelves": "Whole kiln shelves",
            "half_shelves": "Half kiln shelves",
            "power_kw": "Power, kW",
            "duty_percent": "Elements are on, % of the time",
            "highest_cone": "Hottest cone it may reach",
        }
        help_texts = {
            "power_kw": "From the plate on the kiln. It estimates electricity where there is no meter.",
            "duty_percent": "For the estimate. Left empty: learnt from metered firings, half to begin with.",
        }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk and not self.is_bound:
            stock = self.instance.props.all()
            self.initial["props"] = "\n".join(f"{prop.length_mm} × {prop.count}" for prop in stock)

    def clean_props(self) -> dict[int, int]:
        """``{length_mm: count}``."""
        found: dict[int, int] = {}
        for number, line in enumerate(self.cleaned_data["props"].splitlines(), start=1):
            if not line.strip():
                continue
            match = _PROP.match(line.strip())
            if not match:
                raise forms.ValidationError(
                    f"Line {number} is “{line.strip()[:40]}”. Write a length and a number, like 102 × 9."
                )
            length, count = int(match[1]), int(match[2])
            if length in found:
                raise forms.ValidationError(f"{length} mm stands there twice. Write it once.")
            found[length] = count
        return found
