"""A mail server on a loopback port that keeps what it is given, and can refuse, stall or break off.

The answers are those of RFC 5321: 4xx asks the sender to come back later, 5xx says never.
"""

import asyncio
import threading
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from tests.support.postgres import free_port


@dataclass(frozen=True)
class Received:
    """One accepted mail: the envelope, and the message as parsed from the bytes on the wire."""

    sender: str
    recipients: tuple[str, ...]
    raw: bytes
    message: EmailMessage

    @property
    def subject(self) -> str:
        return str(self.message["Subject"])

    @property
    def message_id(self) -> str:
        return str(self.message["Message-ID"])

    def _body(self, kind: str) -> str:
        part = self.message.get_body((kind,))
        return part.get_content() if part is not None else ""

    @property
    def text(self) -> str:
        return self._body("plain")

    @property
    def html(self) -> str:
        return self._body("html")


@dataclass
class SmtpSink:
    """Mails in order of arrival, and how the next ones are answered.

    ``refuse_recipient["ann@x.example"] = "550 No such person"`` answers that address at RCPT, always.
    ``answers.append("451 Try again later")`` answers the next message after its final dot, once each.
    ``keep_then_answer.append("451 …")`` keeps the next message and answers it with an error all the same.
    ``drop_connection = True`` keeps a message, then breaks off without any answer.
    ``hang_seconds = 30`` waits that long before the answer to a message.
    ``greeting_answer = "421 Closing"`` refuses a whole connection at MAIL.
    """

    host: str
    port: int
    mails: list[Received] = field(default_factory=list)
    refuse_recipient: dict[str, str] = field(default_factory=dict)
    answers: list[str] = field(default_factory=list)
    keep_then_answer: list[str] = field(default_factory=list)
    drop_connection: bool = False
    hang_seconds: float = 0
    greeting_answer: str = ""
    connections: int = 0
    arrived: threading.Condition = field(default_factory=threading.Condition)

    @property
    def url(self) -> str:
        """As WAREBOARD_EMAIL_URL wants it, for a worker in a process of its own."""
        return f"smtp://{self.host}:{self.port}"

    def to(self, address: str) -> list[Received]:
        return [mail for mail in self.mails if address in mail.recipients]

    def wait_for(self, count: int, *, seconds: float = 20) -> list[Received]:
        """The mails so far, once there are at least ``count``; an error if they do not come in time."""
        with self.arrived:
            if not self.arrived.wait_for(lambda: len(self.mails) >= count, timeout=seconds):
                raise AssertionError(f"{len(self.mails)} of {count} mails arrived in {seconds} s.")
            return list(self.mails)

    # The methods below are called by aiosmtpd, in its own thread.

    async def handle_MAIL(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        self.connections += 1
        if self.greeting_answer:
            return self.greeting_answer
        envelope.mail_from = address
        envelope.mail_options.extend(options)
        return "250 OK"

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if address in self.refuse_recipient:
            return self.refuse_recipient[address]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        if self.answers:
            return self.answers.pop(0)
        self._keep(envelope)
        if self.drop_connection:
            server.transport.abort()
            return "421 Gone"
        if self.hang_seconds:
            await asyncio.sleep(self.hang_seconds)
        if self.keep_then_answer:
            return self.keep_then_answer.pop(0)
        return "250 OK"

    def _keep(self, envelope: Envelope) -> None:
        raw = envelope.original_content or b""
        message = message_from_bytes(raw, policy=policy.default)
        with self.arrived:
            self.mails.append(Received(envelope.mail_from or "", tuple(envelope.rcpt_tos), raw, message))
            self.arrived.notify_all()


def start() -> tuple[SmtpSink, Controller]:
    """A running sink, and the controller whose ``stop()`` ends it."""
    sink = SmtpSink("127.0.0.1", free_port())
    controller = Controller(sink, hostname=sink.host, port=sink.port, enable_SMTPUTF8=True)
    controller.start()
    return sink, controller
