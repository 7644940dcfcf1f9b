"""The pages of statements and books, as the tutor uses them and as everybody else must not."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.actions import money, statements
from studio.models import Charge, Notice, Person, Statement, Studio, TaxRate
from studio.queries.money import balance
from tests import factories as make
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud() -> Person:
    make.studio()
    return make.tutor()


def charge(person: Person, maud: Person, amount_minor: int = 1450) -> Charge:
    return money.add_charge(
        person=person,
        amount_minor=amount_minor,
        words="Clay",
        kind="clay",
        by=maud,
        client_id=make.client_id(),
    )


def post(client: Client, name: str, *args: object, **words: object) -> Any:
    words.setdefault("client_id", make.client_id())
    return client.post(reverse(name, args=args), words)


def today() -> str:
    return timezone.localdate().isoformat()


def test_from_a_charge_to_the_paper_and_back_by_a_credit_note(maud: Person) -> None:
    ines, client = make.student(), signed_in(maud)
    charge(ines, maud)
    answer = post(client, "statement-new", ines.code, to_on=today())
    statement = Statement.objects.get()
    assert answer.url == reverse("statement", args=[statement.code])
    page = client.get(answer.url).content.decode()
    assert "£14.50" in page
    paper = client.get(reverse("statement-pdf", args=[statement.code]))
    assert paper.content == bytes(statement.file.data)
    assert (paper["Content-Type"], paper["Cache-Control"]) == ("application/pdf", "private, no-store")
    assert paper["Content-Disposition"] == 'inline; filename="statement-1.pdf"'
    sent = post(client, "statement-mail", statement.code)
    assert sent.url == reverse("notice", args=[Notice.objects.get(kind="statement").code])
    assert post(client, "statement-cancel", statement.code, why="").status_code == 422
    note_page = post(client, "statement-cancel", statement.code, why="Wrong days")
    note = Statement.objects.get(kind="credit-note")
    assert note_page.url == reverse("statement", args=[note.code])
    assert "Credit note 2" in client.get(reverse("statement", args=[statement.code])).content.decode()
    assert "cancelled by 2" in client.get(reverse("statements")).content.decode()


def test_the_paper_is_for_the_tutor_and_the_one_who_answers_alone(maud: Person) -> None:
    ruth = make.guardian()
    sam = make.young_person(guardian=ruth)
    charge(sam, maud)
    post(signed_in(maud), "statement-new", ruth.code, to_on=today())
    url = reverse("statement-pdf", args=[Statement.objects.get().code])
    absent = signed_in(make.student()).get(reverse("statement-pdf", args=["ZZZZZZZZ"]))
    for who in (make.student("Tobias"), sam, make.helper()):
        answer = signed_in(who).get(url)
        assert (answer.status_code, answer.content) == (404, absent.content) or who.is_staff_member
        assert answer.status_code == 404
    assert Client().get(url).status_code == 302
    assert signed_in(ruth).get(url).status_code == 200
    assert "Statement 1" in signed_in(ruth).get(reverse("my-account")).content.decode()


def test_what_is_overdue_stands_on_the_page_of_statements(maud: Person) -> None:
    ines = make.student()
    # At noon, as an hour before midnight UTC's day is another than the studio's in summer.
    day = timezone.localdate(timezone=Studio.the().zone) - timedelta(days=60)
    then = datetime.combine(day, time(12), Studio.the().zone)
    given = {"person": ines, "by": maud, "now": then}
    money.add_charge(amount_minor=1450, words="Clay", kind="clay", client_id="c", **given)
    statements.issue_statement(to_on=day, client_id="s", **given)
    page = signed_in(maud).get(reverse("statements")).content.decode()
    assert "Overdue" in page
    assert "32 days" in page
    money.record_payment(person=ines, amount_minor=1450, method="cash", by=maud, client_id="p")
    assert "Overdue" not in signed_in(maud).get(reverse("statements")).content.decode()


def test_one_for_everybody_with_news_and_none_the_second_time(maud: Person) -> None:
    client, people = signed_in(maud), [make.student(f"Student{number}") for number in range(3)]
    make.student("Without")
    for person in people:
        charge(person, maud)
    tap = make.client_id()
    for _ in range(2):
        post(client, "statements-issue", to_on=today(), mail="on", client_id=tap)
    assert Statement.objects.count() == Notice.objects.filter(kind="statement", state="waiting").count() == 3
    post(client, "statements-issue", to_on=today())
    assert Statement.objects.count() == 3
    ahead = (timezone.localdate() + timedelta(days=3)).isoformat()
    assert post(client, "statements-issue", to_on=ahead).status_code == 422


def test_clay_tax_and_credit_are_posted_from_the_account(maud: Person) -> None:
    ines, client = make.student(), signed_in(maud)
    post(client, "tax-rates", label="VAT", percent="20")
    vat = TaxRate.objects.get()
    post(client, "clay-charge-new", ines.code, grams="12.5", price_minor_per_kg="1.16", tax=vat.code)
    post(client, "charge-new", ines.code, amount_minor="90", kind="course", words="Ten evenings")
    post(client, "credit-new", ines.code, amount_minor="5", words="One evening fell out")
    rows = list(Charge.objects.order_by("pk"))
    assert [(row.kind, row.amount_minor, row.tax_minor) for row in rows] == [
        ("clay", 1450, 242),
        ("course", 9000, 0),
        ("credit", -500, 0),
    ]
    assert (rows[0].grams, rows[0].price_minor_per_kg, rows[0].tax_label) == (12500, 116, "VAT")
    assert balance(ines) == 9950
    wrong = post(client, "clay-charge-new", ines.code, grams="heavy", price_minor_per_kg="1.16")
    assert wrong.status_code == 422
    assert "heavy" in wrong.content.decode()
    post(client, "tax-rate-retire", vat.code)
    refused = post(client, "charge-new", ines.code, amount_minor="1", kind="tools", words="x", tax=vat.code)
    assert refused.status_code == 422
    assert Charge.objects.count() == 3


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"iban": "DE89 3704 0044 0532 0130 01"}, "check digits"),
        ({"iban": "not an iban"}, "no IBAN"),
        ({"payment_code": "on"}, "euro alone"),
        ({"bic": "SHORT"}, "8 or 11"),
    ],
)
def test_an_account_number_that_cannot_be_right_is_refused_whole(
    maud: Person, words: dict[str, str], said: str
) -> None:
    # DE89 3704 0044 0532 0130 00 is the worked example of ISO 13616's registry.
    good = {"money_style": "comma", "sign_after": "on", "statement_due_days": "14", "statement_words": ""}
    client = signed_in(maud)
    answer = post(client, "money-settings", **{**good, "account_name": "", "iban": "", "bic": "", **words})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert Studio.the().statement_due_days == 28
    fine = {"account_name": "Quillmere", "iban": "de89 3704 0044 0532 0130 00", "bic": ""}
    assert post(client, "money-settings", **{**good, **fine}).status_code == 302
    assert (Studio.the().iban, Studio.the().money_words(123456)) == (
        "DE89370400440532013000",
        "1.234,56\xa0£",
    )


def test_the_books_of_a_period_and_the_check_on_the_first_page(maud: Person) -> None:
    ines, client = make.student(), signed_in(maud)
    charge(ines, maud)
    assert "The books add up" in client.get(reverse("books")).content.decode()
    assert "do not add up" not in client.get("/").content.decode()
    period = {"first": "2020-01-01", "last": today()}
    table = client.get(reverse("books-table"), period)
    assert table.content.decode().startswith('\ufeff"Day","Entry"')
    assert "attachment" in table["Content-Disposition"]
    journal = client.get(reverse("books-journal"), period)
    assert "Assets:Receivable" in journal.content.decode()
    turned = {"first": today(), "last": "2020-01-01"}
    assert client.get(reverse("books-table"), turned).status_code == 422
    Statement.objects.bulk_create(
        [
            Statement(
                number=7,
                person=ines,
                from_on=today(),
                to_on=today(),
                until=timezone.now(),
                opening_minor=0,
                charged_minor=0,
                paid_minor=0,
                closing_minor=0,
                issued_at=timezone.now(),
                client_id="behind",
            )
        ]
    )
    assert "The books do not add up" in client.get("/").content.decode()
    assert "The books do not add up" not in signed_in(make.helper()).get("/").content.decode()
    assert "have a gap: 1, 2, 3, 4, 5 are missing" in client.get(reverse("books")).content.decode()


@pytest.mark.parametrize("name", ["statements", "books"])
def test_query_count_with_one_row_and_thirty(maud: Person, name: str) -> None:
    client = signed_in(maud)
    counts = []
    for many in (1, 30):
        for number in range(many):
            person = make.student(f"Student{many}x{number}")
            charge(person, maud)
            post(client, "statement-new", person.code, to_on=today())
        with CaptureQueriesContext(connection) as seen:
            assert client.get(reverse(name)).status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1]
