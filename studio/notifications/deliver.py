"""The mail worker's round: take what is due, one at a time, and see each to an end that is written down.

While the mail server makes up its mind about one mail, the next one is leased and made. It is handed over
only when the end of the one before is written down, and made anew where anything may have changed meanwhile.
"""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from email.utils import parseaddr

from django.conf import settings
from django.db import DatabaseError
from django.urls import reverse
from django.utils import timezone

from studio.domain.say import say
from studio.models import Notice, SignInCode
from studio.queries import notices as queries

from . import codes, door, enrol_codes, outbox
from .ahead import Ahead
from .compose import Known, Mail, Nothing, compose

log = logging.getLogger("studio.mail")

Clock = Callable[[], datetime]
#: How often a busy worker says that it is alive.
BEAT = timedelta(seconds=5)


def deliver_due(
    *, worker: str, clock: Clock = timezone.now, go_on: Callable[[], bool] = lambda: True
) -> Counter:
    """Send everything that is due; returns counts of what became of it, by state.

    ``go_on`` is asked before each mail is taken in hand. Safe to run in several processes at once.
    """
    became: Counter[str] = Counter()
    outbox.beat(worker_name(worker), clock())
    became[Notice.State.MAY_HAVE_GONE] += outbox.park_abandoned(clock())
    outbox.take_in_codes(clock())
    became[Notice.State.SENT] += enrol_codes.send_due(clock=clock, go_on=go_on)
    line, ahead, said_at = door.Line(), Ahead(), clock()
    given: InHand | None = None
    try:
        while True:
            following = None
            try:
                notice = ahead.lease(worker, clock()) if go_on() else None
                if notice is not None:
                    following = InHand(notice, worker=worker, line=line, ahead=ahead, clock=clock)
                    following.make()
            finally:
                # Whatever came of the next one: this one's fate is heard and written down.
                if given is not None:
                    became[given.hear()] += 1
                    given = None
            if following is None:
                break
            following.give()
            if following.is_given:
                given = following
            else:
                became[following.became()] += 1
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


def see_to(notice: Notice, *, worker: str, line: door.Line, clock: Clock = timezone.now) -> None:
    """Bring one leased notice to an end: sent, put back, refused, doubtful or dropped."""
    hand = InHand(notice, worker=worker, line=line, ahead=Ahead(), clock=clock)
    hand.make()
    hand.give()
    if hand.is_given:
        hand.hear()


