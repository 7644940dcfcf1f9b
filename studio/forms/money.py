"""Payments, charges and credits: parse and validate."""

from __future__ import annotations

from decimal import Decimal

from django import forms

from studio.actions.money import BY_HAND
from studio.domain.say import later
from studio.models import Charge, Payment

from .money_field import MoneyField
from .statements import TaxField


class PaymentForm(forms.Form):
    amount_minor = MoneyField(label=later("Amount received"), least=1)
    method = forms.ChoiceField(
        label=later("How"), choices=Payment.Method.choices, initial=Payment.Method.CASH
    )
    words = forms.CharField(label=later("A note"), required=False, max_length=160)


class ChargeForm(forms.Form):
    amount_minor = MoneyField(label=later("Amount to pay"), least=1)
    kind = forms.ChoiceField(
        label=later("What kind"),
        choices=[(kind.value, kind.label) for kind in BY_HAND],
        initial=Charge.Kind.COURSE,
    )
    words = forms.CharField(label=later("What for"), max_length=160)
    tax = TaxField()


class ClayForm(forms.Form):
    """Weight in kilograms, cleaned to whole ``grams``."""

    grams = forms.DecimalField(
        label=later("Weight, kg"), min_value=Decimal("0.001"), max_value=1000, max_digits=7, decimal_places=3
    )
    price_minor_per_kg = MoneyField(label=later("Price of a kilogram"), least=1)
    words = forms.CharField(label=later("Which clay"), required=False, max_length=100)
    tax = TaxField()

    def clean_grams(self) -> int:
        return int(self.cleaned_data["grams"] * 1000)


class CreditForm(forms.Form):
    amount_minor = MoneyField(label=later("Amount to give back or leave off"), least=1)
    words = forms.CharField(label=later("What for"), max_length=160)
    tax = TaxField()
