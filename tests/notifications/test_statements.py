"""A statement by mail: the very bytes that were issued, to the one who answers, and only while it stands."""

from __future__ import annotations

import pytest

from studio.actions import money, notices_review, statements
from studio.models import Person, Statement
from studio.notifications import deliver
from studio.notifications.compose import Nothing, compose
from tests import factories as make
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db
NOW = make.NOW


def statement_of(person: Person, amount_minor: int = 1450) -> Statement:
    make.studio(statement_words="Or in the tin on a class day.")
    maud = make.tutor()
    given = {"by": maud, "now": NOW, "person": person}
    money.add_charge(
        amount_minor=amount_minor, words="Clay", kind="clay", client_id=make.client_id(), **given
    )
    return statements.issue_statement(to_on=NOW.date(), client_id=make.client_id(), **given)


def send(statement: Statement) -> None:
    maud = make.tutor()
    notice = statements.mail_statement(statement=statement, by=maud, now=NOW)
    notices_review.approve(notice=notice, by=maud, now=NOW)
    deliver.deliver_due(worker="test", clock=lambda: NOW)


def test_the_bytes_that_arrive_are_the_bytes_that_were_issued(smtp_sink: SmtpSink) -> None:
    ines = make.student()
    statement = statement_of(ines)
    send(statement)
    [mail] = smtp_sink.mails
    assert mail.recipients == (ines.email,)
    assert mail.subject == "Statement 1"
    [paper] = mail.message.iter_attachments()
    assert (paper.get_filename(), paper.get_content_type()) == ("statement-1.pdf", "application/pdf")
    assert paper.get_content() == bytes(statement.file.data)
    for words in (mail.text, mail.html):
        assert "£14.50" in words
        assert "by 16 December 2025" in words
        assert "Or in the tin on a class day." in words


def test_the_statement_of_a_young_persons_guardian_goes_to_the_guardian_alone(smtp_sink: SmtpSink) -> None:
    ruth = make.guardian()
    sam = make.young_person(guardian=ruth, email="sam@quillmere.example")
    statement = statement_of(ruth)
    send(statement)
    assert [mail.recipients for mail in smtp_sink.mails] == [(ruth.email,)]
    # Sam's own account from before he had a guardian is Ruth's business too.
    Person.objects.filter(pk=sam.pk).update(guardian=None, born_on=None)
    sam.refresh_from_db()
    own = statement_of(sam)
    Person.objects.filter(pk=sam.pk).update(guardian=ruth, born_on=NOW.date().replace(year=NOW.year - 16))
    send(own)
    assert [mail.recipients for mail in smtp_sink.mails] == [(ruth.email,)] * 2
    assert "Sam's account" in smtp_sink.mails[1].text
    assert "Sam" not in smtp_sink.mails[1].subject


def test_what_is_cancelled_or_somebody_elses_business_by_now_is_not_sent() -> None:
    maud, tobias = make.tutor(), make.student("Tobias", last_name="Marl")
    statement = statement_of(tobias)
    notice = statements.mail_statement(statement=statement, by=maud, now=NOW)
    Person.objects.filter(pk=tobias.pk).update(guardian=make.guardian())
    notice.refresh_from_db()
    made = compose(notice, now=NOW)
    assert isinstance(made, Nothing), "a mail past the guardian"
    Person.objects.filter(pk=tobias.pk).update(guardian=None)
    statements.cancel_statement(
        statement=statement, why="Wrong days", by=maud, client_id=make.client_id(), now=NOW
    )
    notice = type(notice).objects.get(pk=notice.pk)
    assert compose(notice, now=NOW) == Nothing("Statement 1 is cancelled.")


def test_a_credit_note_says_what_it_cancels(smtp_sink: SmtpSink) -> None:
    statement = statement_of(make.student())
    note = statements.cancel_statement(
        statement=statement, why="Wrong days", by=make.tutor(), client_id=make.client_id(), now=NOW
    )
    send(note)
    [mail] = smtp_sink.mails
    assert mail.subject == "Credit note 2"
    assert "It cancels Statement 1." in mail.text
    assert "To pay" not in mail.text
