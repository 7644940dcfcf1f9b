"""Statements: numbered without gaps, made once, read back from the paper, cancelled only by a credit note."""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from django.db import IntegrityError, transaction

from studio.actions import money, statements, taxes
from studio.domain.problems import Refused
from studio.models import Notice, Person, Statement, StatementFile, StatementLine
from studio.models.money import PostedRowError
from studio.queries import statements as queries
from studio.queries.money import balance
from tests import factories as make
from tests.support import naughty

pytestmark = pytest.mark.django_db
NOW = make.NOW
TODAY = NOW.date()


def charge(person: Person, amount_minor: int, *, days_ago: int = 1, **values: object) -> object:
    given = {"by": make.tutor(), "client_id": make.client_id(), "words": "A sponge", "kind": "tools"}
    at = NOW - timedelta(days=days_ago)
    return money.add_charge(person=person, amount_minor=amount_minor, now=at, **{**given, **values})


def pay(person: Person, amount_minor: int, *, days_ago: int = 0) -> object:
    return money.record_payment(
        person=person,
        amount_minor=amount_minor,
        method="transfer",
        words="thank you",
        by=make.tutor(),
        client_id=make.client_id(),
        now=NOW - timedelta(days=days_ago),
    )


def issue(person: Person, **values: object) -> Statement:
    given = {"by": make.tutor(), "client_id": make.client_id(), "to_on": TODAY, "now": NOW}
    return statements.issue_statement(person=person, **{**given, **values})


def cancel(statement: Statement, **values: object) -> Statement:
    given = {"by": make.tutor(), "client_id": make.client_id(), "why": "Wrong days", "now": NOW}
    return statements.cancel_statement(statement=statement, **{**given, **values})


def on_paper(statement: Statement) -> str:
    """Every word of the stored PDF, as a reader takes it off the page."""
    paper = pypdfium2.PdfDocument(bytes(statement.file.data))
    return " ".join("\n".join(page.get_textpage().get_text_range() for page in paper).split())


def test_a_statement_carries_forward_and_adds_up_on_paper() -> None:
    make.studio(address="The Old Net Loft\nQuillmere", statement_words="Or in the tin on a class day.")
    ines = make.student()
    charge(ines, 420, days_ago=40)
    pay(ines, 420, days_ago=35)
    first = issue(ines, to_on=TODAY - timedelta(days=30))
    charge(ines, 1450, days_ago=20, kind="clay", words="One bag of stoneware")
    pay(ines, 500, days_ago=10)
    second = issue(ines)
    assert (first.number, first.from_on, first.closing_minor, first.due_on) == (
        1,
        date(2025, 10, 9),
        0,
        None,
    )
    assert (second.number, second.from_on, second.to_on) == (2, date(2025, 10, 20), TODAY)
    assert (second.opening_minor, second.charged_minor, second.paid_minor) == (0, 1450, 500)
    assert second.closing_minor == balance(ines) == 950
    assert second.due_on == date(2025, 12, 16)
    words = on_paper(second)
    for part in (
        "Quillmere Clay Room",
        "The Old Net Loft",
        "Ines Arkwell",
        "Statement 2, 18 November 2025",
        "Account from 20 October to 18 November 2025.",
        "One bag of stoneware",
        "£14.50",
        "Paid, bank transfer",
        "−£5.00",
        "Please pay by 16 December 2025, and give Statement 2 as the reference.",
        "Or in the tin on a class day.",
    ):
        assert part in words, part
    assert words.count("£9.50") >= 2, "at the head, at the foot"
    assert "Brought forward" not in words, "nothing was"


@pytest.mark.parametrize("tool", ["pdftotext"])
def test_another_reader_sees_the_same_words(tool: str, tmp_path: Path) -> None:
    """Poppler, where it is installed; pdfium reads the same page everywhere."""
    make.studio()
    ines = make.student(first_name="Łucja", last_name="Őry-Dvořák")
    charge(ines, 1234567)
    statement = issue(ines)
    expected = ["Łucja Őry-Dvořák", "Statement 1, 18 November 2025", "£12,345.67", "To pay"]
    assert all(part in on_paper(statement) for part in expected)
    if program := shutil.which(tool):
        kept = tmp_path / "statement.pdf"
        kept.write_bytes(bytes(statement.file.data))
        seen = subprocess.run(
            [program, "-layout", kept, "-"], capture_output=True, text=True, check=True
        ).stdout
        assert all(part in " ".join(seen.split()) for part in expected)


