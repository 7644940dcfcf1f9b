"""Balances and accounts at one query count, however many lines there are."""

from __future__ import annotations

import pytest

from studio.models import Charge, Payment
from studio.queries import money as queries
from tests import factories as make

pytestmark = pytest.mark.django_db


def post(person: object, *, charges: int = 0, payments: int = 0) -> None:
    for amount in range(1, charges + 1):
        Charge.objects.create(
            person=person,
            kind="clay",
            amount_minor=amount,
            words="Clay",
            at=make.NOW,
            client_id=make.client_id(),
        )
    for amount in range(1, payments + 1):
        Payment.objects.create(person=person, amount_minor=amount, at=make.NOW, client_id=make.client_id())


@pytest.mark.parametrize("count", [1, 30])
def test_balances_of_everyone_cost_one_query(count: int, django_assert_num_queries: object) -> None:
    people = [make.student() for _ in range(count)]
    make.student("Tobias")  # never charged
    for person in people:
        post(person, charges=4, payments=3)
    with django_assert_num_queries(1):
        assert queries.balances() == {person.pk: 10 - 6 for person in people}
    with django_assert_num_queries(1):
        assert sum(person.balance_minor for person in queries.with_balances()) == 4 * count
    with django_assert_num_queries(2):
        assert queries.balance(people[0]) == 4


@pytest.mark.parametrize("count", [1, 30])
def test_an_account_costs_two_queries(count: int, django_assert_num_queries: object) -> None:
    ines = make.student()
    post(ines, charges=count, payments=count)
    with django_assert_num_queries(2):
        lines = queries.account_lines(ines)
        assert [line.reversed for line in lines] == [False] * 2 * count
    assert lines[-1].balance_minor == 0


def test_credit_is_negative_and_whoever_was_never_charged_owes_nothing() -> None:
    ada, bela = make.student("Ada"), make.student("Bela")
    post(ada, payments=2)
    assert (queries.balance(ada), queries.balance(bela)) == (-3, 0)
    assert queries.balances() == {ada.pk: -3}
    assert [row.balance_minor for row in queries.with_balances().order_by("pk")] == [-3, 0]
