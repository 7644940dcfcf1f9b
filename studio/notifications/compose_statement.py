"""The mail that brings a statement or credit note: a few words, and the very bytes that were issued."""

from __future__ import annotations

from datetime import date

from studio.models import Notice, Role, Studio
from studio.queries.statements_sheet import span, written

from . import words

#: Name of the file, its bytes, what it is.
Attachment = tuple[str, bytes, str]


def statement_context(notice: Notice, studio: Studio, day: date) -> dict[str, object] | str:
    """What the templates are given, with ``attachments``; or why there is nothing to send."""
    statement = notice.statement
    if statement is None:
        return "There is no statement any more."
    if statement.is_cancelled:
        return f"{statement} is cancelled."
    if statement.person.answers_for(day).pk != notice.recipient_id:
        return "Somebody else answers for this account by now. Mail it to them from the statement's page."
    if notice.recipient.role == Role.HELPER:
        return "A helper is told of no money by mail. Hand it over in person."
    note = statement.cancels_id is not None
    first = words.one_line(notice.recipient.first_name)
    of = statement.person
    return {
        "heading": f"A credit note, {first}." if note else f"Your statement, {first}.",
        "title": str(statement),
        "cancels": str(statement.cancels) if note else "",
        "whose": "" if of.pk == notice.recipient_id else words.whose(words.one_line(of.first_name)),
        "days": span(statement.from_on, statement.to_on),
        "to_pay": studio.money_words(statement.closing_minor) if statement.closing_minor > 0 else "",
        "in_hand": studio.money_words(-statement.closing_minor) if statement.closing_minor < 0 else "",
        "due": written(statement.due_on) if statement.due_on else "",
        "pay_lines": words.lines(studio.statement_words) if statement.closing_minor > 0 else [],
        "attachments": (
            (f"{statement.kind}-{statement.number}.pdf", bytes(statement.file.data), "application/pdf"),
        ),
    }
