"""The books of a period, read again by others: a table without formulas, a journal in which all balances."""

from __future__ import annotations

import io
import re
from collections import defaultdict
from datetime import date, timedelta
from decimal import Decimal

import pandas
import pytest

from studio.actions import money, settling, statements, taxes
from studio.models import Charge, Person
from studio.queries import books
from studio.queries.money import balance
from tests import factories as make
from tests.support import naughty

pytestmark = pytest.mark.django_db
NOW = make.NOW
FIRST, LAST = date(2025, 11, 1), date(2025, 11, 30)

FORMULA_LEADS = (
    *("=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1", " =1+1", "\u00a0=1+1", "\u3000=1+1", "\ufeff=1+1"),
    *("＝1+1", "＋1+1", "－1+1", "＠SUM(A1)", "−1+1", "\u200b=1+1", "-5", "clay;=1+1", "=cmd|' /C calc'!A0"),
)


def charge(person: Person, amount_minor: int = 1450, words: str = "Clay", **values: object) -> Charge:
    given = {"kind": "clay", "by": make.tutor(), "client_id": make.client_id(), "now": NOW}
    return money.add_charge(person=person, amount_minor=amount_minor, words=words, **{**given, **values})


def opened_again(text: str) -> pandas.DataFrame:
    """Read by pandas' own parser, everything as words."""
    return pandas.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)


def would_be_a_formula(cell: str) -> bool:
    """What a spreadsheet takes for a formula (OWASP, CSV Injection), also behind what it passes over."""
    bare = re.sub(r"^[\s\u200b\ufeff\u00a0\u3000]+", "", cell)
    if re.fullmatch(r"-?\d+(\.\d+)?", cell):
        return False
    return bare[:1] in set("=+-@＝＋－＠−") or cell[:1] in {"\t", "\r", "\n"}


@pytest.mark.parametrize("lead", FORMULA_LEADS)
def test_words_that_could_be_formulas_stay_words(lead: str) -> None:
    make.studio()
    ines = make.student(first_name=lead[:60], last_name=lead[:60])
    # Straight into the table: some of these no form would let in.
    Charge.objects.create(
        person=ines, kind="other", amount_minor=100, words=lead, at=NOW, client_id=make.client_id()
    )
    text = books.csv_of(FIRST, LAST)
    frame = opened_again(text)
    assert not [cell for cell in frame.to_numpy().ravel() if would_be_a_formula(cell)]
    assert frame["What for"][0].replace("'", "").strip().endswith(lead.replace("'", "").strip()[-3:])
    # By a program that takes semicolons or tabs for what parts cells.
    for separator in (";", "\t"):
        cells = [cell.strip('"') for line in text.splitlines() for cell in line.split(separator)]
        assert not [cell for cell in cells if would_be_a_formula(cell)]


def test_naughty_strings_are_kept_whole_in_the_table() -> None:
    make.studio()
    ines = make.student()
    kept = [text for text in [*naughty.OURS, *naughty.LISTED] if text and "\x00" not in text]
    for text in kept:
        Charge.objects.create(
            person=ines, kind="other", amount_minor=1, words=text[:160], at=NOW, client_id=make.client_id()
        )
    rows = list(books.table(FIRST, LAST))
    assert [row[5] for row in rows] == [text[:160] for text in kept]
    read = io.StringIO(books.csv_of(FIRST, LAST))
    frame = pandas.read_csv(read, dtype=str, keep_default_na=False, lineterminator="\n", engine="c")
    assert len(frame) >= len(kept)


def test_the_table_sums_to_what_is_owed() -> None:
    make.studio()
    maud, ines = make.tutor(), make.student()
    vat = taxes.add_tax_rate(label="VAT", percent=Decimal("20"), by=maud)
    charge(ines, 1450, tax=vat)
    money.charge_clay(
        person=ines, grams=2500, price_minor_per_kg=133, by=maud, client_id=make.client_id(), now=NOW
    )
    money.give_credit(
        person=ines, amount_minor=50, words="Chipped", by=maud, client_id=make.client_id(), now=NOW
    )
    money.record_payment(
        person=ines, amount_minor=900, method="cash", by=maud, client_id=make.client_id(), now=NOW
    )
    statements.issue_statement(
        person=ines, to_on=NOW.date(), by=maud, client_id=make.client_id(), now=NOW + timedelta(hours=1)
    )
    frame = opened_again(books.csv_of(FIRST, LAST))
    assert sum(map(Decimal, frame["Amount"])) == Decimal(balance(ines)) / 100
    assert list(frame["Amount"]) == ["14.50", "3.33", "-0.50", "-9.00"]
    assert list(frame["Statement"]) == ["1"] * 4
    assert (frame["Tax"][0], frame["Tax rate %"][0], frame["Tax included"][0]) == ("VAT", "20", "2.42")
    assert frame["Weight kg"][1] == "2.5"
    assert frame["What for"][1] == "Clay, 2.5 kg at £1.33 a kg"


# The journal, read by a reader of its own, written from the published syntax


