"""Statements and the credit notes that cancel them: numbered without gaps, made once, never changed."""

from __future__ import annotations

import hashlib
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Max

from studio.domain.problems import Problem, Refused
from studio.domain.say import later, say
from studio.imaging.statement_pdf import Sheet, statement_pdf
from studio.models import Charge, Notice, Person, Role, Statement, StatementFile, StatementLine, Studio
from studio.queries import notices as notice_queries
from studio.queries import statements as queries
from studio.queries.statements_sheet import credit_note_sheet, statement_sheet, written

from .common import clean_client_id, clean_text, local_day, moment, must_be_tutor, refuse

_WHY_LONGEST = 200


@transaction.atomic
def issue_statement(
    *,
    person: Person,
    to_on: date,
    by: Person,
    client_id: str,
    from_on: date | None = None,
    due_on: date | None = None,
    now: datetime | None = None,
) -> Statement:
    """Give somebody a statement over some days; without ``from_on``, from where the last one ended.

    In order, under one lock that all statements take: the lines are chosen, the next number is given, the
    page is made, and number, lines and page are saved together or not at all. A repeated ``client_id`` gives
    the first one back. Raises `Refused` when the days make no sense or there is nothing to state.
    """
    must_be_tutor(by)
    now = moment(now)
    client_id = clean_client_id(client_id)
    studio = _hold_numbers()
    if done := _issued_before(client_id, person=person):
        return done
    today = local_day(now)
    from_on = from_on or queries.next_from(person, today=today)
    _check_days(person, from_on, to_on, today)
    draft = queries.draft_of(person, from_on=from_on, to_on=to_on, now=now)
    if draft.is_empty:
        refuse(
            "nothing-to-state",
            say(
                "Nothing was posted for {full_name} in that time, and nothing is owed.",
                full_name=person.full_name,
            ),
        )
    if due_on is None and draft.closing_minor > 0:
        due_on = today + timedelta(days=studio.statement_due_days)
    elif draft.closing_minor <= 0:
        due_on = None
    if due_on and due_on < today:
        refuse(
            "due-passed",
            say("{written} has passed. Choose a day from today on to pay by.", written=written(due_on)),
        )
    number = _next_number()
    statement = _keep(
        statement_sheet(draft, number=number, issued_at=now, due_on=due_on, studio=studio),
        number=number,
        kind=Statement.Kind.STATEMENT,
        person=person,
        from_on=from_on,
        to_on=to_on,
        until=draft.until,
        opening_minor=draft.opening_minor,
        charged_minor=draft.charged_minor,
        paid_minor=draft.paid_minor,
        closing_minor=draft.closing_minor,
        due_on=due_on,
        currency=studio.currency,
        issued_at=now,
        issued_by=by,
        client_id=client_id,
    )
    StatementLine.objects.bulk_create(
        [
            StatementLine(statement=statement, **{"charge" if isinstance(row, Charge) else "payment": row})
            for row in draft.rows
        ]
    )
    return statement


def issue_for_all(
    *, to_on: date, by: Person, client_id: str, mail: bool = False, now: datetime | None = None
) -> tuple[list[Statement], list[Problem]]:
    """A statement for everybody who has something on the account that none has yet, each by itself.

    Returns those issued, and why others were not. With ``mail`` each is put in the outbox.
    """
    must_be_tutor(by)
    now = moment(now)
    client_id = clean_client_id(client_id)
    if to_on > local_day(now):
        refuse("days-ahead", say("A statement can't be over days to come. Let it end today or earlier."))
    issued, problems = [], []
    for person in queries.with_news(to_on=to_on, now=now):
        try:
            statement = issue_statement(
                person=person, to_on=to_on, by=by, client_id=f"{client_id[:50]}:{person.code}", now=now
            )
            issued.append(statement)
            if mail:
                mail_statement(statement=statement, by=by, now=now)
        except Refused as refused:
            problems += [
                Problem(each.code, f"{person.full_name}: {each.message}") for each in refused.problems
            ]
    return issued, problems


