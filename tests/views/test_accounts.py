"""Accounts: what was charged and paid, written once and taken back by a second line."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.forms.money_field import minor_units, written
from studio.models import Charge, Payment, Person
from studio.queries import money as queries
from tests import factories
from tests.factories import client_id
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.tutor())
    return client


@pytest.fixture
def ines() -> Person:
    return factories.student()


def pay(maud: Client, person: Person, amount: str, **more: object):
    sent = {"amount_minor": amount, "method": "cash", "client_id": client_id(), **more}
    return maud.post(reverse("payment-new", args=[person.code]), sent)


def charge(maud: Client, person: Person, amount: str, **more: object):
    sent = {
        "amount_minor": amount,
        "kind": "course",
        "words": "Ten evenings",
        "client_id": client_id(),
        **more,
    }
    return maud.post(reverse("charge-new", args=[person.code]), sent)


def page_of(client: Client, name: str, *args: str, **query: str) -> str:
    return client.get(reverse(name, args=args), query).content.decode()


def test_a_charge_a_part_payment_and_what_is_left(maud: Client, ines: Person) -> None:
    assert charge(maud, ines, "64.00").url == reverse("account", args=[ines.code])
    assert pay(maud, ines, "£40", words="In an envelope").status_code == 302
    page = page_of(maud, "account", ines.code)
    for said in ("£64.00", "£40.00", "£24.00", "Ten evenings", "In an envelope", "To pay"):
        assert said in page
    assert queries.balance(ines) == 2400
    listed = page_of(maud, "accounts")
    assert "Ines Arkwell" in listed
    assert "£24.00" in listed


@pytest.mark.parametrize("typed", ["6.50", "6,5", "£6.50", " 6.5 ", "6,50", "£ 6.50"])
def test_sums_as_people_write_them(maud: Client, ines: Person, typed: str) -> None:
    pay(maud, ines, typed)
    assert Payment.objects.get().amount_minor == 650


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "Please fill this in"),
        ("six", "is no sum of money. Write it like 6.50."),
        ("6.505", "2 digits after the point"),
        ("-5", "is no sum of money"),
        ("0", "It must be from 0.01"),
        ("1e3", "is no sum of money"),
        ("1.000,00", "is no sum of money"),
        ("9999999.00", "larger than any account here"),
        ("99999999999", "is no sum of money"),
        ("NaN", "is no sum of money"),
    ],
)
def test_what_is_no_sum_is_said_and_kept(maud: Client, ines: Person, typed: str, sentence: str) -> None:
    answer = pay(maud, ines, typed, words="In an envelope")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert 'value="In an envelope"' in page
    if typed:
        assert f'value="{typed}"' in page
    assert Payment.objects.count() == 0


def test_a_charge_says_what_for(maud: Client, ines: Person) -> None:
    answer = charge(maud, ines, "5", words="")
    assert answer.status_code == 422
    assert 'value="5"' in answer.content.decode()
    # A firing is charged by closing it, and not by hand.
    assert charge(maud, ines, "5", kind="firing").status_code == 422
    assert Charge.objects.count() == 0


def test_sent_twice_it_counts_once(maud: Client, ines: Person) -> None:
    number = client_id()
    for _ in range(3):
        assert pay(maud, ines, "5.00", client_id=number).status_code == 302
    assert Payment.objects.get().amount_minor == 500
    # The same number for something else is another form that was sent by mistake.
    answer = pay(maud, ines, "7.00", client_id=number)
    assert answer.status_code == 422
    assert "has been sent before" in answer.content.decode()
    assert pay(maud, ines, "7.00", client_id="").status_code == 422


def test_a_line_is_taken_back_by_a_second_and_only_once(maud: Client, ines: Person) -> None:
    charge(maud, ines, "64.00")
    pay(maud, ines, "4.00")
    for row, name in ((Charge.objects.get(), "charge-reverse"), (Payment.objects.get(), "payment-reverse")):
        url = reverse(name, args=[row.code])
        page = maud.post(url, {"client_id": client_id()}, follow=True).content.decode()
        assert "taken back by a second line" in page
        assert "taken back later" in page
        again = maud.post(url, {"client_id": client_id()}, follow=True).content.decode()
        assert "has been taken back already" in again
        turned = row.reversed_by
        assert turned.amount_minor == -row.amount_minor
        page = maud.post(reverse(name, args=[turned.code]), {"client_id": client_id()}, follow=True)
        assert "takes back another one" in page.content.decode()
    assert queries.balance(ines) == 0
    assert (Charge.objects.count(), Payment.objects.count()) == (2, 2)


def test_more_paid_than_owed_is_money_in_hand(maud: Client, ines: Person) -> None:
    charge(maud, ines, "5")
    pay(maud, ines, "8.20")
    page = page_of(maud, "account", ines.code)
    assert "In hand" in page
    assert "3.20" in page
    mine = page_of(signed_in(ines), "my-account")
    assert "In hand" in mine


def test_what_a_young_person_owes_stands_on_the_guardians_account(maud: Client) -> None:
    sam = factories.young_person()
    ruth = sam.guardian
    charge(maud, sam, "12.00", words="Holiday workshop")
    assert queries.balance(ruth) == 1200
    assert queries.balance(sam) == 0
    page = page_of(maud, "account", sam.code)
    assert "is under 18: charges go to" in page
    assert reverse("account", args=[ruth.code]) in page
    assert "Holiday workshop" in page_of(signed_in(ruth), "my-account")


def test_the_list_leaves_out_settled_accounts_unless_asked(maud: Client, ines: Person) -> None:
    tobias = factories.student("Tobias", last_name="Marl")
    charge(maud, ines, "5")
    charge(maud, tobias, "5")
    pay(maud, tobias, "5")
    assert "Tobias Marl" not in page_of(maud, "accounts")
    assert "Tobias Marl" in page_of(maud, "accounts", all="1")
    assert "Noor" not in page_of(maud, "accounts", all="1")


def test_ines_sees_her_own_account_and_no_form(maud: Client, ines: Person) -> None:
    charge(maud, ines, "64.00")
    charge(maud, factories.student("Tobias"), "33.00")
    browser = signed_in(ines)
    page = page_of(browser, "my-account")
    assert "£64.00" in page
    assert "£33.00" not in page
    assert re.findall(r'<form[^>]*method="post"', page) == []
    for name, args in (("accounts", []), ("account", [ines.code])):
        assert browser.get(reverse(name, args=args)).status_code == 404
    assert pay(browser, ines, "64.00").status_code == 404
    home = page_of(browser, "home")
    assert "Your account: £64.00 to pay" in home


def test_a_new_account_says_that_nothing_was_charged(maud: Client, ines: Person) -> None:
    assert "Nothing has been charged" in page_of(signed_in(ines), "my-account")
    assert "Nothing has been charged or paid yet" in page_of(maud, "account", ines.code)


def test_a_long_account_shows_the_newest_lines_and_carries_the_rest_forward(
    maud: Client, ines: Person
) -> None:
    at = factories.NOW
    tutor = Person.objects.get(role="tutor")
    Charge.objects.bulk_create(
        Charge(
            person=ines,
            kind="clay",
            amount_minor=100,
            words=f"Bag {n}",
            at=at,
            by=tutor,
            client_id=client_id(),
        )
        for n in range(205)
    )
    page = page_of(maud, "account", ines.code)
    assert "Brought forward" in page
    assert "5 earlier lines" in page
    assert "Bag 204" in page
    assert ">Bag 3<" not in page
    assert "£205.00" in page


def test_bad_codes_and_methods(maud: Client, ines: Person) -> None:
    assert maud.get(reverse("account", args=["NOTTHERE"])).status_code == 404
    for name in ("payment-new", "charge-new"):
        assert maud.get(reverse(name, args=[ines.code])).status_code == 405
        assert maud.post(reverse(name, args=["NOTTHERE"])).status_code == 404
    for name in ("payment-reverse", "charge-reverse"):
        assert maud.post(reverse(name, args=["NOTTHERE"])).status_code == 404


# The field itself


@pytest.mark.parametrize("digits", [0, 2, 3])
def test_what_is_written_is_read_again_as_the_same_sum(digits: int) -> None:
    for amount in (0, 1, 5, 99, 100, 101, 12345, 10**9 - 1):
        assert minor_units(written(amount, digits=digits), digits=digits) == amount


@pytest.mark.parametrize(
    ("text", "digits", "amount"),
    # By hand: yen have no smaller coin, dinars a thousand (ISO 4217).
    [
        ("650", 0, 650),
        ("6", 2, 600),
        ("6.5", 2, 650),
        ("6,05", 2, 605),
        ("6.5", 3, 6500),
        ("6.505", 3, 6505),
        ("6.", 2, 600),
    ],
)
def test_sums_in_currencies_of_none_two_and_three_digits(text: str, digits: int, amount: int) -> None:
    assert minor_units(text, digits=digits) == amount


@pytest.mark.parametrize(
    ("text", "digits"), [("6.5", 0), ("6.505", 2), ("", 2), (".", 2), ("6.5.5", 2), ("−6", 2)]
)
def test_no_sum_is_guessed(text: str, digits: int) -> None:
    with pytest.raises(ValueError, match=r"Write"):
        minor_units(text, digits=digits)
