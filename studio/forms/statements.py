"""Statements, periods, tax rates and how the studio writes and takes money: parse and validate."""

from __future__ import annotations

from datetime import date

from django import forms

from studio.domain.say import later, say
from studio.models import Studio, TaxRate


def day_field(label: str, **kwargs: object) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, **kwargs)


class TaxField(forms.ModelChoiceField):
    """One of the studio's tax rates, or none."""

    def __init__(self, **kwargs: object) -> None:
        super().__init__(
            queryset=TaxRate.objects.filter(retired_at__isnull=True),
            label=later("Tax"),
            to_field_name="code",
            required=False,
            empty_label=later("None"),
            help_text=later("It is within the amount, not put on top."),
            **kwargs,
        )


class StatementForm(forms.Form):
    """``from_on`` is only asked for the first one: each later one goes on where the last ended."""

    from_on = day_field(later("From"), required=False)
    to_on = day_field(later("Up to and with"))
    due_on = day_field(later("To be paid by"), required=False)

    def __init__(self, *args: object, first: bool = True, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        if not first:
            del self.fields["from_on"]


class StatementsForm(forms.Form):
    """One for everybody who has something new on the account."""

    to_on = day_field(later("Up to and with"))
    mail = forms.BooleanField(
        label=later("And put them in the outbox, to be mailed"), required=False, initial=True
    )


class CancelForm(forms.Form):
    why = forms.CharField(label=later("Why it is cancelled"), max_length=200)


class PeriodForm(forms.Form):
    first = day_field(later("From"))
    last = day_field(later("Up to and with"))

    def clean(self) -> dict[str, date]:
        fields = super().clean()
        if fields.get("first") and fields.get("last") and fields["first"] > fields["last"]:
            raise forms.ValidationError(say("The last day is before the first. Turn them round."))
        return fields


class TaxRateForm(forms.Form):
    label = forms.CharField(
        label=later("Name of the tax"), max_length=40, help_text=later("As it stands on statements.")
    )
    percent = forms.DecimalField(
        label=later("Rate, %"), min_value=0, max_value=100, max_digits=6, decimal_places=3
    )


class MoneySettingsForm(forms.ModelForm):
    class Meta:
        model = Studio
        fields = [
            *("money_style", "sign_after", "statement_due_days", "statement_words"),
            *("account_name", "iban", "bic", "payment_code"),
        ]
        labels = {
            "sign_after": later("The currency’s sign stands after the sum"),
            "payment_code": later("Print a code for euro transfers on statements"),
        }
        help_texts = {
            "statement_words": later("As it stands at the foot of statements, one way to pay a line."),
            "account_name": later("As the bank knows it. Empty: the studio’s name."),
            "payment_code": later("A bank’s app reads account, sum and reference from it. Euro alone."),
        }
        widgets = {"statement_words": forms.Textarea(attrs={"rows": 3})}