@transaction.atomic
def cancel_statement(
    *, statement: Statement, why: str, by: Person, client_id: str, now: datetime | None = None
) -> Statement:
    """Cancel a statement by a credit note with the next number; returns the note.

    The charges stand: they are lines of the next statement. A mail with the cancelled one that has not gone
    is dropped. Cancelled already by the same page gives the same note back.
    """
    must_be_tutor(by)
    now = moment(now)
    client_id = clean_client_id(client_id)
    why = clean_text(why, label=later("reason"), longest=_WHY_LONGEST, required=True)
    studio = _hold_numbers()
    statement = Statement.objects.select_related("person").get(pk=statement.pk)
    if statement.kind != Statement.Kind.STATEMENT:
        refuse("is-credit-note", say("This is a credit note. Issue a new statement instead."))
    if note := Statement.objects.filter(cancels=statement).first():
        if note.client_id == client_id:
            return note
        refuse(
            "cancelled-already",
            say(
                "{statement} is cancelled already, by credit note {number}.",
                statement=statement,
                number=note.number,
            ),
        )
    number = _next_number()
    sheet = credit_note_sheet(
        person=statement.person,
        rows=queries.rows_of(statement),
        cancelled=statement.number,
        cancelled_on=local_day(statement.issued_at),
        why=why,
        number=number,
        issued_at=now,
        studio=studio,
    )
    note = _keep(
        sheet,
        number=number,
        kind=Statement.Kind.CREDIT_NOTE,
        person=statement.person,
        from_on=statement.from_on,
        to_on=statement.to_on,
        until=statement.until,
        opening_minor=0,
        charged_minor=-statement.charged_minor,
        paid_minor=0,
        closing_minor=-statement.charged_minor,
        currency=statement.currency,
        cancels=statement,
        why=why,
        issued_at=now,
        issued_by=by,
        client_id=client_id,
    )
    Notice.objects.filter(statement=statement, state__in=notice_queries.OPEN).update(
        state=Notice.State.DROPPED, dropped_why=say("{statement} is cancelled.", statement=statement)
    )
    return note


@transaction.atomic
def mail_statement(*, statement: Statement, by: Person, now: datetime | None = None) -> Notice:
    """Put a statement or credit note in the outbox, to the person or their guardian; it waits to be let go.

    One that waits or has gone is given back as it is; one that was dropped waits again.
    """
    must_be_tutor(by)
    now = moment(now)
    statement = Statement.objects.select_related("person__guardian").get(pk=statement.pk)
    if Statement.objects.filter(cancels=statement).exists():
        refuse(
            "cancelled-already", say("{statement} is cancelled. Send its credit note.", statement=statement)
        )
    day = local_day(now)
    to = statement.person.answers_for(day)
    if to.role == Role.HELPER:
        refuse("helper-no-money", say("A helper is told of no money by mail. Print it and hand it over."))
    states = Notice.State
    state = states.WAITING if notice_queries.address_of(to, day) else states.NO_ADDRESS
    fresh = {"recipient": to, "state": state, "made_at": now, "not_before": now, "dropped_why": ""}
    notice, made = Notice.objects.get_or_create(
        key=f"statement:{statement.pk}",
        defaults={"kind": Notice.Kind.STATEMENT, "statement": statement, **fresh},
    )
    if not made and Notice.objects.filter(pk=notice.pk, state=states.DROPPED).update(**fresh):
        notice.refresh_from_db()
    return notice


def _hold_numbers() -> Studio:
    """One statement at a time: a number is saved with its page, or not taken, before the next is given."""
    Studio.the()
    return Studio.objects.select_for_update(no_key=True).get(pk=1)


def _next_number() -> int:
    """One more than the highest. Rows are never deleted, so none is left out and none comes twice."""
    return (Statement.objects.aggregate(last=Max("number"))["last"] or 0) + 1


def _issued_before(client_id: str, *, person: Person) -> Statement | None:
    done = Statement.objects.filter(client_id=client_id).first()
    if done and (done.person_id != person.pk or done.kind != Statement.Kind.STATEMENT):
        refuse(
            "page-used",
            say("This page has been sent before, for something else. Load it again, then do this."),
        )
    return done


def _check_days(person: Person, from_on: date, to_on: date, today: date) -> None:
    if to_on > today:
        refuse("days-ahead", say("A statement can't be over days to come. Let it end today or earlier."))
    if from_on > to_on:
        refuse(
            "days-turned",
            say(
                "The last day, {written}, is before the first, {written_2}.",
                written=written(to_on),
                written_2=written(from_on),
            ),
        )
    last = queries.last_standing(person)
    if last and to_on < last.to_on:
        refuse(
            "days-stated",
            say(
                "{last} reaches to {written} already. Let the new one end on that day or later, or "
                "cancel {number} first.",
                last=last,
                written=written(last.to_on),
                number=last.number,
            ),
        )


def _keep(sheet: Sheet, **values: object) -> Statement:
    """Make the page and save both: the row with the hash of the very bytes beside it."""
    data = statement_pdf(sheet)
    statement = Statement.objects.create(sha256=hashlib.sha256(data).hexdigest(), **values)
    StatementFile.objects.create(statement=statement, data=data)
    return statement
