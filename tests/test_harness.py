"""The tests' own ground holds: it catches what it promises to catch."""

import smtplib
import socket
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.db import connection
from django.template import engines
from django.templatetags.static import static

from tests.support.network import OutsideConnection
from tests.support.smtp import SmtpSink
from tests.support.templates import UndefinedVariable

#: An address set aside for documentation, RFC 5737: nobody answers there.
OUTSIDE = ("192.0.2.1", 25)


def test_connections_to_other_machines_are_refused() -> None:
    with pytest.raises(OutsideConnection):
        socket.create_connection(OUTSIDE, timeout=1)


def test_a_name_the_view_did_not_give_fails_the_template() -> None:
    template = engines["django"].from_string("{{ piece.mark }}")
    with pytest.raises(UndefinedVariable, match=r"piece\.mark"):
        template.render({})


def test_a_name_missing_inside_a_partial_fails_too() -> None:
    source = "{% load partials %}{% partialdef row inline %}{{ missing }}{% endpartialdef %}"
    with pytest.raises(UndefinedVariable, match="missing"):
        engines["django"].from_string(source).render({})


def test_a_name_may_be_asked_about() -> None:
    template = engines["django"].from_string("{% if piece %}a{% else %}b{% endif %}")
    assert template.render({}) == "b"


def test_a_static_file_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="no-such"):
        static("css/no-such.css")
    assert static("vendor/htmx/htmx.min.js").endswith("htmx.min.js")


@pytest.mark.django_db
def test_the_database_is_a_file_or_a_server_that_threads_share() -> None:
    name = connection.settings_dict["NAME"]
    if connection.vendor == "sqlite":
        assert Path(name).exists()
        with connection.cursor() as cursor:
            assert cursor.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    else:
        assert name.startswith("test_")


def test_nothing_is_kept_in_the_studio_s_own_folder() -> None:
    assert "wareboard-tests-" in str(django_settings.VAR)
    assert not django_settings.DEMO
    assert not django_settings.DEBUG


def letter(to: str) -> EmailMessage:
    message = EmailMessage()
    message["From"], message["To"], message["Subject"] = "studio@quillmere.example", to, "Łódź, two mugs"
    message.set_content("Ready to collect.")
    message.add_alternative("<p>Ready to collect.</p>", subtype="html")
    return message


def test_the_mail_sink_keeps_what_was_sent(smtp_sink: SmtpSink, settings: Any) -> None:
    with smtplib.SMTP(settings.EMAIL_HOST, settings.EMAIL_PORT, timeout=5) as client:
        client.send_message(letter("ada@home.example"))
    [mail] = smtp_sink.wait_for(1)
    assert mail.recipients == ("ada@home.example",)
    assert mail.subject == "Łódź, two mugs"
    assert mail.text.strip() == "Ready to collect."
    assert "<p>" in mail.html


def test_the_mail_sink_answers_as_told(smtp_sink: SmtpSink) -> None:
    smtp_sink.refuse_recipient["gone@home.example"] = "550 No such person"
    with smtplib.SMTP(smtp_sink.host, smtp_sink.port, timeout=5) as client:
        with pytest.raises(smtplib.SMTPRecipientsRefused) as refused:
            client.send_message(letter("gone@home.example"))
        assert refused.value.recipients["gone@home.example"][0] == 550
    smtp_sink.answers.append("450 Try again later")
    with smtplib.SMTP(smtp_sink.host, smtp_sink.port, timeout=5) as client:
        with pytest.raises(smtplib.SMTPDataError) as later:
            client.send_message(letter("ada@home.example"))
        assert later.value.smtp_code == 450
    smtp_sink.drop_connection = True
    with (
        pytest.raises((smtplib.SMTPServerDisconnected, ConnectionError)),
        smtplib.SMTP(smtp_sink.host, smtp_sink.port, timeout=5) as client,
    ):
        client.send_message(letter("ada@home.example"))
    assert len(smtp_sink.mails) == 1
