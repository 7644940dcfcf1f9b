"""A mail worker in a process of its own, which kills itself with SIGKILL at a named step.

Started as ``python -m tests.notifications.worker_process STEP NTH``: at the NTH time it comes to that step
it is gone, in the middle of what it does, as if the machine had lost its power. Which database and mail
server: ``DATABASE`` (a JSON of Django's settings) and WAREBOARD_EMAIL_URL in the environment.

The studio's own code knows nothing of this: its functions are wrapped here.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Callable
from typing import Any

#: Steps in the order a mail comes to them. "after x": x has been done and written down, nothing more.
STEPS = (
    "before lease",
    "after lease",
    "after composing",
    "after connecting",
    "after envelope",
    "after hand-over",
    "after DATA",
    "after words",
    "after final dot",
    "after answer",
    "after sent",
)


def die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def main(step: str, nth: int) -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "studio.settings"
    from django.conf import settings

    settings.DATABASES = {"default": json.loads(os.environ["DATABASE"])}
    settings.EMAIL_TIMEOUT = 10
    import smtplib

    import django

    django.setup()
    from django.core.mail.backends.smtp import EmailBackend

    from studio.notifications import deliver, door, outbox

    count = 0

    def here(name: str) -> None:
        nonlocal count
        if name == step:
            count += 1
            if count == nth:
                die()

    def wrap(owner: Any, name: str, *, before: str = "", after: str = "") -> None:
        real: Callable[..., Any] = getattr(owner, name)

        def wrapped(*arguments: Any, **named: Any) -> Any:
            if before:
                here(before)
            result = real(*arguments, **named)
            if after:
                here(after)
            return result

        setattr(owner, name, wrapped)

    wrap(outbox, "lease", before="before lease", after="after lease")
    compose, made = deliver.compose, set()

    def composing(notice: Any, **named: Any) -> Any:
        mail = compose(notice, **named)
        # How often one is made anew hangs on how fast the machine is; the first time does not.
        if notice.pk not in made:
            made.add(notice.pk)
            here("after composing")
        return mail

    deliver.compose = composing
    wrap(EmailBackend, "open", after="after connecting")
    wrap(door, "_envelope", after="after envelope")
    wrap(outbox, "hand_over", after="after hand-over")
    wrap(smtplib.SMTP, "docmd", after="after DATA")
    wrap(outbox, "sent", before="after answer", after="after sent")
    send = smtplib.SMTP.send

    def sending(smtp: smtplib.SMTP, data: bytes | str) -> None:
        send(smtp, data)
        if data == b".\r\n":
            here("after final dot")
        elif isinstance(data, bytes) and data.startswith(b"Content-Type"):
            here("after words")

    smtplib.SMTP.send = sending
    deliver.deliver_due(worker=f"mail:{os.getpid()}")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
