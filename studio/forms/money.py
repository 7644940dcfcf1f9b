"""Payments and charges: parse and validate."""

from __future__ import annotations

from django import forms

from studio.models import Charge, Payment

from .money_field import MoneyField


class PaymentForm(forms.Form):
    amount_minor = MoneyField(label="Amount received", least=1)
    method = forms.ChoiceField(label="How", choices=Payment.Method.choices, initial=Payment.Method.CASH)
    words = forms.CharField(label="A note", required=False, max_length=160)


class ChargeForm(forms.Form):
    amount_minor = MoneyField(label="Amount to pay", least=1)
    kind = forms.ChoiceField(
        label="What kind",
        choices=[choice for choice in Charge.Kind.choices if choice[0] not in {"firing", "credit"}],
        initial=Charge.Kind.CLAY,
    )
    words = forms.CharField(label="What for", max_length=160)
