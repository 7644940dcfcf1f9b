"""Kilns and their props: parse and validate."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField
from django.utils.functional import lazy

from studio.domain.kiln_measures import MEASURES, STARTING_POWER_KW, STARTING_PROPS_MM, Measure
from studio.domain.lengths import fine_words, read_length, typed
from studio.domain.problems import DomainError
from studio.domain.say import later, say
from studio.models import Kiln

from .lengths import LengthField, bare_unit, by_unit, in_mm
from .money_field import MoneyField
from .parts import FigureField

_PROP = re.compile(r"(.{1,12}?)\s*[:x×*]\s*(\d{1,3})\Z")
_LONGEST_PROP_MM = 999
_WALLS = {3: later(", the right"), 6: later(", the front"), 9: later(", the left"), 12: later(", the back")}


def _hour_words(hour: int) -> str:
    return say("{hour} o’clock{wall}", hour=hour, wall=_WALLS.get(hour, ""))


_HOURS = [(hour, lazy(_hour_words, str)(hour)) for hour in (12, *range(1, 12))]


def prop_lines(stock: dict[int, int]) -> str:
    """``102 × 9``, one length a line, as the form takes them."""
    return "\n".join(f"{typed(length, metric='mm')} × {count}" for length, count in sorted(stock.items()))


def _prop_length(text: str) -> int:
    """Whole millimetres, or 0 for what is no length of a prop."""
    try:
        length = read_length(text, bare=bare_unit("mm"))
    except DomainError:
        return 0
    return length if 0 < length <= _LONGEST_PROP_MM else 0


def _range_of(measure: Measure) -> Callable[[int | Decimal], None]:
    def check(value: int | Decimal) -> None:
        if not measure.allows(value):
            raise ValidationError(measure.refusal(value), code="range")

    return check


class KilnForm(forms.ModelForm):
    """A kiln with its stock of props, written one length a line. A new one starts with usual measures."""

    props = forms.CharField(
        label=later("Props in stock"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 6, "inputmode": "text"}),
        help_text=by_unit(
            later("One length a line, in mm, and how many there are: 102 × 9. Three hold a layer."),
            later("One length a line, in inches, and how many there are: 4 × 9. Three hold a layer."),
        ),
    )
    thermocouple_clock = forms.TypedChoiceField(
        label=later("Thermocouple comes in at"),
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", later("Not entered")), *_HOURS],
        help_text=later("As on a clock face, seen from above. 12 is the back, where the hinge is."),
        error_messages={"invalid_choice": later("Choose an hour of the clock from the list.")},
    )
    power_kw = FigureField(
        label=later("Power, kW"),
        help_text=later("From the plate on the kiln. It estimates electricity where there is no meter."),
    )
    wear_minor_per_firing = MoneyField(
        label=later("Wear of elements and shelves, a firing"),
        help_text=later("What a new set costs, over the firings it lasts."),
    )
    consumables_minor_per_firing = MoneyField(label=later("Witness cones and kiln wash, a firing"))
    labour_minor_per_firing = MoneyField(
        label=later("Labour, a firing"),
        help_text=later("0 where the studio charges none. It can differ at closing."),
    )

    #: As the page groups them.
    SECTIONS = (
        (
            later("The kiln"),
            ("name", "where", "power_kw", "highest_cone", "usual_bisque_cone", "usual_glaze_cone"),
        ),
        (
            later("Its chamber"),
            ("shape", "opens", "sides", "width_mm", "depth_mm", "height_mm", "floor_gap_mm", "lid_gap_mm"),
        ),
        (
            later("Kiln shelves and props"),
            (
                "shelf_width_mm",
                "shelf_depth_mm",
                "shelf_thickness_mm",
                "whole_shelves",
                "half_shelves",
                "props",
                "prop_side_mm",
            ),
        ),
        (
            later("Its thermocouple"),
            (
                "thermocouple_clock",
                "thermocouple_height_mm",
                "thermocouple_reach_mm",
                "thermocouple_clear_mm",
            ),
        ),
        (
            later("What a firing costs"),
            (
                "wear_minor_per_firing",
                "consumables_minor_per_firing",
                "labour_minor_per_firing",
                "duty_percent",
            ),
        ),
    )

    class Meta:
        model = Kiln
        fields = [
            "name",
            "where",
            "shape",
            "opens",
            "sides",
            "width_mm",
            "depth_mm",
            "height_mm",
            "floor_gap_mm",
            "lid_gap_mm",
            "shelf_width_mm",
            "shelf_depth_mm",
            "shelf_thickness_mm",
            "whole_shelves",
            "half_shelves",
            "prop_side_mm",
            "thermocouple_clock",
            "thermocouple_height_mm",
            "thermocouple_reach_mm",
            "thermocouple_clear_mm",
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
            "name": later("Name"),
            "shape": later("Shape"),
            "usual_bisque_cone": later("Usual bisque cone"),
            "usual_glaze_cone": later("Usual glaze cone"),
            "sides": later("Number of sides"),
            "opens": later("It opens"),
            "width_mm": in_mm(later("Width inside")),
            "depth_mm": in_mm(later("Depth inside")),
            "height_mm": in_mm(later("Height inside")),
            "shelf_width_mm": in_mm(later("Kiln shelf width")),
            "shelf_depth_mm": in_mm(later("Kiln shelf depth")),
            "shelf_thickness_mm": in_mm(later("Kiln shelf thickness")),
            "floor_gap_mm": in_mm(later("Bottom shelf off the floor")),
            "lid_gap_mm": in_mm(later("Room kept under the lid")),
            "whole_shelves": later("Whole kiln shelves"),
            "half_shelves": later("Half kiln shelves"),
            "prop_side_mm": in_mm(later("How wide a prop is")),
            "thermocouple_height_mm": in_mm(later("Height over the floor")),
            "thermocouple_reach_mm": in_mm(later("Reaches into the kiln")),
            "thermocouple_clear_mm": in_mm(later("Room kept round it")),
            "duty_percent": later("Elements are on, % of the time"),
            "highest_cone": later("Hottest cone it may reach"),
        }
        field_classes = {name: LengthField for name in fields if name.endswith("_mm")}
        help_texts = {
            "sides": later("Of a many-sided kiln."),
            "half_shelves": later("Two lie side by side, left and right, for one whole."),
            "prop_side_mm": later("Ware keeps off the three props of its layer."),
            "thermocouple_clear_mm": later("Ware and kiln shelves stay out of it. 25 mm is usual."),
            "duty_percent": later(
                "For the estimate. Left empty: learnt from metered firings, half to begin with."
            ),
        }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["shape"].choices = Kiln.Shape.choices
        self.fields["opens"].choices = Kiln.Opens.choices
        for name, measure in MEASURES.items():
            field = self.fields[name]
            if not isinstance(field, forms.TypedChoiceField):
                field.validators = [_range_of(measure)]
            if isinstance(field.widget, forms.NumberInput):
                field.widget.attrs |= {"min": measure.least, "max": measure.most}
            if not self.instance.pk and measure.start is not None:
                self.initial[name] = measure.start
        if self.is_bound:
            return
        if self.instance.pk:
            self.initial["props"] = prop_lines(
                {row.length_mm: row.count for row in self.instance.props.all()}
            )
        else:
            self.initial["props"] = prop_lines(STARTING_PROPS_MM)
            self.initial["power_kw"] = STARTING_POWER_KW
            for cost in ("wear", "consumables", "labour"):
                self.initial[f"{cost}_minor_per_firing"] = 0

    def sections(self) -> list[tuple[str, list[BoundField]]]:
        """The fields as the page groups them."""
        return [(heading, [self[name] for name in names]) for heading, names in self.SECTIONS]

    def as_typed(self) -> tuple[Kiln, dict[int, int] | None]:
        """The kiln and its props as far as they are typed and possible, for a picture: not saved, with the
        usual or the saved figure where one is missing or can't be."""
        self.is_valid()
        values = {}
        for name in (*MEASURES, "shape", "opens"):
            field = Kiln._meta.get_field(name)
            typed = self.cleaned_data.get(name)
            if typed in (None, "") and name not in self.cleaned_data:
                typed = self.get_initial_for_field(self.fields[name], name)
            values[name] = field.get_default() if typed in (None, "") and not field.null else typed
        values["power_kw"] = values["power_kw"] or STARTING_POWER_KW
        for name, measure in MEASURES.items():
            if values[name] is None and measure.start is not None:
                values[name] = measure.start
        return Kiln(**values), self.cleaned_data.get("props")

    def clean_props(self) -> dict[int, int]:
        """``{length_mm: count}``."""
        found: dict[int, int] = {}
        for number, line in enumerate(self.cleaned_data["props"].splitlines(), start=1):
            if not line.strip():
                continue
            match = _PROP.match(line.strip())
            length = _prop_length(match[1]) if match else 0
            if not match or not length:
                raise forms.ValidationError(
                    say(
                        "Line {number} is “{line}”. Write a length and a number, like {example}.",
                        number=number,
                        line=line.strip()[:40],
                        example="4 × 9" if bare_unit("mm") == "in" else "102 × 9",
                    )
                )
            count = int(match[2])
            if length in found:
                raise forms.ValidationError(
                    say("{length} stands there twice. Write it once.", length=fine_words(length))
                )
            found[length] = count
        return found
