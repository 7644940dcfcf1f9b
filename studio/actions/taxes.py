"""Tax rates the studio charges. A rate is never edited once a line has it: it is retired and another made."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from studio.domain.say import say
from studio.domain.taxes import tax_within
from studio.models import Person, TaxRate

from .common import clean_text, moment, must_be_tutor, refuse, retire, save_checked


@transaction.atomic
def add_tax_rate(*, label: str, percent: Decimal, by: Person, now: datetime | None = None) -> TaxRate:
    """A tax by its name and rate in percent, with at most three digits after the point."""
    must_be_tutor(by)
    moment(now)
    if not isinstance(percent, Decimal) or not percent.is_finite() or not 0 <= percent <= 100:
        refuse("tax-rate", say("A tax rate is from 0 to 100 %."))
    row = TaxRate(
        label=clean_text(label, label=say("name of the tax"), longest=40, required=True), percent=percent
    )
    save_checked(row, words={"tax_rate_once": say("There is a rate {row} already.", row=row)})
    return row


@transaction.atomic
def retire_tax_rate(*, rate: TaxRate, by: Person, now: datetime | None = None) -> TaxRate:
    """No longer offered. What was charged with it keeps it."""
    return retire(rate, by=by, now=now)


def tax_columns(rate: TaxRate | None, amount_minor: int) -> dict[str, object]:
    """What a line of this amount, tax included, keeps of its tax."""
    if rate is None:
        return {}
    return {
        "tax_label": rate.label,
        "tax_percent": rate.percent,
        "tax_minor": tax_within(amount_minor, rate.percent),
    }
