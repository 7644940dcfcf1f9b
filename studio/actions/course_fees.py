"""The fee for a place: a charge once, taken back whole by a reversal or in part by a credit.

Who may take a place or give it up has been looked at by whoever calls; a place taken on the public page
has no tutor behind it.
"""

from __future__ import annotations

from datetime import datetime

from studio.domain.say import say
from studio.domain.taxes import tax_within
from studio.models import Charge, Enrolment, Person
from studio.queries.money import account_holder

from .common import local_day
from .money import clean_amount, post_row, reverse_row
from .taxes import tax_columns

_WORDS_LONGEST = 160


def charge_fee(enrolment: Enrolment, *, by: Person | None, now: datetime) -> Charge:
    """Post the course's price for this place."""
    course, person = enrolment.course, enrolment.person
    amount = clean_amount(course.price_minor)
    return post_row(
        Charge(
            person=account_holder(person, local_day(now)),
            kind=Charge.Kind.COURSE,
            amount_minor=amount,
            words=f"{course.name}, {person.first_name}"[:_WORDS_LONGEST],
            at=now,
            by=by,
            client_id=f"{_key(enrolment)}:fee",
            **tax_columns(course.tax, amount),
        )
    )


def give_back(
    enrolment: Enrolment, *, back_minor: int, by: Person, words: str, now: datetime
) -> Charge | None:
    """Take the fee back, whole or in part; None where nothing is given back."""
    fee = enrolment.charge
    if fee is None or back_minor == 0 or Charge.objects.filter(reverses=fee).exists():
        return None
    said = say(
        "Place given up: {name}, {first_name}",
        name=enrolment.course.name,
        first_name=enrolment.person.first_name,
    )
    if words:
        said = f"{said}. {words}"
    said = said[:_WORDS_LONGEST]
    if back_minor == fee.amount_minor:
        turned = Charge(
            kind=fee.kind,
            tax_label=fee.tax_label,
            tax_percent=fee.tax_percent,
            tax_minor=-fee.tax_minor,
        )
        return reverse_row(fee, turned, by=by, client_id=f"{_key(enrolment)}:back", words=said, now=now)
    amount = -clean_amount(back_minor)
    # The tax of what was charged, also where the course has another rate by now.
    tax = {"tax_minor": tax_within(amount, fee.tax_percent)} if fee.tax_label else {}
    return post_row(
        Charge(
            person=fee.person,
            kind=Charge.Kind.CREDIT,
            amount_minor=amount,
            words=said,
            at=now,
            by=by,
            client_id=f"{_key(enrolment)}:back",
            tax_label=fee.tax_label,
            tax_percent=fee.tax_percent,
            **tax,
        )
    )


def _key(enrolment: Enrolment) -> str:
    return f"place:{enrolment.pk}:{enrolment.round}"
