"""Rules for sharing firings, and prices of electricity: parse and validate."""

from __future__ import annotations

import re
from datetime import time
from decimal import Decimal

from django import forms
from django.utils.functional import lazy

from studio.domain.say import later, say
from studio.models import Kiln, MakerKind, SharingPolicy

from .money_field import MoneyField
from .parts import FigureField

_SPAN = re.compile(r"(\d{1,2})[:.](\d{2})\s+(\d{1,6}(?:[.,]\d{1,3})?)\Z")


def _percent_label(kind: MakerKind) -> str:
    return say("{label} pay, % of their share", label=kind.label)


def _percent(kind: MakerKind) -> FigureField:
    return FigureField(
        label=lazy(_percent_label, str)(kind),
        min_value=0,
        max_value=300,
        max_digits=4,
        decimal_places=1,
        initial=100,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )


class RulesForm(forms.Form):
    """The rules themselves, without their day."""

    basis = forms.ChoiceField(
        label=later("A firing’s cost is shared by"), choices=SharingPolicy.Basis.choices
    )
    empty_space = forms.ChoiceField(
        label=later("Empty kiln space is"), choices=SharingPolicy.EmptySpace.choices
    )
    rate_member = _percent(MakerKind.MEMBER)
    rate_young = _percent(MakerKind.YOUNG)
    rate_guest = _percent(MakerKind.GUEST)
    rate_staff = _percent(MakerKind.STAFF)
    smallest_charge_minor = MoneyField(
        label=later("Smallest charge for a piece"), initial=0, help_text=later("0 for none.")
    )
    rounding_step_minor = MoneyField(
        label=later("Charges are rounded to"),
        least=1,
        initial=1,
        help_text=later("The smallest coin in use. All still adds up."),
    )
    lost_pieces_free = forms.BooleanField(
        label=later("Lost pieces pay nothing"), required=False, initial=True
    )
    refires_free = forms.BooleanField(
        label=later("Refires that the studio answers for pay nothing"), required=False, initial=True
    )
    own_pieces_share = forms.BooleanField(
        label=later("The studio’s own and test pieces carry their share"),
        required=False,
        initial=True,
        help_text=later("The studio bears it. Otherwise their room counts as empty kiln space."),
    )

    def values(self) -> dict[str, object]:
        """The rules as the action takes them."""
        fields = self.cleaned_data
        return {
            "basis": fields["basis"],
            "empty_space": fields["empty_space"],
            "rates_per_mille": {kind.value: int(fields[f"rate_{kind.value}"] * 10) for kind in MakerKind},
            "smallest_charge_minor": fields["smallest_charge_minor"],
            "rounding_step_minor": fields["rounding_step_minor"],
            "lost_pieces_free": fields["lost_pieces_free"],
            "refires_free": fields["refires_free"],
            "own_pieces_share": fields["own_pieces_share"],
        }

    def rules(self) -> SharingPolicy:
        """The rules as a row that is not saved, to reckon with."""
        values = self.values()
        rates = values.pop("rates_per_mille")
        return SharingPolicy(
            **values, **{f"rate_{kind}_per_mille": per_mille for kind, per_mille in rates.items()}
        )

    @staticmethod
    def initial_of(policy: SharingPolicy) -> dict[str, object]:
        return {
            "basis": policy.basis,
            "empty_space": policy.empty_space,
            "smallest_charge_minor": policy.smallest_charge_minor,
            "rounding_step_minor": policy.rounding_step_minor,
            "lost_pieces_free": policy.lost_pieces_free,
            "refires_free": policy.refires_free,
            "own_pieces_share": policy.own_pieces_share,
        } | {f"rate_{kind.value}": percent_of(policy.rate_per_mille(kind.value)) for kind in MakerKind}


def percent_of(per_mille: int) -> Decimal:
    """875 as 87.5, 1000 as 100."""
    exact = Decimal(per_mille).scaleb(-1)
    return exact.quantize(Decimal(1)) if exact == exact.to_integral_value() else exact


class PolicyForm(RulesForm):
    """Rules from a day on."""

    from_date = forms.DateField(
        label=later("From this day on"),
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text=later("Firings lit before it keep their rules."),
    )
    words = forms.CharField(label=later("Why"), required=False, max_length=300)

    field_order = ["from_date"]


class ChoiceForm(RulesForm):
    """Rules to try; not ``used`` ones are left out and need not make sense."""

    used = forms.BooleanField(label=later("Try these rules"), required=False)
    field_order = ["used"]

    def full_clean(self) -> None:
        super().full_clean()
        if self.is_bound and not self.cleaned_data.get("used"):
            self._errors.clear()


class LastForm(forms.Form):
    last = forms.IntegerField(
        label=later("The last firings, how many"), min_value=1, max_value=60, initial=10
    )


class TariffForm(forms.Form):
    """Prices by time of day, one span a line."""

    from_date = forms.DateField(
        label=later("From this day on"), widget=forms.DateInput(attrs={"type": "date"})
    )
    kiln = forms.ModelChoiceField(
        Kiln.objects.filter(retired_at__isnull=True),
        to_field_name="code",
        required=False,
        label=later("For"),
        empty_label=later("All kilns without a price of their own"),
    )
    spans = forms.CharField(
        label=later("Prices"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=later(
            "One a line: the time of day it begins, and what a kWh costs in pence or cents: "
            "00:30 9.5. One line is a flat price. For a kiln, left empty: as for all kilns."
        ),
    )

    def clean_spans(self) -> list[tuple[time, Decimal]]:
        """(local start, minor units a kWh)."""
        found = []
        for number, line in enumerate(self.cleaned_data["spans"].splitlines(), start=1):
            if not line.strip():
                continue
            match = _SPAN.match(line.strip())
            if not match or int(match[1]) > 23 or int(match[2]) > 59:
                raise forms.ValidationError(
                    say(
                        "Line {number} is “{line}”. Write a time and a price, like 07:00 26.83.",
                        number=number,
                        line=line.strip()[:40],
                    )
                )
            found.append((time(int(match[1]), int(match[2])), Decimal(match[3].replace(",", "."))))
        return found
