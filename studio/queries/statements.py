"""Statements: what stands on one, which still count, and what of them is overdue. Whole minor units.

Every charge and payment is a line of its own on one standing statement at most. What was posted late, for a
day that an earlier statement covers, is a line of the next one.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Min, Q, QuerySet, Sum

from studio.models import Charge, Payment, Person, Statement, StatementLine, Studio

from .notices import day_begins, studio_day

Posting = Charge | Payment


@dataclass(frozen=True, slots=True)
class Draft:
    """A statement as it would be issued. ``rows`` are its lines, oldest first."""

    person: Person
    from_on: date
    to_on: date
    until: datetime
    opening_minor: int
    rows: tuple[Posting, ...]

    @property
    def charged_minor(self) -> int:
        return sum(row.amount_minor for row in self.rows if isinstance(row, Charge))

    @property
    def paid_minor(self) -> int:
        return sum(row.amount_minor for row in self.rows if isinstance(row, Payment))

    @property
    def closing_minor(self) -> int:
        return self.opening_minor + self.charged_minor - self.paid_minor

    @property
    def is_empty(self) -> bool:
        return not self.rows and not self.opening_minor


def standing() -> QuerySet[Statement]:
    """Statements that no credit note cancels."""
    return Statement.objects.filter(kind=Statement.Kind.STATEMENT, cancelled_by__isnull=True)


def first_day_stated(person: Person) -> date | None:
    """The first day of this person's first statement, cancelled or not."""
    ever = Statement.objects.filter(person=person, kind=Statement.Kind.STATEMENT)
    return ever.aggregate(first=Min("from_on"))["first"]


def last_standing(person: Person) -> Statement | None:
    return standing().filter(person=person).order_by("-until", "-number").first()


def next_from(person: Person, *, today: date) -> date:
    """The day a person's next statement begins with: where the last one ended, or what it is about began."""
    studio = Studio.the()
    if last := last_standing(person):
        next_day = last.to_on + timedelta(days=1)
        # One that was issued on its last day leaves the rest of that day to the next.
        return next_day if last.until == day_begins(next_day, studio) else last.to_on
    if first := first_day_stated(person):
        return first
    began = [
        rows.filter(person=person).aggregate(first=Min("at"))["first"]
        for rows in (Charge.objects, Payment.objects)
    ]
    return min((studio_day(at, studio) for at in began if at), default=today)


def draft_of(person: Person, *, from_on: date, to_on: date, now: datetime) -> Draft:
    """What a statement over these days says; up to this moment when its last day is not over.

    Its lines are what was posted from ``from_on`` on, and what earlier statements should have had as lines
    and have not: it was posted late, or they are cancelled. All before that is brought forward.
    """
    studio = Studio.the()
    start = day_begins(min(filter(None, (first_day_stated(person), from_on))), studio)
    # Half open, and what is posted at this very moment counts.
    until = min(day_begins(to_on + timedelta(days=1), studio), now + timedelta(microseconds=1))
    charges = Charge.objects.filter(person=person, at__lt=until)
    payments = Payment.objects.filter(person=person, at__lt=until)
    balance = _sum(charges) - _sum(payments)
    stated = StatementLine.objects.filter(statement__in=standing().filter(person=person))
    charges = charges.exclude(pk__in=stated.filter(charge__isnull=False).values("charge"))
    payments = payments.exclude(pk__in=stated.filter(payment__isnull=False).values("payment"))
    charges = charges.select_related("share__placement__piece__maker", "share__settlement__firing")
    rows = sorted(
        [*charges.filter(at__gte=start), *payments.filter(at__gte=start)],
        key=lambda row: (row.at, isinstance(row, Payment), row.pk),
    )
    lines = sum(row.amount_minor if isinstance(row, Charge) else -row.amount_minor for row in rows)
    return Draft(person, from_on, to_on, until, balance - lines, tuple(rows))


def with_news(*, to_on: date, now: datetime) -> list[Person]:
    """Everybody with a charge or payment up to that day that no standing statement has as a line."""
    posted = Person.objects.filter(Q(charges__isnull=False) | Q(payments__isnull=False)).distinct()
    today = studio_day(now, Studio.the())
    found = []
    for person in posted.order_by("first_name", "last_name", "pk"):
        from_on = next_from(person, today=today)
        if from_on <= to_on and draft_of(person, from_on=from_on, to_on=to_on, now=now).rows:
            found.append(person)
    return found


def rows_of(statement: Statement) -> list[Posting]:
    """The charges and payments that are its lines, oldest first. Two queries."""
    charges = Charge.objects.filter(statement_lines__statement=statement)
    payments = Payment.objects.filter(statement_lines__statement=statement)
    return sorted(
        [*charges.select_related("share__placement__piece__maker", "share__settlement__firing"), *payments],
        key=lambda row: (row.at, isinstance(row, Payment), row.pk),
    )


def seen_by(person: Person, *, day: date) -> QuerySet[Statement]:
    """The statements a person may read: the tutor all, everybody else those on their own account.

    A statement on the account of somebody under 18 is their guardian's to read.
    """
    statements = Statement.objects.select_related("person__guardian", "cancelled_by", "cancels")
    if person.is_tutor:
        return statements
    wards = [young.pk for young in person.young_people.all() if young.is_young_on(day)]
    own = [] if person.is_young_on(day) and person.guardian_id else [person.pk]
    return statements.filter(person__in=[*own, *wards])


@dataclass(frozen=True, slots=True)
class Overdue:
    """What of a person's statements should have been paid. ``statement`` is the latest that is past due."""

    person: Person
    statement: Statement
    amount_minor: int
    days: int


def overdue(*, today: date) -> list[Overdue]:
    """Who should have paid by now, the largest sum first. Three queries.

    Of the latest statement past its day: what it asked for, less all that lowered the account since.
    """
    latest: dict[int, Statement] = {}
    past = standing().filter(due_on__lt=today, closing_minor__gt=0).select_related("person")
    for statement in past.order_by("until", "number"):
        latest[statement.person_id] = statement
    later_lines = Q()
    for statement in latest.values():
        later_lines |= Q(person=statement.person_id, at__gte=statement.until)
    if not latest:
        return []
    since = dict.fromkeys(latest, 0)
    for rows, sign in (
        (Payment.objects.filter(later_lines), 1),
        (Charge.objects.filter(later_lines, amount_minor__lt=0), -1),
    ):
        for pk, total in rows.order_by().values_list("person").annotate(Sum("amount_minor")):
            since[pk] += sign * total
    found = [
        Overdue(
            person=each.person,
            statement=each,
            amount_minor=each.closing_minor - since[pk],
            days=today.toordinal() - each.due_on.toordinal(),
        )
        for pk, each in latest.items()
        if each.closing_minor > since[pk]
    ]
    return sorted(found, key=lambda row: (-row.amount_minor, row.person.full_name, row.person.pk))


def _sum(rows: QuerySet) -> int:
    return rows.order_by().aggregate(total=Sum("amount_minor"))["total"] or 0
