"""Who owes what: balances and accounts, in whole minor units throughout.

A balance is what a person owes: charges less payments. Negative is credit. The bills of the under-18s stand
on the account of their guardian.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from studio.domain.say import midway, say
from studio.models import Charge, Payment, Person


def balance(person: Person) -> int:
    """What this person owes, in minor units; negative is credit."""
    return _sum(Charge.objects.filter(person=person)) - _sum(Payment.objects.filter(person=person))


def account_holder(person: Person, day: date) -> Person:
    """On whose account this person's charges and payments go: the guardian's for the under-18s."""
    return person.answers_for(day)


def with_balances(people: QuerySet[Person] | None = None) -> QuerySet[Person]:
    """People with ``charged_minor``, ``paid_minor`` and ``balance_minor``, all in one query."""
    people = Person.objects.all() if people is None else people
    charged = _summed(Charge.objects.filter(person=OuterRef("pk")))
    paid = _summed(Payment.objects.filter(person=OuterRef("pk")))
    return people.annotate(charged_minor=charged, paid_minor=paid, balance_minor=charged - paid)


def balances() -> dict[int, int]:
    """Balance by primary key of everyone who has a charge or payment, in one query."""
    rows = with_balances().exclude(charged_minor=0, paid_minor=0).order_by()
    return dict(rows.values_list("pk", "balance_minor"))


def balances_of(people: Iterable[Person]) -> dict[int, int]:
    """Balance by primary key of these people, in one query."""
    rows = with_balances(Person.objects.filter(pk__in={person.pk for person in people})).order_by()
    return dict(rows.values_list("pk", "balance_minor"))


@dataclass(frozen=True, slots=True)
class AccountLine:
    """A line of an account. ``amount_minor`` is signed: what is charged adds, what is paid takes away.

    ``reverses`` says that this line takes back an earlier one, ``reversed`` that a later one takes it back.
    """

    at: datetime
    what: str
    words: str
    amount_minor: int
    balance_minor: int
    row: Charge | Payment
    reverses: bool
    reversed: bool

    @property
    def is_payment(self) -> bool:
        return isinstance(self.row, Payment)

    @property
    def may_be_reversed(self) -> bool:
        return not self.reverses and not self.reversed


def account_lines(person: Person) -> list[AccountLine]:
    """Everything charged and paid, oldest first, with the balance after each line. Two queries."""
    charges = Charge.objects.filter(person=person).select_related(
        "reverses", "reversed_by", "share__placement__piece", "share__settlement__firing"
    )
    payments = Payment.objects.filter(person=person).select_related("reverses", "reversed_by")
    rows: list[Charge | Payment] = sorted(
        [*charges, *payments], key=lambda row: (row.at, isinstance(row, Payment), row.pk)
    )
    lines, owed = [], 0
    for row in rows:
        amount = -row.amount_minor if isinstance(row, Payment) else row.amount_minor
        owed += amount
        lines.append(
            AccountLine(
                at=row.at,
                what=_what(row),
                words=row.words,
                amount_minor=amount,
                balance_minor=owed,
                row=row,
                reverses=row.reverses_id is not None,
                reversed=hasattr(row, "reversed_by"),
            )
        )
    return lines


def _what(row: Charge | Payment) -> str:
    if isinstance(row, Payment):
        return say("Paid, {method}", method=midway(row.get_method_display()))
    return row.get_kind_display()


def _sum(rows: QuerySet) -> int:
    return rows.aggregate(total=Sum("amount_minor"))["total"] or 0


def _summed(rows: QuerySet) -> Coalesce:
    total = rows.order_by().values("person").annotate(total=Sum("amount_minor")).values("total")
    return Coalesce(Subquery(total), Value(0))