STRING = r'"((?:[^"\\]|\\.)*)"'
OPEN = re.compile(r"(\d{4}-\d\d-\d\d) open ([A-Z][A-Za-z0-9:-]+) ([A-Z]{3})\Z")
TRANSACTION = re.compile(rf"(\d{{4}}-\d\d-\d\d) \* {STRING} {STRING}\Z")
POSTING = re.compile(r"  ([A-Z][A-Za-z0-9:-]+)  (-?\d+(?:\.\d+)?) ([A-Z]{3})\Z")
BALANCE = re.compile(r"(\d{4}-\d\d-\d\d) balance ([A-Z][A-Za-z0-9:-]+)  (-?\d+(?:\.\d+)?) ([A-Z]{3})\Z")
OTHER = re.compile(rf"(option {STRING} {STRING}|  [a-z]+: {STRING})\Z")


def read(text: str) -> tuple[list[dict[str, Decimal]], dict[str, Decimal]]:
    """Transactions as account -> amount, and what each account holds at the end; every line is understood."""
    opened: dict[str, str] = {}
    transactions: list[dict[str, Decimal]] = []
    held: dict[str, Decimal] = defaultdict(Decimal)
    asserted = 0
    for line in text.splitlines():
        if match := OPEN.match(line):
            assert match[2] not in opened
            opened[match[2]] = match[1]
        elif match := TRANSACTION.match(line):
            transactions.append(defaultdict(Decimal))
        elif match := POSTING.match(line):
            assert opened[match[1]], "opened before it is used"
            transactions[-1][match[1]] += Decimal(match[2])
            held[match[1]] += Decimal(match[2])
        elif match := BALANCE.match(line):
            assert held[match[2]] == Decimal(match[3]), line
            asserted += 1
        else:
            assert line == "" or OTHER.match(line), line
    assert asserted, "it says what everybody owes at the end"
    return transactions, held


def story() -> Person:
    """A month with a firing closed, reopened and closed again, tax, credit, payment and a late reversal."""
    make.studio()
    maud, ines = make.tutor(), make.student(last_name='Arkwell "Inky" \\ Co')
    vat = taxes.add_tax_rate(label="VAT", percent=Decimal("5.5"), by=maud)
    charge(ines, 2000, now=NOW - timedelta(days=60))
    taken = charge(ines, 1450, tax=vat)
    firing = make.closed_firing(pieces=[make.piece(maker=ines, stage="glazed") for _ in range(3)])
    settling.reopen_firing(firing=firing, by=maud, client_id=make.client_id(), now=NOW + timedelta(hours=1))
    settling.close_firing(
        firing=firing,
        by=maud,
        client_id=make.client_id(),
        energy_kwh=Decimal("51"),
        now=NOW + timedelta(hours=2),
    )
    given = {"by": maud, "now": NOW + timedelta(hours=3)}
    money.reverse_charge(charge=taken, client_id=make.client_id(), **given)
    for method in ("cash", "card", "transfer", "other"):
        money.record_payment(
            person=ines, amount_minor=300, method=method, client_id=make.client_id(), **given
        )
    money.give_credit(
        person=ines, amount_minor=70, words="A chip", tax=vat, client_id=make.client_id(), **given
    )
    return ines


def test_every_transaction_balances_and_accounts_end_where_the_studio_does() -> None:
    ines = story()
    transactions, held = read(books.journal_of(FIRST, LAST))
    assert len(transactions) > 12
    assert all(sum(each.values()) == 0 for each in transactions)
    assert held[f"Assets:Receivable:{ines.code}"] == Decimal(balance(ines)) / 100
    assert held["Equity:Opening-Balances"] == Decimal("-20.00"), "charged before the period"
    assert held["Assets:Cash"] == held["Assets:Bank"] == Decimal("3.00")
    # 0.70 × 5.5/105.5 = 0.0365; the tax of the charge that was taken back went with it.
    assert held["Liabilities:Tax"] == Decimal("0.04")
    firing_cost = sum(amount for name, amount in held.items() if name.startswith("Expenses:Firing"))
    standing = sum(row.cost_minor for row in books.Settlement.objects.filter(reversed_at=None))
    assert firing_cost == Decimal(standing) / 100


@pytest.mark.parametrize(("currency", "digits"), [("JPY", 0), ("KWD", 3)])
def test_a_studio_in_yen_and_one_in_dinar(currency: str, digits: int) -> None:
    ines = story()
    make.studio(currency=currency, currency_digits=digits)
    text = books.journal_of(FIRST, LAST)
    _, held = read(text)
    assert held[f"Assets:Receivable:{ines.code}"] == Decimal(balance(ines)).scaleb(-digits)
    assert f" {currency}" in text
    frame = opened_again(books.csv_of(FIRST, LAST))
    assert set(frame["Currency"]) == {currency}
    pattern = r"-?\d+" if digits == 0 else r"-?\d+\.\d{3}"
    assert all(re.fullmatch(pattern, amount) for amount in frame["Amount"])


def test_query_count_does_not_grow(django_assert_max_num_queries) -> None:
    make.studio()
    ines = make.student()
    for number in range(30):
        charge(ines, 100 + number)
    with django_assert_max_num_queries(10):
        list(books.table(FIRST, LAST))
    with django_assert_max_num_queries(16):
        books.journal_of(FIRST, LAST)
