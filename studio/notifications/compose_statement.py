"""The mail that brings a statement or credit note: a few words, and the very bytes that were issued."""

from __future__ import annotations

from datetime import datetime

from studio.domain.say import say
from studio.models import Notice, Role, Studio
from studio.queries import notices as queries
from studio.queries.statements_sheet import span, written

from . import words
from .made import Made, Nothing


def statement_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """The mail with the statement's own PDF, or why there is nothing to send."""
    day = queries.studio_day(now, studio)
    statement = notice.statement
    if statement is None:
        return Nothing(say("There is no statement any more."))
    if statement.is_cancelled:
        return Nothing(say("{statement} is cancelled.", statement=statement))
    if statement.person.answers_for(day).pk != notice.recipient_id:
        return Nothing(
            say("Somebody else answers for this account by now. Mail it to them from the statement's page.")
        )
    if notice.recipient.role == Role.HELPER:
        return Nothing(say("A helper is told of no money by mail. Hand it over in person."))
    note = statement.cancels_id is not None
    of = statement.person
    context = {
        "title": str(statement),
        "cancels": str(statement.cancels) if note else "",
        "whose": "" if of.pk == notice.recipient_id else words.whose(words.one_line(of.first_name)),
        "days": span(statement.from_on, statement.to_on),
        "to_pay": studio.money_words(statement.closing_minor) if statement.closing_minor > 0 else "",
        "in_hand": studio.money_words(-statement.closing_minor) if statement.closing_minor < 0 else "",
        "due": written(statement.due_on) if statement.due_on else "",
        "pay_lines": words.lines(studio.statement_words) if statement.closing_minor > 0 else [],
    }
    return Made(
        why=say(
            "You get this because you have an account at {one_line}.", one_line=words.one_line(studio.name)
        ),
        values={
            "title": str(statement),
            "what_it_is": say("A credit note") if note else say("Your statement"),
        },
        blocks={
            "attached": context,
            "to_pay": None if note else context,
            "how_to_pay": context if context["pay_lines"] else None,
        },
        attachments=(
            (f"{statement.kind}-{statement.number}.pdf", bytes(statement.file.data), "application/pdf"),
        ),
    )
