"""When mails go, whom to tell in person, what nobody came for, and a silent worker: the tutor's pages."""

from __future__ import annotations

from datetime import time, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.actions import notices, notices_reminders
from studio.models import Notice, Piece, Studio, WorkerBeat
from tests import factories
from tests.notifications.story import Clock, deliver_all, queued, ready_piece
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db

SETTINGS = {
    "notice_grace_minutes": "10",
    "quiet_from": "21:00",
    "quiet_until": "08:00",
    "closed_weekdays": ["7", "6"],
    "reminder_by": "classes",
    "reminder_every": "2",
    "reminder_rounds": "3",
    "pickup_weeks": "5",
    "last_notice_days": "10",
    "unclaimed": "keep",
}


@pytest.fixture
def maud(client: Client):
    factories.studio()
    maud = factories.tutor()
    client.force_login(maud)
    return maud


def test_times_and_rules_are_set_on_one_page(client: Client, maud) -> None:
    url = reverse("mail-timing")
    assert client.post(url, SETTINGS).status_code == 302
    row = Studio.the()
    assert (row.quiet_from, row.quiet_until, row.closed_weekdays) == (time(21), time(8), "67")
    assert (row.reminder_by, row.reminder_rounds, row.unclaimed) == ("classes", 3, "keep")
    assert row.reminders_wait is False
    page = client.get(url).content.decode()
    assert 'value="21:00"' in page


def test_half_a_quiet_time_is_refused_and_nothing_typed_is_lost(client: Client, maud) -> None:
    answer = client.post(reverse("mail-timing"), {**SETTINGS, "quiet_until": ""})
    assert answer.status_code == 422
    assert "Say from when and until when" in answer.content.decode()
    assert 'value="21:00"' in answer.content.decode()
    assert Studio.the().quiet_from is None


def test_a_silent_worker_is_said_on_the_page_of_notices(client: Client, maud) -> None:
    url = reverse("notices")
    assert "No mail is going out" in client.get(url).content.decode()
    beat = WorkerBeat.objects.create(name="mail", at=timezone.now())
    assert "No mail is going out" not in client.get(url).content.decode()
    WorkerBeat.objects.filter(pk=beat.pk).update(at=timezone.now() - timedelta(minutes=6))
    assert "No mail is going out" in client.get(url).content.decode()


def test_the_list_to_tell_has_marks_and_places_and_is_ticked_off(client: Client, maud) -> None:
    ines = factories.student(email=None)
    pot = ready_piece(ines, shelf=factories.shelf("Ready A"))
    [notice] = notices.queue_ready(pieces=[pot])
    page = client.get(reverse("by-hand")).content.decode()
    assert pot.mark in page
    assert "Ready A" in page
    client.post(reverse("notice-act", args=[notice.code]), {"act": "told"})
    assert pot.mark not in client.get(reverse("by-hand")).content.decode()
    notice.refresh_from_db()
    assert notice.told_at is not None


def overdue(count: int = 1) -> list[Piece]:
    """Pieces whose last notice went and whose day has passed."""
    # At noon, so that no quiet hour holds a notice back.
    clock = Clock(timezone.now().replace(hour=12) - timedelta(days=60))
    pieces = [ready_piece(factories.student(f"Ines{number}")) for number in range(count)]
    Piece.objects.update(stage_since=clock())
    queued(pieces, clock=clock)
    deliver_all(clock=clock)
    Studio.objects.update(reminder_by="none", pickup_weeks=4, last_notice_days=14, reminders_wait=False)
    clock.turn(days=20)
    notices_reminders.queue_reminders(now=clock())
    deliver_all(clock=clock)
    assert Notice.objects.filter(kind="last", state="sent").count() == count
    return pieces


def close(client: Client, piece: Piece, act: str):
    form = {"piece": piece.code, "act": act, "client_id": factories.client_id()}
    return client.post(reverse("unclaimed-close"), form, follow=True)


def test_what_nobody_came_for_is_closed_by_the_studios_rule(
    client: Client, maud, smtp_sink: SmtpSink
) -> None:
    one, two = overdue(2)
    page = client.get(reverse("unclaimed")).content.decode()
    assert one.mark in page
    assert "The studio keeps it" in page
    assert "It is disposed of" in page
    close(client, one, "keep")
    one.refresh_from_db()
    assert one.stage == "unclaimed"
    Studio.objects.update(unclaimed="keep")
    page = client.get(reverse("unclaimed")).content.decode()
    assert one.mark not in page
    assert "It is disposed of" not in page
    assert "The studio’s rule is to keep" in close(client, two, "dispose").content.decode()
    two.refresh_from_db()
    assert two.stage == "ready"


def test_what_is_still_promised_is_not_closed_here(client: Client, maud) -> None:
    pot = ready_piece(factories.student())
    assert "no last notice" in close(client, pot, "keep").content.decode().lower()
    pot.refresh_from_db()
    assert pot.stage == "ready"
    assert close(client, Piece(code="NOSUCH"), "keep").status_code == 404
