"""The demo studio's other charges and its papers: clay by weight with its tax, a course fee, statements."""

from __future__ import annotations

from decimal import Decimal

from studio.actions import money, money_settings, statements, taxes
from studio.models import Charge, Person
from studio.queries.money import balance

from .books import Books
from .ware import Ware

#: Who bought clay: days ago, grams. A bag holds 12.5 kg.
CLAY = ((58, 12_500), (57, 5_000), (44, 12_500), (23, 2_400), (9, 12_500))
PRICE_OF_A_KG = 124
STATED_DAYS_AGO = 36


def hand_out(books: Books, ware: Ware) -> None:
    """Clay sold, a fee, a credit; statements five weeks ago, one of them cancelled, one still unpaid."""
    tutor = books.tutor
    given = {"by": tutor}
    money_settings.save_money_settings(
        by=tutor,
        money_style="point",
        sign_after=False,
        statement_due_days=28,
        statement_words="By bank transfer, or in the tin on a class day.",
        account_name="",
        iban="",
        bic="",
        payment_code=False,
    )
    vat = taxes.add_tax_rate(label="VAT", percent=Decimal("20"), now=books.at(372), **given)
    buyers = _grown(books)
    for number, (days, grams) in enumerate(CLAY):
        money.charge_clay(
            person=buyers[number % len(buyers)],
            grams=grams,
            price_minor_per_kg=PRICE_OF_A_KG,
            words="Buff stoneware",
            tax=vat,
            client_id=ware.client_id(),
            now=books.at(days, "19:40"),
            **given,
        )
    first, second, third = buyers[:3]
    money.add_charge(
        person=first,
        amount_minor=16500,
        kind=Charge.Kind.COURSE,
        words="Tuesday evening throwing, ten evenings",
        client_id=ware.client_id(),
        now=books.at(50, "19:45"),
        **given,
    )
    money.give_credit(
        person=first,
        amount_minor=1650,
        words="One evening fell out",
        client_id=ware.client_id(),
        now=books.at(40, "19:45"),
        **given,
    )
    to_on = books.at(STATED_DAYS_AGO).date()
    issued = [
        statements.issue_statement(
            person=person,
            to_on=to_on,
            client_id=ware.client_id(),
            now=books.at(STATED_DAYS_AGO, "20:30"),
            **given,
        )
        for person in (first, second, third)
    ]
    statements.cancel_statement(
        statement=issued[2],
        why="The firing of that week was not on it",
        client_id=ware.client_id(),
        now=books.at(STATED_DAYS_AGO - 1, "10:00"),
        **given,
    )
    statements.issue_statement(
        person=third,
        to_on=books.at(29).date(),
        client_id=ware.client_id(),
        now=books.at(29, "20:30"),
        **given,
    )
    money.record_payment(
        person=first,
        amount_minor=max(100, issued[0].closing_minor),
        method="transfer",
        words="Statement 1, thank you",
        client_id=ware.client_id(),
        now=books.at(27, "09:00"),
        **given,
    )


def _grown(books: Books) -> list[Person]:
    """Students on their own account who are still here, those who owe first."""
    people = [books.people[key] for key in books.students["throwing"]]
    grown = [person for person in people if person.left_at is None and not person.is_young_on(books.today)]
    return sorted(grown, key=lambda person: (-balance(person), person.pk))
