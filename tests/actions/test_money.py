"""Money is written once, in whole minor units, and put right by a second row."""

from __future__ import annotations

from datetime import date

import pytest
from django.db import DatabaseError

from studio.actions import money
from studio.domain.problems import Refused
from studio.models import Charge, Payment, Person
from studio.models.money import PostedRowError
from studio.queries.money import account_lines, balance
from tests import factories as make

pytestmark = pytest.mark.django_db


def charge(person: Person, amount_minor: int = 333, **values: object) -> Charge:
    given = {"by": make.tutor(), "client_id": make.client_id(), "words": "5 kg of clay", "kind": "clay"}
    return money.add_charge(person=person, amount_minor=amount_minor, now=make.NOW, **{**given, **values})


def pay(person: Person, amount_minor: int = 333, **values: object) -> Payment:
    given = {"by": make.tutor(), "client_id": make.client_id(), "method": "cash"}
    return money.record_payment(person=person, amount_minor=amount_minor, now=make.NOW, **{**given, **values})


def test_charges_raise_and_payments_lower_what_ines_owes() -> None:
    ines = make.student()
    charge(ines, 1250)
    charge(ines, 333)
    pay(ines, 1000)
    assert balance(ines) == 583
    pay(ines, 1000)
    assert balance(ines) == -417


def test_what_concerns_the_young_goes_on_the_guardians_account() -> None:
    ruth = make.guardian()
    sam = make.young_person(guardian=ruth)
    charge(sam, 500)
    pay(sam, 200)
    assert (balance(ruth), balance(sam)) == (300, 0)
    sam.born_on = date(make.NOW.year - 18, make.NOW.month, make.NOW.day)  # 18 today
    sam.save()
    charge(sam, 70)
    assert (balance(ruth), balance(sam)) == (300, 70)


def test_the_same_form_sent_twice_is_posted_once() -> None:
    ines, tap, maud = make.student(), make.client_id(), make.tutor()
    assert charge(ines, client_id=tap, by=maud) == charge(ines, client_id=tap, by=maud)
    tap = make.client_id()
    assert pay(ines, client_id=tap, by=maud) == pay(ines, client_id=tap, by=maud)
    assert (Charge.objects.count(), Payment.objects.count()) == (1, 1)
    with pytest.raises(Refused) as refused:
        pay(ines, 500, client_id=tap, by=maud)
    assert refused.value.codes == ["page-used"]


@pytest.mark.parametrize("act", [charge, pay])
@pytest.mark.parametrize(
    ("amount", "code"),
    [
        (0, "no-amount"),
        (-5, "no-amount"),
        (3.33, "not-whole-units"),
        (333.0, "not-whole-units"),
        (True, "not-whole-units"),
        ("333", "not-whole-units"),
        (None, "not-whole-units"),
        (10**12, "amount-huge"),
    ],
)
def test_amounts_that_are_no_money_are_refused(act: object, amount: object, code: str) -> None:
    with pytest.raises(Refused) as refused:
        act(make.student(), amount)
    assert refused.value.codes == [code]
    assert not Charge.objects.exists()
    assert not Payment.objects.exists()


def test_only_the_tutor_handles_money() -> None:
    ines, ivo = make.student(), make.helper()
    posted, paid = charge(ines), pay(ines)
    for who in (ines, ivo):
        for act in (
            lambda who=who: charge(ines, by=who),
            lambda who=who: pay(ines, by=who),
            lambda who=who: money.reverse_charge(charge=posted, by=who, client_id=make.client_id()),
            lambda who=who: money.reverse_payment(payment=paid, by=who, client_id=make.client_id()),
        ):
            with pytest.raises(Refused) as refused:
                act()
            assert refused.value.codes == ["tutor-only"]
    assert (Charge.objects.count(), Payment.objects.count()) == (1, 1)


def test_a_mistake_is_taken_back_by_a_second_row() -> None:
    ines, maud, tap = make.student(), make.tutor(), make.client_id()
    wrong, paid = charge(ines, 900), pay(ines, 400)
    back = money.reverse_charge(charge=wrong, by=maud, client_id=tap, words="Counted twice", now=make.NOW)
    assert (back.amount_minor, back.reverses, back.words) == (-900, wrong, "Counted twice")
    assert money.reverse_charge(charge=wrong, by=maud, client_id=tap) == back
    returned = money.reverse_payment(payment=paid, by=maud, client_id=make.client_id(), now=make.NOW)
    assert (returned.amount_minor, returned.words) == (-400, "Taken back: payment")
    assert balance(ines) == 0
    for act in (
        lambda: money.reverse_charge(charge=wrong, by=maud, client_id=make.client_id()),
        lambda: money.reverse_charge(charge=back, by=maud, client_id=make.client_id()),
    ):
        with pytest.raises(Refused):
            act()
    wrong.refresh_from_db()
    assert (wrong.amount_minor, wrong.words) == (900, "5 kg of clay")


def test_posted_rows_cannot_be_changed_or_deleted() -> None:
    ines = make.student()
    posted, paid = charge(ines), pay(ines)
    for row in (posted, paid):
        row.amount_minor = 1
        for act in (
            row.save,
            row.delete,
            lambda row=row: type(row).objects.filter(pk=row.pk).update(amount_minor=1),
            lambda row=row: type(row).objects.filter(pk=row.pk).delete(),
            lambda row=row: type(row).objects.bulk_update([row], ["amount_minor"]),
            lambda row=row: type(row).objects.update_or_create(pk=row.pk, defaults={"amount_minor": 1}),
            lambda: ines.charges.update(amount_minor=1),
            lambda: ines.payments.all().delete(),
        ):
            with pytest.raises(PostedRowError):
                act()
        row.refresh_from_db()
        assert row.amount_minor == 333
    with pytest.raises(DatabaseError):
        ines.delete()


def test_the_account_has_a_running_balance() -> None:
    ines, maud = make.student(), make.tutor()
    first = charge(ines, 900, by=maud, at=make.NOW.replace(day=3))
    pay(ines, 500, by=maud, at=make.NOW.replace(day=10), method="transfer")
    money.reverse_charge(charge=first, by=maud, client_id=make.client_id(), now=make.NOW)
    lines = account_lines(ines)
    assert [(line.amount_minor, line.balance_minor) for line in lines] == [
        (900, 900),
        (-500, 400),
        (-900, -500),
    ]
    assert [line.what for line in lines] == ["Clay", "Paid, bank transfer", "Clay"]
    assert [(line.reversed, line.reverses) for line in lines] == [
        (True, False),
        (False, False),
        (False, True),
    ]
    assert [line.may_be_reversed for line in lines] == [False, True, False]
    assert lines[-1].balance_minor == balance(ines)