def test_a_firing_is_one_line_with_mark_and_sum_of_each_piece() -> None:
    make.studio()
    ruth = make.guardian()
    sam = make.young_person(guardian=ruth)
    pieces = [make.piece(maker=who, stage="glazed") for who in (ruth, ruth, sam)]
    firing = make.closed_firing(pieces=pieces, energy_kwh="60")
    at = firing.closed_at + timedelta(hours=1)
    statement = issue(ruth, now=at, to_on=at.date())
    words = on_paper(statement)
    amounts = {charge.share.placement.piece.mark: charge.amount_minor for charge in ruth.charges.all()}
    assert len(amounts) == 3
    assert str(firing) in words
    assert f"{pieces[0].mark} £{amounts[pieces[0].mark] // 100}.{amounts[pieces[0].mark] % 100:02d}" in words
    assert f"{pieces[2].mark} (Sam) £" in words, "whose it is, where it is not the reader's own"
    assert statement.charged_minor == sum(amounts.values())
    assert statement.lines.count() == 3


def test_tax_stands_on_the_line_and_in_a_sum_of_its_own() -> None:
    make.studio()
    maud, ines = make.tutor(), make.student()
    full = taxes.add_tax_rate(label="VAT", percent=Decimal("20"), by=maud)
    low = taxes.add_tax_rate(label="VAT", percent=Decimal("5.5"), by=maud)
    charge(ines, 1450, tax=full)
    charge(ines, 1000, tax=low)
    words = on_paper(issue(ines))
    # 14.50 × 20/120 = 2.4166…; 10.00 × 5.5/105.5 = 0.5213…: by a pocket calculator
    assert "VAT 20 %: £2.42, included in £14.50." in words
    assert "VAT 5.5 %: £0.52, included in £10.00." in words
    assert "VAT 20 % included" in words


def test_what_was_posted_late_is_on_the_next_one_and_nothing_is_on_two() -> None:
    ines = make.student()
    charge(ines, 700, days_ago=12)
    first = issue(ines, to_on=TODAY - timedelta(days=10))
    charge(ines, 300, days_ago=0, at=NOW - timedelta(days=11))
    second = issue(ines)
    assert (second.opening_minor, second.charged_minor) == (first.closing_minor, 300)
    assert [line.charge.amount_minor for line in StatementLine.objects.order_by("pk")] == [700, 300]


def test_only_a_credit_note_cancels_and_its_charges_are_stated_anew() -> None:
    make.studio()
    ines, tap = make.student(), make.client_id()
    charge(ines, 1000, days_ago=8)
    pay(ines, 400, days_ago=7)
    first = issue(ines, to_on=TODAY - timedelta(days=1))
    note = cancel(first, client_id=tap)
    assert (note.number, note.kind, note.closing_minor, note.cancels) == (2, "credit-note", -1000, first)
    assert cancel(first, client_id=tap) == note
    for act in (lambda: cancel(first), lambda: cancel(note)):
        with pytest.raises(Refused):
            act()
    words = on_paper(note)
    assert "Credit note 2, 18 November 2025" in words
    assert "It cancels statement 1 of 18 November 2025. Reason: Wrong days" in words
    assert "−£10.00" in words
    assert balance(ines) == 600, "nothing is forgiven by it"
    third = issue(ines)
    assert (third.number, third.opening_minor, third.charged_minor, third.paid_minor) == (3, 0, 1000, 400)
    assert third.from_on == first.from_on
    assert list(queries.standing()) == [third]


def test_an_issued_statement_is_never_changed_whatever_happens_after() -> None:
    studio, ines = make.studio(), make.student()
    posted = charge(ines, 900)
    statement = issue(ines)
    before = bytes(statement.file.data)
    assert hashlib.sha256(before).hexdigest() == statement.sha256
    studio.name = "Another name"
    studio.save()
    ines.first_name = "Inez"
    ines.save()
    money.reverse_charge(charge=posted, by=make.tutor(), client_id=make.client_id(), now=NOW)
    cancel(statement)
    for row in (statement, statement.file, statement.lines.first()):
        for act in (row.save, row.delete, lambda row=row: type(row).objects.filter(pk=row.pk).delete()):
            with pytest.raises(PostedRowError):
                act()
    assert bytes(StatementFile.objects.get(statement=statement).data) == before


