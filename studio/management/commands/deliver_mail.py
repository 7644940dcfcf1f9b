"""Send the mail that is due: `manage.py deliver_mail --once`, or `--forever` as the studio's mail worker."""

from __future__ import annotations

import argparse
import logging
import os
import signal
import threading
import uuid
from types import FrameType

from django.core.management.base import BaseCommand
from django.db import DatabaseError, close_old_connections, connection
from django.utils import timezone

from studio.actions import (
    alarms,
    bring,
    enrol_requests,
    forecasts,
    notices,
    notices_reminders,
    places,
    readings,
    retention,
    sign_in,
)
from studio.notifications import deliver

log = logging.getLogger("studio.mail")

#: Looked for between two rounds; people wait for their sign-in code.
PAUSE_SECONDS = 2
AFTER_TROUBLE_SECONDS = 15
SWEEP_EVERY_ROUNDS = 30
TIDY_EVERY_ROUNDS = 900


class Command(BaseCommand):
    help = "Sends the mail that is due. Several may run at once."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        how = parser.add_mutually_exclusive_group()
        how.add_argument(
            "--once", action="store_true", help="send what is due and end (so it is without either)"
        )
        how.add_argument("--forever", action="store_true", help="go on until stopped")

    def handle(self, *args: object, forever: bool, **options: object) -> None:
        worker = f"mail:{os.getpid()}:{uuid.uuid4().hex[:12]}"
        if not forever:
            notices.queue_forgotten(now=timezone.now())
            notices_reminders.queue_reminders(now=timezone.now())
            alarms.watch_all(now=timezone.now())
            places.settle_all(now=timezone.now())
            became = self.round(worker)
            forecasts.reckon_ranges(now=timezone.now())
            said = ", ".join(f"{count} {state}" for state, count in sorted(became.items()))
            self.stdout.write(said or "Nothing to send.")
            return
        ended = threading.Event()

        def end(signum: int, frame: FrameType | None) -> None:
            ended.set()  # after the mail in hand

        signal.signal(signal.SIGTERM, end)
        signal.signal(signal.SIGINT, end)
        rounds = 0
        while not ended.is_set():
            try:
                close_old_connections()
                if rounds % SWEEP_EVERY_ROUNDS == 0:
                    notices.queue_forgotten(now=timezone.now())
                    notices_reminders.queue_reminders(now=timezone.now())
                    alarms.watch_all(now=timezone.now())
                    places.settle_all(now=timezone.now())
                self.round(worker, ended)
                if rounds % TIDY_EVERY_ROUNDS == 0:
                    sign_in.tidy(now=timezone.now())
                    enrol_requests.tidy(now=timezone.now())
                    readings.forget_files(now=timezone.now())
                    bring.forget_files(now=timezone.now())
                    retention.daily_run(now=timezone.now())
                    forecasts.reckon_ranges(now=timezone.now())
                rounds += 1
                pause = PAUSE_SECONDS
            except DatabaseError:
                log.exception("The database does not answer; trying again in %d s.", AFTER_TROUBLE_SECONDS)
                connection.close()
                pause = AFTER_TROUBLE_SECONDS
            ended.wait(pause)

    def round(self, worker: str, ended: threading.Event | None = None) -> dict[str, int]:
        return dict(deliver.deliver_due(worker=worker, go_on=lambda: ended is None or not ended.is_set()))
