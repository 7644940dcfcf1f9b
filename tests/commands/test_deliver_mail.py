"""The mail worker as a studio runs it: a process that goes on until it is told to stop."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.utils import timezone

from studio.actions import sign_in
from studio.models import Notice, SignInCode, WorkerBeat
from tests import factories
from tests.notifications.story import State, ready_piece
from tests.support.smtp import SmtpSink

ROOT = Path(__file__).resolve().parents[2]
#: `manage.py`, over the tests' database and in a quick rhythm.
WORKER = """
import json, os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "studio.settings"
from django.conf import settings
settings.DATABASES = {"default": json.loads(os.environ["DATABASE"])}
import django
django.setup()
from django.core.management import call_command
from studio.management.commands import deliver_mail
deliver_mail.PAUSE_SECONDS = 0.1
call_command("deliver_mail", "--forever")
"""


@pytest.fixture
def worker(smtp_sink: SmtpSink, transactional_db: None) -> Iterator[subprocess.Popen[bytes]]:
    database = {
        name: value for name, value in connection.settings_dict.items() if name not in {"TEST", "TIME_ZONE"}
    }
    database["NAME"] = str(database["NAME"])
    environment = {**os.environ, "DATABASE": json.dumps(database), "WAREBOARD_EMAIL_URL": smtp_sink.url}
    running = subprocess.Popen(
        [sys.executable, "-c", WORKER],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    yield running
    running.kill()
    running.wait()


def until(true: Callable[[], object], running: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + 60
    while not true():
        assert running.poll() is None, running.communicate()[0].decode()
        assert time.monotonic() < end
        time.sleep(0.05)


def test_it_sends_what_comes_says_it_is_alive_and_ends_when_told(
    worker: subprocess.Popen[bytes], smtp_sink: SmtpSink
) -> None:
    factories.studio()
    until(lambda: WorkerBeat.objects.filter(name="mail").exists(), worker)
    ines = factories.student()
    sign_in.ask_code(email=ines.email, requester_key="10.0.0.1")
    until(lambda: smtp_sink.mails, worker)
    assert smtp_sink.mails[0].recipients == (ines.email,)
    until(lambda: Notice.objects.get().state == State.SENT, worker)
    beat = WorkerBeat.objects.get().at
    until(lambda: WorkerBeat.objects.get().at > beat, worker)
    worker.send_signal(signal.SIGTERM)
    output, _ = worker.communicate(timeout=20)
    assert worker.returncode == 0, output.decode()
    # It says what the daily run did, and nothing else.
    assert re.fullmatch(rb"[^\n]* INFO [^\n]*Daily run of [-\d]+: nothing to do\n", output), output


@pytest.mark.django_db
def test_once_makes_up_for_what_was_forgotten_and_sends_what_is_due(smtp_sink: SmtpSink, capsys) -> None:
    factories.studio(notice_grace_minutes=0)
    ready_piece(factories.student())
    call_command("deliver_mail")
    assert capsys.readouterr().out == "Nothing to send.\n"
    assert Notice.objects.get().state == State.WAITING
    Notice.objects.update(state=State.QUEUED)
    call_command("deliver_mail", "--once")
    assert capsys.readouterr().out == "1 sent\n"
    assert len(smtp_sink.mails) == 1


@pytest.mark.django_db
def test_once_and_forever_are_two_things() -> None:
    with pytest.raises(CommandError):
        call_command("deliver_mail", "--once", "--forever")


@pytest.mark.django_db
def test_old_codes_are_not_kept() -> None:
    ago = timezone.now() - timedelta(days=2)
    SignInCode.objects.create(token="t", asked_at=ago, expires_at=ago + timedelta(minutes=10))
    sign_in.tidy()
    assert not SignInCode.objects.exists()