def test_the_same_page_sent_twice_gives_one_statement() -> None:
    ines, tobias, tap = make.student(), make.student("Tobias"), make.client_id()
    charge(ines, 900)
    charge(tobias, 900)
    assert issue(ines, client_id=tap) == issue(ines, client_id=tap)
    with pytest.raises(Refused):
        issue(tobias, client_id=tap)
    assert Statement.objects.count() == 1


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"to_on": TODAY + timedelta(days=1)}, "days-ahead"),
        ({"from_on": TODAY, "to_on": TODAY - timedelta(days=1)}, "days-turned"),
        ({"due_on": TODAY - timedelta(days=1)}, "due-passed"),
        ({"by": None}, "tutor-only"),
    ],
)
def test_days_that_make_no_sense_take_no_number(values: dict[str, object], code: str) -> None:
    ines = make.student()
    charge(ines, 900)
    if "by" in values:
        values = {"by": make.helper()}
    with pytest.raises(Refused) as refused:
        issue(ines, **values)
    assert refused.value.codes == [code]
    with pytest.raises(Refused) as refused:
        issue(make.student("Tobias"))
    assert refused.value.codes == ["nothing-to-state"]
    assert issue(ines).number == 1


def test_a_number_is_given_back_when_the_page_cannot_be_made(monkeypatch: pytest.MonkeyPatch) -> None:
    ines = make.student()
    charge(ines, 900)
    with monkeypatch.context() as broken:
        broken.setattr(statements, "statement_pdf", lambda sheet: 1 // 0)
        with pytest.raises(ZeroDivisionError):
            issue(ines)
    assert issue(ines).number == 1


def test_the_tables_refuse_what_does_not_add_up() -> None:
    ines = make.student()
    charge(ines, 900)
    values = Statement.objects.filter(pk=issue(ines).pk).values().get()
    del values["id"], values["code"]
    for wrong in (
        {"number": 2, "closing_minor": 901},
        {"number": 0},
        {"number": 2, "kind": "credit-note"},
        {"number": 1},
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            Statement.objects.create(**{**values, "client_id": make.client_id(), **wrong})


def test_overdue_is_what_the_last_due_statement_asked_less_what_came_since() -> None:
    ines, tobias = make.student(), make.student("Tobias", last_name="Marl")
    charge(ines, 1000, days_ago=60)
    charge(tobias, 500, days_ago=60)
    then = NOW - timedelta(days=50)
    first = issue(ines, now=then, to_on=then.date())
    issue(tobias, now=then, to_on=then.date())
    charge(ines, 9000, days_ago=3)
    assert [(row.person, row.amount_minor, row.days) for row in queries.overdue(today=TODAY)] == [
        (ines, 1000, 22),
        (tobias, 500, 22),
    ]
    pay(ines, 400, days_ago=2)
    money.give_credit(
        person=ines, amount_minor=100, words="Chipped lid", by=make.tutor(), client_id="c1", now=NOW
    )
    pay(tobias, 500, days_ago=1)
    assert [(row.person, row.amount_minor) for row in queries.overdue(today=TODAY)] == [(ines, 500)]
    cancel(first)
    assert queries.overdue(today=TODAY) == []


def test_it_is_mailed_to_the_one_who_answers_and_never_to_the_young() -> None:
    maud, ruth = make.tutor(), make.guardian()
    sam = make.young_person(guardian=ruth, email="sam@quillmere.example")
    charge(sam, 900)
    statement = issue(ruth)
    notice = statements.mail_statement(statement=statement, by=maud, now=NOW)
    assert (notice.recipient, notice.state, notice.kind) == (ruth, "waiting", "statement")
    assert statements.mail_statement(statement=statement, by=maud, now=NOW) == notice
    cancel(statement)
    notice.refresh_from_db()
    assert (notice.state, notice.dropped_why) == ("dropped", "Statement 1 is cancelled.")
    with pytest.raises(Refused):
        statements.mail_statement(statement=statement, by=maud, now=NOW)
    assert Notice.objects.count() == 1


def test_yen_and_dinar_go_all_the_way_to_the_paper() -> None:
    """ISO 4217: the yen has no smaller coin, the Kuwaiti dinar 1000 fils (amendment 177, list one)."""
    for currency, sign, digits, amount, printed in (
        ("JPY", "¥", 0, 12345, "¥12,345"),
        ("KWD", "KD", 3, 12345, "KD 12.345"),
    ):
        make.studio(currency=currency, currency_sign=sign, currency_digits=digits)
        ines = make.student()
        charge(ines, amount)
        statement = issue(ines)
        assert statement.currency == currency
        assert printed in on_paper(statement).replace("\xa0", " ")
        assert not re.search("£", on_paper(statement))


def codes_on(statement: Statement) -> list[str]:
    """Every code on the paper, as a phone's camera sees it."""
    paper = pypdfium2.PdfDocument(bytes(statement.file.data))
    sheets = [page.render(scale=200 / 72).to_pil().convert("L") for page in paper]
    return [code.bytes.decode("utf-8") for sheet in sheets for code in zxingcpp.read_barcodes(sheet)]


def test_a_bank_reads_the_transfer_off_the_paper_where_the_studio_wants_it() -> None:
    euro = {
        "currency": "EUR",
        "currency_sign": "€",
        "money_style": "comma",
        "sign_after": True,
        "account_name": "Töpferei Quillmere",
        "iban": "DE89370400440532013000",
    }
    make.studio(**euro)
    ines = make.student()
    charge(ines, 854)
    plain = issue(ines)
    assert codes_on(plain) == [], "off until somebody turns it on"
    assert "IBAN DE89 3704 0044 0532 0130 00" in on_paper(plain)
    make.studio(**euro, payment_code=True)
    charge(ines, 12_000_00)
    coded = issue(ines)
    assert codes_on(coded) == [
        "BCD\n002\n1\nSCT\n\nTöpferei Quillmere\nDE89370400440532013000\nEUR12008.54\n\n\nStatement 2"
    ]
    assert "12.008,54 €" in on_paper(coded).replace("\xa0", " ")
    make.studio(**{**euro, "currency": "GBP"}, payment_code=True)
    tobias = make.student("Tobias")
    charge(tobias, 500)
    assert codes_on(issue(tobias)) == [], "in euro alone"
    make.studio(**euro, payment_code=True)
    pay(ines, 13_000_00)
    assert codes_on(issue(ines)) == [], "nothing to pay"


def test_a_long_account_goes_over_pages_and_every_line_is_there() -> None:
    make.studio(address="One\nTwo\nThree\nFour")
    ines = make.student(first_name="I" * 60, last_name="W" * 60)
    for number in range(90):
        charge(ines, 100 + number, words=f"Line{number:03} {'long words ' * 12}", days_ago=100 - number)
    statement = issue(ines, from_on=date(2020, 1, 1))
    paper = pypdfium2.PdfDocument(bytes(statement.file.data))
    words = on_paper(statement)
    assert len(paper) > 3
    assert [f"Line{number:03}" in words for number in range(90)] == [True] * 90
    for number, page in enumerate(paper, start=1):
        text = page.get_textpage()
        assert f"Statement 1, 18 November 2025, page {number} of {len(paper)}" in text.get_text_range()
        for at in range(text.count_chars()):
            left, bottom, right, top = text.get_charbox(at)
            assert 0 <= left <= right <= 595.3
            assert 0 <= bottom <= top <= 841.9


@pytest.mark.parametrize(
    "strings",
    [
        pytest.param([*naughty.LISTED[::13], *naughty.OURS], id="some"),
        pytest.param(naughty.ALL, id="all", marks=pytest.mark.full),
    ],
)
def test_naughty_strings_never_keep_a_statement_from_being_issued(strings: list[str]) -> None:
    """What a face has is on the paper as typed; for the rest there is a sign that something stood there."""
    make.studio()
    ines = make.student()
    kept = 0
    for text in strings:
        try:
            charge(ines, 100, words=text[:160])
            kept += 1
        except Refused:
            continue
    charge(ines, 100, words="陶芸 Łódź Привет")
    statement = issue(ines)
    assert statement.lines.count() == kept + 1 > 20
    words = on_paper(statement)
    assert "陶芸 Łódź Привет" in words
    assert "<script>alert(" in words
