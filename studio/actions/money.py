"""Charges and payments: written once, put right by a second row, never edited.

Amounts are whole minor units of the studio's currency. What concerns someone under 18 goes on the account of
the guardian.
"""

from __future__ import annotations

from datetime import datetime
from typing import TypeVar

from django.db import IntegrityError, transaction

from studio.domain.say import later, say
from studio.domain.taxes import by_weight, kilograms
from studio.models import Charge, Payment, Person, Studio, TaxRate
from studio.queries.money import account_holder

from .common import (
    clean_choice,
    clean_client_id,
    clean_text,
    clean_whole,
    happened_at,
    local_day,
    moment,
    must_be_tutor,
    refuse,
)
from .taxes import tax_columns

#: More than this in one line is a slip of the finger.
MOST_MINOR = 100_000_000
_WORDS_LONGEST = 160

Row = TypeVar("Row", Charge, Payment)


#: Charged by hand. Firings are charged by closing them, credits given by `give_credit`.
BY_HAND = tuple(kind for kind in Charge.Kind if kind not in {Charge.Kind.FIRING, Charge.Kind.CREDIT})
#: A tonne: nobody carries off more at once.
MOST_GRAMS = 1_000_000


@transaction.atomic
def add_charge(
    *,
    person: Person,
    amount_minor: int,
    words: str,
    by: Person,
    client_id: str,
    kind: str = Charge.Kind.OTHER,
    tax: TaxRate | None = None,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Charge:
    """Charge somebody for something. ``amount_minor`` is what they pay: the tax is within it."""
    must_be_tutor(by)
    now = moment(now)
    amount = clean_amount(amount_minor)
    return post_row(
        Charge(
            person=account_holder(person, local_day(now)),
            kind=clean_choice(kind, BY_HAND, label=say("kind of charge")),
            amount_minor=amount,
            words=clean_text(words, label=say("words on the charge"), longest=_WORDS_LONGEST, required=True),
            at=happened_at(at, now, label=say("day of the charge")),
            by=by,
            client_id=clean_client_id(client_id),
            **tax_columns(tax, amount),
        )
    )


@transaction.atomic
def charge_clay(
    *,
    person: Person,
    grams: int,
    price_minor_per_kg: int,
    by: Person,
    client_id: str,
    words: str = "",
    tax: TaxRate | None = None,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Charge:
    """Charge clay by weight: grams × price of a kilogram, reckoned exactly, a half unit going up."""
    must_be_tutor(by)
    now = moment(now)
    grams = clean_whole(grams, label=say("weight in grams"), least=1, most=MOST_GRAMS)
    price = clean_amount(price_minor_per_kg)
    amount = clean_amount(by_weight(grams, price))
    what = clean_text(words, label=say("words on the charge"), longest=100) or say("Clay")
    return post_row(
        Charge(
            person=account_holder(person, local_day(now)),
            kind=Charge.Kind.CLAY,
            amount_minor=amount,
            words=say(
                "{what}, {kilograms} kg at {money_words} a kg",
                what=what,
                kilograms=kilograms(grams),
                money_words=Studio.the().money_words(price),
            ),
            grams=grams,
            price_minor_per_kg=price,
            at=happened_at(at, now, label=say("day of the charge")),
            by=by,
            client_id=clean_client_id(client_id),
            **tax_columns(tax, amount),
        )
    )


@transaction.atomic
def give_credit(
    *,
    person: Person,
    amount_minor: int,
    words: str,
    by: Person,
    client_id: str,
    tax: TaxRate | None = None,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Charge:
    """Give something back or leave something off: a line that lowers what they owe. The amount is positive.

    ``tax`` is the rate of what is given back, so that its tax is taken back with it.
    """
    must_be_tutor(by)
    now = moment(now)
    amount = -clean_amount(amount_minor)
    return post_row(
        Charge(
            person=account_holder(person, local_day(now)),
            kind=Charge.Kind.CREDIT,
            amount_minor=amount,
            words=clean_text(words, label=say("words on the credit"), longest=_WORDS_LONGEST, required=True),
            at=happened_at(at, now, label=say("day of the credit")),
            by=by,
            client_id=clean_client_id(client_id),
            **tax_columns(tax, amount),
        )
    )


@transaction.atomic
def record_payment(
    *,
    person: Person,
    amount_minor: int,
    method: str,
    by: Person,
    client_id: str,
    words: str = "",
    at: datetime | None = None,
    now: datetime | None = None,
) -> Payment:
    """Write down money that was received. It is not taken by this program."""
    must_be_tutor(by)
    now = moment(now)
    return post_row(
        Payment(
            person=account_holder(person, local_day(now)),
            amount_minor=clean_amount(amount_minor),
            method=clean_choice(method, Payment.Method.values, label=say("way it was paid")),
            words=clean_text(words, label=say("words on the payment"), longest=_WORDS_LONGEST),
            at=happened_at(at, now, label=say("day of the payment")),
            by=by,
            client_id=clean_client_id(client_id),
        )
    )


@transaction.atomic
def reverse_charge(
    *, charge: Charge, by: Person, client_id: str, words: str = "", now: datetime | None = None
) -> Charge:
    """Take a charge back by a second one that names it."""
    must_be_tutor(by)
    return reverse_row(
        charge,
        Charge(
            kind=charge.kind,
            share=charge.share,
            tax_label=charge.tax_label,
            tax_percent=charge.tax_percent,
            tax_minor=-charge.tax_minor,
            grams=charge.grams,
            price_minor_per_kg=charge.price_minor_per_kg,
        ),
        by=by,
        client_id=client_id,
        words=words,
        now=moment(now),
    )


@transaction.atomic
def reverse_payment(
    *, payment: Payment, by: Person, client_id: str, words: str = "", now: datetime | None = None
) -> Payment:
    """Take a payment back by a second one that names it: mistyped, or returned."""
    must_be_tutor(by)
    return reverse_row(
        payment, Payment(method=payment.method), by=by, client_id=client_id, words=words, now=moment(now)
    )


def clean_amount(amount_minor: int) -> int:
    """A whole number of minor units, more than 0. Floats and decimals are refused: they are no money."""
    if type(amount_minor) is not int:
        refuse("not-whole-units", say("An amount is a whole number of the smallest coin. Type it again."))
    if amount_minor <= 0:
        refuse("no-amount", say("The amount must be more than nothing. To take something back, reverse it."))
    if amount_minor > MOST_MINOR:
        refuse(
            "amount-huge",
            say("That amount is larger than any account here. Check the point and the noughts."),
        )
    return amount_minor


def reverse_row(row: Row, turned: Row, *, by: Person, client_id: str, words: str, now: datetime) -> Row:
    row = type(row).objects.select_for_update(no_key=True, of=("self",)).get(pk=row.pk)
    if row.reverses_id is not None:
        refuse("is-reversal", say("This line takes back another one. Enter it anew instead."))
    done = type(row).objects.filter(reverses=row).first()
    if done is not None:
        if done.client_id == client_id:
            return done
        refuse("reversed-already", say("This line has been taken back already."))
    words = clean_text(words, label=later("reason"), longest=_WORDS_LONGEST)
    turned.person = row.person
    turned.amount_minor = -row.amount_minor
    turned.words = (
        words or say("Taken back: {words}", words=row.words or row._meta.verbose_name)[:_WORDS_LONGEST]
    )
    turned.at = now
    turned.by = by
    turned.reverses = row
    turned.client_id = clean_client_id(client_id)
    return post_row(turned)


def post_row(row: Row) -> Row:
    """Save a new row, or give back the one that the same page posted before."""
    before = type(row).objects.filter(client_id=row.client_id).first()
    if before is None:
        try:
            with transaction.atomic():
                row.save(force_insert=True)
            return row
        except IntegrityError:
            before = type(row).objects.filter(client_id=row.client_id).first()
            if before is None:
                raise
    same = (before.person_id, before.amount_minor, before.reverses_id)
    if same != (row.person_id, row.amount_minor, row.reverses_id):
        refuse(
            "page-used",
            say("This page has been sent before, for something else. Load it again, then do this."),
        )
    return before
