"""Stopping mails by the standard way: RFC 2369, section 3.2, and RFC 8058, sections 3.1, 3.2 and 8.1.

The RFCs' own example (RFC 8058, 8.1): ``List-Unsubscribe: <https://example.com/unsubscribe/opaquepart>``,
``List-Unsubscribe-Post: List-Unsubscribe=One-Click``, and the body of the POST ``List-Unsubscribe=One-Click``
with either of two content types.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client

from studio.actions import announcements
from studio.models import MailOff, Notice
from studio.notifications.mail_off import off_link, off_token
from studio.queries.mail_off import list_of
from tests import factories
from tests.notifications.story import Clock, deliver_all, queued, ready_piece
from tests.support.smtp import Received, SmtpSink

pytestmark = pytest.mark.django_db

STOPPABLE = {"announcement", "reminder"}
ONE_CLICK = "List-Unsubscribe=One-Click"


@pytest.fixture(autouse=True)
def _studio(settings) -> None:
    settings.SITE_URL = "https://studio.example"
    factories.studio()


def announced(sink: SmtpSink) -> Received:
    clock, ines, course = Clock(), factories.student(), factories.course()
    factories.enrolment(ines, course)
    announcements.announce(
        title="Clay",
        words="New clay has come.",
        by=factories.tutor(),
        courses=[course],
        client_id="a-1",
        now=clock(),
    )
    clock.turn(minutes=16)
    deliver_all(clock=clock)
    [mail] = sink.mails
    return mail


def path_in(mail: Received) -> str:
    header = str(mail.message["List-Unsubscribe"]).strip()  # folded, as RFC 5322, 2.2.3 allows
    found = re.fullmatch(r"<https://studio\.example(/[^<>\s]+)>", header)
    assert found, header
    return found[1]


def test_an_announcement_carries_both_lines_as_the_standard_writes_them(smtp_sink: SmtpSink) -> None:
    mail = announced(smtp_sink)
    # 3.1: one HTTPS URI, and the value is the single key/value pair.
    assert path_in(mail)
    assert mail.message.get_all("List-Unsubscribe-Post") == [ONE_CLICK]
    assert len(mail.message.get_all("List-Unsubscribe")) == 1
    # 3.1: the URI tells the recipient and the list without any other information.
    assert f"https://studio.example{path_in(mail)}" in mail.text
    longest = max(len(line) for line in mail.raw.split(b"\r\n"))
    assert longest <= 998, "RFC 5322, 2.1.1"


@pytest.mark.parametrize("kind_of_body", ["application/x-www-form-urlencoded", "multipart/form-data"])
def test_one_press_of_the_mail_reader_stops_them(kind_of_body: str, smtp_sink: SmtpSink) -> None:
    """3.2: the POST comes without cookies, sign-in or any context, in one of two content types; it is not to
    be answered by a redirect.
    """
    path = path_in(announced(smtp_sink))
    bare = Client(enforce_csrf_checks=True)
    if kind_of_body.startswith("multipart"):
        answer = bare.post(path, {"List-Unsubscribe": "One-Click"})
    else:
        answer = bare.post(path, ONE_CLICK, content_type=kind_of_body)
    assert answer.status_code == 200
    assert MailOff.objects.get().list == "announcements"
    assert not answer.cookies.get("sessionid")
    again = bare.post(path, ONE_CLICK, content_type="application/x-www-form-urlencoded")
    assert again.status_code == 200
    assert MailOff.objects.count() == 1


def test_opening_the_address_changes_nothing(smtp_sink: SmtpSink) -> None:
    """RFC 8058, section 1: software that opens every link must not stop mails by it."""
    path = path_in(announced(smtp_sink))
    for method in ("get", "head"):
        assert getattr(Client(), method)(path).status_code == 200
    assert Client().post(path, {"something": "else"}).status_code == 422
    assert not MailOff.objects.exists()


def test_what_is_stopped_stays_away_and_comes_again_when_asked(smtp_sink: SmtpSink) -> None:
    path = path_in(announced(smtp_sink))
    Client().post(path, {"List-Unsubscribe": "One-Click"})
    clock = Clock()
    clock.turn(days=1)
    again = {"title": "More clay", "words": "It came.", "by": factories.tutor("Nell"), "to_everybody": True}
    announcements.announce(**again, client_id="a-2", now=clock())
    clock.turn(minutes=16)
    deliver_all(clock=clock)
    assert len(smtp_sink.mails) == 1
    assert Notice.objects.get(announcement__title="More clay").dropped_why == "Ines has stopped these mails."
    Client().post(path, {"again": "1"})
    announcements.announce(**again, client_id="a-3", now=clock())
    clock.turn(minutes=16)
    deliver_all(clock=clock)
    assert len(smtp_sink.mails) == 2


def test_over_plain_http_no_one_press_is_promised(smtp_sink: SmtpSink, settings) -> None:
    """3.1: the one-click line needs an HTTPS address."""
    settings.SITE_URL = "http://127.0.0.1:8000"
    mail = announced(smtp_sink)
    assert str(mail.message["List-Unsubscribe"]).strip().startswith("<http://127.0.0.1:8000/off/")
    assert mail.message["List-Unsubscribe-Post"] is None


def test_money_safety_breakage_and_what_is_ready_cannot_be_stopped(smtp_sink: SmtpSink) -> None:
    assert {kind.value for kind in Notice.Kind if list_of(kind)} == STOPPABLE
    clock = Clock()
    queued([ready_piece(factories.student())], clock=clock)
    deliver_all(clock=clock)
    [mail] = smtp_sink.mails
    assert mail.message["List-Unsubscribe"] is None
    assert mail.message["List-Unsubscribe-Post"] is None
    assert "/off/" not in mail.text + mail.html


@pytest.mark.parametrize("change", [lambda t: t[:-1], lambda t: t[::-1], lambda t: t + "x", lambda t: "x"])
def test_a_changed_address_stops_nothing(change: Callable[[str], str]) -> None:
    token = off_token(factories.student(), "announcements")
    answer = Client().post(f"/off/{change(token)}/", {"List-Unsubscribe": "One-Click"})
    assert answer.status_code == 404
    assert not MailOff.objects.exists()


def test_an_address_for_a_kind_that_cannot_be_stopped_is_none(smtp_sink: SmtpSink) -> None:
    ines = factories.student()
    assert (
        Client().post(off_link(ines, "statement").removeprefix("https://studio.example")).status_code == 404
    )
