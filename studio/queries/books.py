"""The books of a period: every charge, payment and cost of a firing, for a spreadsheet or a ledger.

Whole minor units throughout. Days are the studio's; both ends of a period count.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from django.db.models import Prefetch, QuerySet, Sum

from studio.domain import csv_cells
from studio.domain.journal import Entry, journal
from studio.domain.money_words import plain
from studio.domain.say import later, midway, say
from studio.domain.taxes import kilograms
from studio.models import Charge, CostLine, Payment, Person, Settlement, StatementLine, Studio

from . import csv_tables
from .notices import day_begins, studio_day
from .statements import standing
from .statements_sheet import percent, span

#: Columns of the table: what they are called, whether they hold words (else dates, codes and figures).
COLUMNS = (
    (later("Day"), False),
    (later("Entry"), True),
    (later("Kind"), True),
    (later("Account"), True),
    (later("Account code"), False),
    (later("What for"), True),
    (later("Amount"), False),
    (later("Currency"), False),
    (later("Tax"), True),
    (later("Tax rate %"), False),
    (later("Tax included"), False),
    (later("Weight kg"), False),
    (later("Statement"), False),
    (later("Takes back"), False),
    (later("Code"), False),
)

RECEIVABLE = "Assets:Receivable"
PAID_INTO = {
    Payment.Method.CASH: "Assets:Cash",
    Payment.Method.CARD: "Assets:Card",
    Payment.Method.TRANSFER: "Assets:Bank",
    Payment.Method.OTHER: "Assets:Other",
}
EARNED_BY = {
    Charge.Kind.FIRING: "Income:Firings",
    Charge.Kind.COURSE: "Income:Courses",
    Charge.Kind.CLAY: "Income:Clay",
    Charge.Kind.TOOLS: "Income:Tools",
    Charge.Kind.SALE: "Income:Sales",
    Charge.Kind.OTHER: "Income:Other",
    Charge.Kind.CREDIT: "Income:Credits",
}
SPENT_ON = {
    CostLine.Kind.ENERGY: "Expenses:Firing:Electricity",
    CostLine.Kind.CONSUMABLES: "Expenses:Firing:Consumables",
    CostLine.Kind.WEAR: "Expenses:Firing:Wear",
    CostLine.Kind.LABOUR: "Expenses:Firing:Labour",
}
#: What firings cost is set against this until bills and repairs are booked, elsewhere.
ACCRUED = "Liabilities:Accrued:Firing"
TAX_OWED = "Liabilities:Tax"
OPENING = "Equity:Opening-Balances"


def csv_of(first: date, last: date) -> str:
    """A table with a head, for a spreadsheet: words can't be taken for formulas there."""
    rows = (
        [csv_cells.words(str(cell)) if words else cell for cell, (_, words) in zip(row, COLUMNS, strict=True)]
        for row in table(first, last)
    )
    return csv_tables.written([[str(name) for name, _ in COLUMNS], *rows])


def table(first: date, last: date) -> Iterator[list[str]]:
    """The rows by day, as words and figures with a point. Four queries."""
    studio = Studio.the()
    digits = studio.currency_digits
    rows: list[tuple[datetime, int, list[str]]] = []
    for order, row in enumerate(_charges(first, last, studio)):
        number = next((str(line.statement.number) for line in row.standing_lines), "")
        rows.append(
            (
                row.at,
                order,
                [
                    *(_day(row.at, studio), say("Charge"), row.get_kind_display()),
                    *(row.person.full_name, row.person.code, row.words),
                    *(plain(row.amount_minor, digits=digits), studio.currency, row.tax_label),
                    "" if row.tax_percent is None else percent(row.tax_percent),
                    "" if row.tax_percent is None else plain(row.tax_minor, digits=digits),
                    "" if row.grams is None else kilograms(row.grams),
                    *(number, row.reverses.code if row.reverses else "", row.code),
                ],
            )
        )
    for order, row in enumerate(_payments(first, last, studio)):
        number = next((str(line.statement.number) for line in row.standing_lines), "")
        rows.append(
            (
                row.at,
                order,
                [
                    *(_day(row.at, studio), say("Payment"), row.get_method_display()),
                    *(row.person.full_name, row.person.code, row.words),
                    *(plain(-row.amount_minor, digits=digits), studio.currency, "", "", "", ""),
                    *(number, row.reverses.code if row.reverses else "", row.code),
                ],
            )
        )
    for order, (at, sign, line) in enumerate(_costs(first, last, studio)):
        taken = say("Taken back: ") if sign < 0 else ""
        rows.append(
            (
                at,
                order,
                [
                    *(_day(at, studio), say("Cost of a firing"), line.get_kind_display(), "", ""),
                    f"{taken}{line.settlement.firing}: {line.words}",
                    *(plain(sign * line.amount_minor, digits=digits), studio.currency),
                    *("", "", "", "", "", "", f"cost-{line.pk}"),
                ],
            )
        )
    rows.sort(key=lambda row: (row[0], row[2][1], row[1]))
    for _, _, cells in rows:
        yield cells