class InHand:
    """A leased notice on its way: made, given to the mail server, its answer heard.

    Each step may be the last: then its end is written down, and the steps after it do nothing.
    """

    def __init__(
        self, notice: Notice, *, worker: str, line: door.Line, ahead: Ahead, clock: Clock = timezone.now
    ) -> None:
        self.notice, self.worker = notice, worker
        self._line, self._ahead, self._clock = line, ahead, clock
        self._mail: Mail | None = None
        self._message: door.Message | None = None
        self._answer: door.Answer | None = None
        self._handed_over = self._ended = False

    @property
    def is_given(self) -> bool:
        """Whether the mail server has it, and has not been heard yet."""
        return self._answer is not None and not self._ended

    def make(self) -> None:
        """Make the mail, ahead of its turn."""
        with self._ends_written_down():
            self._compose(self._ahead.known or self._ahead.read(self._clock(), count=0))

    def give(self) -> None:
        """Hand the mail over."""
        if self._message is None:
            return
        with self._ends_written_down():
            self._answer = door.give(self._message, about_to=self._about_to, line=self._line)

    def hear(self) -> str:
        """Wait for the mail server's answer and write it down; returns what became of the notice."""
        with self._ends_written_down():
            assert self._answer is not None
            assert self._mail is not None
            self._answer()
            outbox.sent(self.notice, self.worker, self._mail, self._clock())
            self._ended = True
        return self.became()

    def became(self) -> str:
        """The state the notice has come to; one that was erased meanwhile counts as dropped."""
        if self.notice.state != Notice.State.SENT:
            found = Notice.objects.filter(pk=self.notice.pk).values_list("state", flat=True).first()
            self.notice.state = found or Notice.State.DROPPED
        return self.notice.state

    def _make_anew(self) -> None:
        now_so = outbox.read_again(self.notice, self.worker)
        if now_so is None:
            raise door.LeaseLost
        self.notice = now_so
        self._compose(self._ahead.read(self._clock(), count=0))

    def _compose(self, known: Known) -> None:
        notice, now = self.notice, self._clock()
        mail = words_of(notice, known, now=now)
        if mail is None:
            outbox.no_address(notice, self.worker)
        elif isinstance(mail, Nothing):
            outbox.drop(notice, self.worker, mail.why)
        elif notice.attempts > outbox.MOST_ATTEMPTS:
            said = say("Given up after {attempts} tries.", attempts=notice.attempts - 1)
            outbox.refuse(notice, self.worker, said)
        else:
            self._mail = mail
            self._message = door.message_for(mail, message_id=message_id_of(notice))
            return
        self._end()

    def _about_to(self) -> door.Message | None:
        """The mail as it is now, noted as handed over; None when it is not to be sent. Made anew, unless what
        it was made from is certainly so still.
        """
        if not self._ahead.is_so(self._clock()):
            self._make_anew()
        if self._ended:
            return None
        self._handed_over = outbox.hand_over(
            self.notice, self.worker, self._clock(), message_id=message_id_of(self.notice)
        )
        return self._message if self._handed_over else None

    def _end(self) -> None:
        """It has not gone. What was read of other notices may hang on this one."""
        self._ended, self._mail, self._message = True, None, None
        self._ahead.forget()

    @contextmanager
    def _ends_written_down(self) -> Iterator[None]:
        notice, worker = self.notice, self.worker
        try:
            yield
            return
        except door.LeaseLost:
            if self._ended:
                return
            log.info("Notice %s is in other hands.", notice.code)
        except door.Later as error:
            outbox.put_back(notice, worker, str(error), self._clock())
        except door.Never as error:
            outbox.refuse(notice, worker, str(error))
        except door.Doubtful as error:
            outbox.doubt(notice, worker, str(error))
        except DatabaseError:
            raise
        except Exception:
            # One mail that cannot be made must not hold up the others.
            log.exception("Notice %s could not be sent.", notice.code)
            if self._handed_over:
                outbox.doubt(notice, worker, say("Something went wrong while it was handed over."))
            else:
                outbox.refuse(notice, worker, say("This mail could not be made. The server's log says why."))
        self._end()


def words_of(notice: Notice, known: Known, *, now: datetime) -> Mail | Nothing | None:
    """The mail to send, a `Nothing`, or None where there is no address. Makes the code of a sign-in mail."""
    if not queries.address_of(notice.recipient, queries.studio_day(now, known.studio)):
        return (
            Nothing(say("There is no address to write to.")) if notice.kind == Notice.Kind.SIGN_IN else None
        )
    if notice.kind != Notice.Kind.SIGN_IN or notice.sign_in_code is None:
        return compose(notice, now=now, known=known)
    asked = notice.sign_in_code
    code, secret = codes.new_code(), codes.new_link_secret()
    SignInCode.objects.filter(pk=asked.pk, used_at__isnull=True).update(
        code_hash=codes.hash_of_code(asked.token, code),
        link_hash=codes.hash_of_link(secret),
        mailed_at=now,
    )
    link = settings.SITE_URL + reverse("enter", args=[secret])
    return compose(notice, now=now, code=codes.shown(code), link=link, known=known)


def message_id_of(notice: Notice) -> str:
    """The same at every try, so that a mail server or reader can tell a repetition."""
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
    return f"<notice.{notice.code.lower()}.{notice.pk}@{domain}>"
