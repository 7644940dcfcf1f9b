"""1,000 notices to a mail server on the loopback, beside a bare smtplib loop on one connection, in one run.

The bare loop is given the very messages ready made, so it does nothing but talk. The mail server runs in a
process of its own and answers at once, or as late after the final dot as one that writes to a disk and looks
for spam would (``SLOW_S``, own guess).
"""

from __future__ import annotations

import os
import smtplib
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path
from time import perf_counter

from tests.support.postgres import free_port

from .row import Row

COUNT = 1000
SLOW_S = 0.02
#: Of the bare loop's rate.
LEAST = 0.9


def rows() -> list[Row]:
    found = []
    for answers, wait_s in (("at once", 0.0), (f"after {SLOW_S * 1000:.0f} ms", SLOW_S)):
        made = subprocess.run(
            [sys.executable, "-m", __spec__.name, "measure", str(wait_s)],
            capture_output=True,
            text=True,
            check=False,
            env=os.environ,
        )
        what = f"{COUNT:,} notices, a server that answers {answers}"
        if made.returncode:
            found.append(Row("mail", what, "not measured", made.stderr[-60:].strip()))
            continue
        ours, bare = map(float, made.stdout.split()[-2:])
        found.append(
            Row(
                "mail",
                what,
                f"{COUNT / ours:.0f} a second",
                f"bare smtplib loop {COUNT / bare:.0f}",
                bare / ours,
                f"at least {LEAST:g}",
                bare / ours >= LEAST,
            )
        )
    return found


def _serve(port: int, wait_s: float) -> None:
    """A server that takes everything and keeps nothing."""
    import asyncio

    from aiosmtpd.controller import Controller

    class Sink:
        async def handle_DATA(self, server: object, session: object, envelope: object) -> str:
            if wait_s:
                await asyncio.sleep(wait_s)
            return "250 OK"

    Controller(Sink(), hostname="127.0.0.1", port=port).start()
    print("ready", flush=True)
    time.sleep(3600)


def _measure(folder: Path, wait_s: float) -> tuple[float, float]:
    """Seconds for the worker's round, and for the bare loop."""
    port = free_port()
    server = subprocess.Popen(
        [sys.executable, "-m", __spec__.name, "serve", str(port), str(wait_s)], stdout=subprocess.PIPE
    )
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "WAREBOARD_VAR": str(folder / "var"),
        "WAREBOARD_EMAIL_URL": f"smtp://127.0.0.1:{port}",
    }
    os.environ.pop("WAREBOARD_DATABASE_URL", None)
    os.environ.pop("WAREBOARD_DEMO", None)
    try:
        assert server.stdout is not None
        server.stdout.readline()
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        return _both(port)
    finally:
        server.terminate()
        server.wait()


def _both(port: int) -> tuple[float, float]:
    from django.utils import timezone

    from studio.models import Notice
    from studio.notifications import deliver, door
    from studio.notifications.compose import compose
    from tests import factories

    now = timezone.now()
    factories.studio()
    for number in range(COUNT):
        student = factories.student(f"Ann{number}")
        notice = Notice.objects.create(
            key=f"ready:{number}",
            kind="ready",
            recipient=student,
            state="queued",
            made_at=now,
            not_before=now - timedelta(minutes=1),
        )
        notice.pieces.add(factories.piece(maker=student, stage="ready"))
    messages = []
    for notice in Notice.objects.select_related("recipient__guardian").order_by("id"):
        message = door.message_for(compose(notice, now=now), message_id=deliver.message_id_of(notice))
        messages.append((message.to, message.content))

    def bare() -> float:
        start = perf_counter()
        with smtplib.SMTP("127.0.0.1", port, timeout=30) as smtp:
            for to, content in messages:
                smtp.sendmail("studio@quillmere.example", to, content)
        return perf_counter() - start

    first = bare()
    start = perf_counter()
    became = deliver.deliver_due(worker="mail:bench")
    ours = perf_counter() - start
    assert became == {"sent": COUNT}, became
    return ours, (first + bare()) / 2


if __name__ == "__main__":
    if sys.argv[1] == "serve":
        _serve(int(sys.argv[2]), float(sys.argv[3]))
    else:
        with tempfile.TemporaryDirectory() as made:
            print(*_measure(Path(made), float(sys.argv[2])))