def journal_of(first: date, last: date) -> str:
    """The same as a double-entry journal, with what everybody owed before and what they owe after."""
    studio = Studio.the()
    entries, names = [], {}
    before = _balances(day_begins(first, studio))
    after = _balances(day_begins(last + timedelta(days=1), studio))
    people = {person.pk: person for person in Person.objects.filter(pk__in={*before, *after})}
    for pk, person in people.items():
        names[_receivable(person)] = person.full_name
        if before.get(pk):
            entries.append(
                Entry(
                    first,
                    person.full_name,
                    later("Brought forward"),
                    ((_receivable(person), before[pk]), (OPENING, -before[pk])),
                )
            )
    for row in _charges(first, last, studio):
        net = row.amount_minor - row.tax_minor
        postings = [(_receivable(row.person), row.amount_minor), (EARNED_BY[Charge.Kind(row.kind)], -net)]
        if row.tax_percent is not None:
            postings.append((TAX_OWED, -row.tax_minor))
        entries.append(
            Entry(studio_day(row.at, studio), row.person.full_name, row.words, tuple(postings), row.code)
        )
    for row in _payments(first, last, studio):
        words = row.words or say("Paid, {method}", method=midway(row.get_method_display()))
        postings = (
            (PAID_INTO[Payment.Method(row.method)], row.amount_minor),
            (_receivable(row.person), -row.amount_minor),
        )
        entries.append(Entry(studio_day(row.at, studio), row.person.full_name, words, postings, row.code))
    for at, sign, line in _costs(first, last, studio):
        amount = sign * line.amount_minor
        words = f"{line.get_kind_display()}: {line.words}"
        postings = ((SPENT_ON[CostLine.Kind(line.kind)], amount), (ACCRUED, -amount))
        entries.append(
            Entry(studio_day(at, studio), str(line.settlement.firing), words, postings, f"cost-{line.pk}")
        )
    entries.sort(key=lambda entry: (entry.day, entry.words != "Brought forward", entry.ref))
    closing = [
        (last + timedelta(days=1), _receivable(person), after.get(pk, 0)) for pk, person in people.items()
    ]
    return journal(
        entries,
        title=f"{studio.name}, {span(first, last)}",
        currency=studio.currency,
        digits=studio.currency_digits,
        opened_on=first,
        names=names,
        balances=sorted(closing),
    )


def first_day() -> date | None:
    """The day of the first posting there is."""
    studio = Studio.the()
    firsts = [
        rows.order_by("at").values_list("at", flat=True).first() for rows in (Charge.objects, Payment.objects)
    ]
    return min((studio_day(at, studio) for at in firsts if at), default=None)


def _receivable(person: Person) -> str:
    return f"{RECEIVABLE}:{person.code}"


def _day(at: datetime, studio: Studio) -> str:
    return studio_day(at, studio).isoformat()


def _between(rows: QuerySet, first: date, last: date, studio: Studio, column: str = "at") -> QuerySet:
    begins, ends = day_begins(first, studio), day_begins(last + timedelta(days=1), studio)
    return rows.filter(**{f"{column}__gte": begins, f"{column}__lt": ends})


def _with_lines(rows: QuerySet) -> QuerySet:
    lines = StatementLine.objects.filter(statement__in=standing()).select_related("statement")
    return rows.select_related("person", "reverses").prefetch_related(
        Prefetch("statement_lines", lines, to_attr="standing_lines")
    )


def _charges(first: date, last: date, studio: Studio) -> QuerySet[Charge]:
    return _with_lines(_between(Charge.objects.order_by("at", "pk"), first, last, studio))


def _payments(first: date, last: date, studio: Studio) -> QuerySet[Payment]:
    return _with_lines(_between(Payment.objects.order_by("at", "pk"), first, last, studio))


def _costs(first: date, last: date, studio: Studio) -> Iterator[tuple[datetime, int, CostLine]]:
    """Cost lines on the day they were posted, and, turned round, on the day a reopening took them back."""
    lines = CostLine.objects.select_related("settlement__firing").order_by("settlement", "pk")
    for line in _between(lines, first, last, studio, "settlement__posted_at"):
        yield line.settlement.posted_at, 1, line
    reversed_ones = Settlement.objects.filter(reversed_at__isnull=False)
    back = lines.filter(settlement__in=_between(reversed_ones, first, last, studio, "reversed_at"))
    for line in back:
        yield line.settlement.reversed_at, -1, line


def _balances(at: datetime) -> dict[int, int]:
    """What everybody owed at a moment, by primary key; also those who have paid all of it."""
    owed: dict[int, int] = {}
    for rows, sign in ((Charge.objects, 1), (Payment.objects, -1)):
        for pk, total in (
            rows.filter(at__lt=at).order_by().values_list("person").annotate(Sum("amount_minor"))
        ):
            owed[pk] = owed.get(pk, 0) + sign * total
    return owed
