"""The mail worker's round: take what is due, one at a time, and see each to an end that is written down."""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Callable
from datetime import datetime, timedelta
from email.utils import parseaddr

from django.conf import settings
from django.db import DatabaseError
from django.urls import reverse
from django.utils import timezone

from studio.domain.say import say
from studio.models import Notice, SignInCode, Studio
from studio.queries import notices as queries

from . import codes, door, enrol_codes, outbox
from .compose import Mail, Nothing, compose

log = logging.getLogger("studio.mail")

Clock = Callable[[], datetime]
#: How often a busy worker says that it is alive.
BEAT = timedelta(seconds=5)


def deliver_due(
    *, worker: str, clock: Clock = timezone.now, go_on: Callable[[], bool] = lambda: True
) -> Counter:
    """Send everything that is due; returns counts of what became of it, by state.

    ``go_on`` is asked between two mails. Safe to run in several processes at once.
    """
    became: Counter[str] = Counter()
    outbox.beat(worker_name(worker), clock())
    became[Notice.State.MAY_HAVE_GONE] += outbox.park_abandoned(clock())
    outbox.take_in_codes(clock())
    became[Notice.State.SENT] += enrol_codes.send_due(clock=clock, go_on=go_on)
    line, said_at = door.Line(), clock()
    try:
        while go_on():
            studio = Studio.the()  # anew for every mail: the tutor may have changed something
            notice = outbox.lease(worker, clock(), studio)
            if notice is None:
                break
            see_to(notice, worker=worker, clock=clock, line=line, studio=studio)
            if notice.state != Notice.State.SENT:
                notice.refresh_from_db(fields=["state"])
            became[notice.state] += 1
            if clock() - said_at >= BEAT:
                said_at = clock()
                outbox.beat(worker_name(worker), said_at)
    finally:
        line.hang_up()
    outbox.beat(worker_name(worker), clock())
    return +became


def worker_name(worker: str) -> str:
    """The name a worker reports under; its own id tells two of them apart only in leases."""
    return worker.split(":", 1)[0][:40]


def see_to(
    notice: Notice, *, worker: str, line: door.Line, studio: Studio | None = None, clock: Clock = timezone.now
) -> None:
    """Bring one leased notice to an end: sent, put back, refused, doubtful or dropped."""
    handed_over = False

    def about_to() -> bool:
        nonlocal handed_over
        handed_over = outbox.hand_over(notice, worker, clock(), message_id=message_id_of(notice))
        return handed_over

    try:
        mail = words_of(notice, studio or Studio.the(), now=clock())
        if mail is None:
            outbox.no_address(notice, worker)
        elif isinstance(mail, Nothing):
            outbox.drop(notice, worker, mail.why)
        elif notice.attempts > outbox.MOST_ATTEMPTS:
            outbox.refuse(
                notice, worker, say("Given up after {attempts} tries.", attempts=notice.attempts - 1)
            )
        else:
            message = door.message_for(mail, message_id=message_id_of(notice))
            door.hand_in(message, about_to=about_to, line=line)
            outbox.sent(notice, worker, mail, clock())
    except door.LeaseLost:
        log.info("Notice %s is in other hands.", notice.code)
    except door.Later as error:
        outbox.put_back(notice, worker, str(error), clock())
    except door.Never as error:
        outbox.refuse(notice, worker, str(error))
    except door.Doubtful as error:
        outbox.doubt(notice, worker, str(error))
    except DatabaseError:
        raise
    except Exception:
        # One mail that cannot be made must not hold up the others.
        log.exception("Notice %s could not be sent.", notice.code)
        if handed_over:
            outbox.doubt(notice, worker, say("Something went wrong while it was handed over."))
        else:
            outbox.refuse(notice, worker, say("This mail could not be made. The server's log says why."))


def words_of(notice: Notice, studio: Studio, *, now: datetime) -> Mail | Nothing | None:
    """The mail to send, a `Nothing`, or None where there is no address. Makes the code of a sign-in mail."""
    if not queries.address_of(notice.recipient, queries.studio_day(now, studio)):
        return (
            Nothing(say("There is no address to write to.")) if notice.kind == Notice.Kind.SIGN_IN else None
        )
    if notice.kind != Notice.Kind.SIGN_IN or notice.sign_in_code is None:
        return compose(notice, now=now, studio=studio)
    asked = notice.sign_in_code
    code, secret = codes.new_code(), codes.new_link_secret()
    SignInCode.objects.filter(pk=asked.pk, used_at__isnull=True).update(
        code_hash=codes.hash_of_code(asked.token, code),
        link_hash=codes.hash_of_link(secret),
        mailed_at=now,
    )
    link = settings.SITE_URL + reverse("enter", args=[secret])
    return compose(notice, now=now, code=codes.shown(code), link=link, studio=studio)


def message_id_of(notice: Notice) -> str:
    """The same at every try, so that a mail server or reader can tell a repetition."""
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
    return f"<notice.{notice.code.lower()}.{notice.pk}@{domain}>"
