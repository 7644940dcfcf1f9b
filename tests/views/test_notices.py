"""The tutor's pages of notices: read, let go, hold, drop, add a line; and nobody else's."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.actions import notices, notices_review
from studio.domain.stages import Stage
from studio.models import Notice, Piece
from studio.notifications import deliver
from studio.templatetags.studio_format import when
from tests import factories
from tests.notifications.story import State, ready_piece
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client):
    factories.studio(notice_grace_minutes=0)
    maud = factories.tutor()
    client.force_login(maud)
    return maud


def waiting(first_name: str = "Ines", pieces: int = 2) -> Notice:
    student = factories.student(first_name)
    [notice] = notices.queue_ready(pieces=[ready_piece(student) for _ in range(pieces)])
    return notice


def act(client: Client, notice: Notice, what: str, **more: str):
    return client.post(reverse("notice-act", args=[notice.code]), {"act": what, **more}, follow=True)


def test_the_list_says_what_waits_and_shows_every_mark(client: Client, maud) -> None:
    notice = waiting()
    page = client.get(reverse("notices")).content.decode()
    assert "One notice waits for your word." in page
    for piece in notice.pieces.all():
        assert piece.mark in page
    assert "Send it" in page


def test_an_empty_outbox_says_what_will_come(client: Client, maud) -> None:
    assert "No notice is waiting." in client.get(reverse("notices")).content.decode()


def test_the_preview_is_the_mail_that_goes(client: Client, maud, smtp_sink: SmtpSink) -> None:
    notice = waiting()
    html = client.get(reverse("notice-mail", args=[notice.code])).content.decode()
    page = client.get(reverse("notice", args=[notice.code])).content.decode()
    assert notice.recipient.email in page
    act(client, notice, "approve", seen=re.search(r'name="seen" value="([^"]+)"', page)[1])
    assert deliver.deliver_due(worker="mail:1") == {"sent": 1}
    [mail] = smtp_sink.mails
    assert mail.html.split() == html.replace('<base target="_top">', "").split()
    # And afterwards the page shows what went, whatever is true by then.
    Piece.objects.update(stage=Stage.COLLECTED)
    assert (
        mail.html.split()
        == client.get(reverse("notice-mail", args=[notice.code]))
        .content.decode()
        .replace('<base target="_top">', "")
        .split()
    )
    assert "Sent " in client.get(reverse("notice", args=[notice.code])).content.decode()


def test_the_mail_is_shown_under_a_policy_for_that_document_alone(client: Client, maud) -> None:
    answer = client.get(reverse("notice-mail", args=[waiting().code]))
    policy = answer.headers["Content-Security-Policy"]
    assert "'unsafe-inline'" not in policy
    assert "'unsafe-hashes'" in policy
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'self'" in policy
    assert answer.headers["X-Frame-Options"] == "SAMEORIGIN"
    assert client.get(reverse("notices")).headers["X-Frame-Options"] == "DENY"


def test_let_all_go_as_they_were_read(client: Client, maud) -> None:
    stays, changes = waiting("Ines"), waiting("Tobias")
    page = client.get(reverse("notices")).content.decode()
    seen = re.findall(r'name="seen" value="([^"]+)"', page)
    assert len(seen) == 2
    notices.queue_ready(pieces=[ready_piece(changes.recipient)])
    page = client.post(reverse("notices-approve"), {"seen": seen}, follow=True).content.decode()
    assert "One notice is on the way." in page
    assert "Tobias Arkwell: This notice has changed since you opened it." in page
    stays.refresh_from_db()
    changes.refresh_from_db()
    assert (stays.state, changes.state) == (State.QUEUED, State.WAITING)


def test_a_changed_notice_is_read_again(client: Client, maud) -> None:
    notice = waiting()
    page = client.get(reverse("notice", args=[notice.code])).content.decode()
    seen = re.search(r'name="seen" value="([^"]+)"', page)[1]
    notices.queue_ready(pieces=[ready_piece(notice.recipient)])
    assert "has changed since you opened it" in act(client, notice, "approve", seen=seen).content.decode()
    notice.refresh_from_db()
    assert notice.state == State.WAITING


def test_hold_and_let_go_after_all(client: Client, maud) -> None:
    notice = waiting()
    act(client, notice, "hold")
    notice.refresh_from_db()
    assert notice.state == State.HELD
    assert "by you, until you say otherwise" in client.get(reverse("notices")).content.decode()
    act(client, notice, "approve")
    notice.refresh_from_db()
    assert notice.state == State.QUEUED
    assert notice.approved_by == maud


def test_a_line_of_her_own_stands_in_the_mail(client: Client, maud) -> None:
    notice = waiting()
    client.post(reverse("notice-words", args=[notice.code]), {"words": "The rims are lovely.\r\nM."})
    html = client.get(reverse("notice-mail", args=[notice.code])).content.decode()
    assert "The rims are lovely.<br>M." in html
    too_long = client.post(reverse("notice-words", args=[notice.code]), {"words": "x" * 601})
    assert too_long.status_code == 200
    assert "601" in too_long.content.decode()
    assert "x" * 601 in too_long.content.decode()


def test_dropping_needs_a_reason(client: Client, maud) -> None:
    notice = waiting()
    page = client.post(reverse("notice-drop", args=[notice.code]), {"why": " "})
    assert "Write in a few words" in page.content.decode() or "missing" in page.content.decode()
    client.post(reverse("notice-drop", args=[notice.code]), {"why": "Told her at the wheel."})
    notice.refresh_from_db()
    assert notice.state == State.DROPPED
    page = client.get(reverse("notices")).content.decode()
    assert "Told her at the wheel." in page


def test_what_needs_her_is_on_top_and_can_be_settled(client: Client, maud) -> None:
    doubtful, refused, unreachable = waiting("Ines"), waiting("Tobias"), waiting("Wren")
    Notice.objects.filter(pk=doubtful.pk).update(
        state=State.MAY_HAVE_GONE, lease_until=timezone.now(), last_error="The mail server did not answer."
    )
    Notice.objects.filter(pk=refused.pk).update(state=State.REFUSED, last_error="550 No such person")
    Notice.objects.filter(pk=unreachable.pk).update(state=State.NO_ADDRESS)
    page = client.get(reverse("notices")).content.decode()
    assert "550 No such person" in page
    assert "did not answer" in page
    act(client, doubtful, "went")
    act(client, refused, "again")
    act(client, unreachable, "told")
    states = [Notice.objects.get(pk=each.pk).state for each in (doubtful, refused, unreachable)]
    assert states == [State.SENT, State.QUEUED, State.DROPPED]
    for each in (doubtful, refused, unreachable):
        assert client.get(reverse("notice", args=[each.code])).status_code == 200


@pytest.mark.parametrize("state", State.values)
def test_every_state_has_its_page(state: str, client: Client, maud) -> None:
    notice = waiting()
    Notice.objects.filter(pk=notice.pk).update(
        state=state, sent_at=timezone.now(), next_try_at=timezone.now() + timedelta(hours=1)
    )
    assert client.get(reverse("notice", args=[notice.code])).status_code == 200
    assert notice.recipient.full_name in client.get(reverse("notices")).content.decode()


def test_a_correction_is_offered_and_written(client: Client, maud, smtp_sink: SmtpSink) -> None:
    notice = waiting(pieces=1)
    act(client, notice, "approve")
    deliver.deliver_due(worker="mail:1")
    piece = notice.pieces.get()
    Piece.objects.update(stage=Stage.FINISHING)
    page = client.get(reverse("notice", args=[notice.code])).content.decode()
    assert f"Write that {piece.mark} is not ready after all" in page
    answer = client.post(reverse("notice-correct", args=[notice.code]), {"piece": piece.code}, follow=True)
    assert "The correction is written" in answer.content.decode()
    assert Notice.objects.get(kind=Notice.Kind.CORRECTION).state == State.WAITING


def test_sign_in_mails_are_nobodys_to_read(client: Client, maud) -> None:
    ines = factories.student()
    notice = Notice.objects.create(
        key="sign-in:1",
        kind=Notice.Kind.SIGN_IN,
        recipient=ines,
        state=State.SENT,
        made_at=timezone.now(),
        not_before=timezone.now(),
        sent_at=timezone.now(),
    )
    assert client.get(reverse("notice", args=[notice.code])).status_code == 404
    assert ines.full_name not in client.get(reverse("notices")).content.decode()


@pytest.mark.parametrize("who", ["helper", "student", "guardian", "visitor"])
def test_notices_are_the_tutors_alone(who: str, client: Client) -> None:
    factories.studio()
    notice = waiting()
    if who != "visitor":
        client.force_login(getattr(factories, who)())
    got = [("notices", ()), ("notice", (notice.code,)), ("notice-mail", (notice.code,))]
    posted = [
        ("notices-approve", ()),
        *((name, (notice.code,)) for name in ("notice-act", "notice-words", "notice-drop", "notice-correct")),
    ]
    expected = 302 if who == "visitor" else 404
    for name, args in got:
        assert client.get(reverse(name, args=args)).status_code == expected
    for name, args in posted:
        data = {"act": "approve", "why": "x", "words": "x", "seen": f"{notice.code}:x"}
        assert client.post(reverse(name, args=args), data).status_code == expected
    notice.refresh_from_db()
    assert (notice.state, notice.added_words) == (State.WAITING, "")


def test_reading_changes_nothing(client: Client, maud) -> None:
    notice = waiting()
    for name in ("notice-act", "notice-words", "notice-drop", "notice-correct"):
        assert client.get(reverse(name, args=[notice.code])).status_code == 405
    assert client.get(reverse("notices-approve")).status_code == 405


@pytest.mark.parametrize("count", [1, 30])
def test_the_list_asks_as_few_questions_for_thirty_as_for_one(
    count: int, client: Client, maud, django_assert_max_num_queries
) -> None:
    for number in range(count):
        notice = waiting(f"Ines{number}", pieces=1)
        Notice.objects.filter(pk=notice.pk).update(
            state=[State.WAITING, State.HELD, State.REFUSED, State.SENT][number % 4]
            if count > 1
            else "waiting",
            sent_at=timezone.now(),
        )
    with django_assert_max_num_queries(14):
        assert client.get(reverse("notices")).status_code == 200


def test_in_quiet_hours_the_page_says_when_it_will_really_go(client: Client, maud) -> None:
    """Quiet since two hours and for three more, wherever midnight lies."""
    begins, ends = (timezone.now().replace(second=0, microsecond=0) + timedelta(hours=by) for by in (-2, 3))
    factories.studio(time_zone="UTC", quiet_from=begins.time(), quiet_until=ends.time())
    now = timezone.now()
    [notice] = notices.queue_ready(pieces=[ready_piece(factories.student())], now=now - timedelta(hours=1))
    client.force_login(maud)
    page = client.get(reverse("notices")).content.decode()
    assert f"they go from {when(ends)}" in page
    assert "They go at once." not in page
    assert f"It goes {when(ends)}." in client.get(reverse("notice", args=[notice.code])).content.decode()
    notices_review.approve(notice=notice, by=maud, now=now)
    page = client.get(reverse("notices")).content.decode()
    assert f"{ends:%H:%M}<small>" in page
    standing = client.get(reverse("notice", args=[notice.code])).content.decode()
    assert f"You have let it go. It goes {when(ends)}." in standing
    factories.studio(quiet_from=None, quiet_until=None)
    assert f"{ends:%H:%M}<small>" not in client.get(reverse("notices")).content.decode()
