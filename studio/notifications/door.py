"""Handing one mail to the mail server, and knowing afterwards what can be known.

The conversation of RFC 5321 is held step by step, because what an error means depends on when it comes:
before the final dot nothing has been accepted; after it, until the server has answered, nobody can know.
"""

from __future__ import annotations

import re
import smtplib
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from email.mime.image import MIMEImage
from email.utils import formataddr, parseaddr

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMultiAlternatives, get_connection
from django.core.mail.backends.smtp import EmailBackend
from django.core.validators import validate_email

from . import words
from .compose import Mail
from .pictures import Picture

_NOT_IN_ADDRESS = re.compile(r'[^\x21-\x7e]|[,;:<>()\[\]"\\]')


class NotSent(Exception):
    """The mail did not go, or nobody knows. ``str()`` is what was said, on one line."""

    def __init__(self, said: object) -> None:
        super().__init__(words.one_line(_decoded(said)) or type(self).__doc__)


class Later(NotSent):
    """Certainly not accepted; worth another try."""


class Never(NotSent):
    """Certainly not accepted, and never will be as it is."""


class Doubtful(NotSent):
    """Handed over and not answered: it may have gone."""


class LeaseLost(Exception):
    """Another worker has it now."""


@dataclass(frozen=True, slots=True)
class Message:
    """One mail as it goes over the wire, and between whom; ``made`` is what it was made from."""

    sender: str
    to: str
    content: bytes
    made: EmailMultiAlternatives

    @property
    def envelope(self) -> tuple[str, str, bool]:
        """From whom, to whom, and whether in plain ASCII."""
        return self.sender, self.to, self.content.isascii()


def message_for(mail: Mail, *, message_id: str) -> Message:
    """The message, with one recipient and no header smuggled in by words; `Never` if it can't be made.

    Django refuses CR and LF in headers but lets NUL pass and takes ``a@b.c, d@e.f`` for one address; the
    words come clean from `compose`, and the address is looked at here once more.
    """
    if _NOT_IN_ADDRESS.search(mail.to):
        raise Never(f"The address {mail.to!r} cannot be written to. Correct it, then send again.")
    try:
        validate_email(mail.to)
        sender = parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
        message = EmailMultiAlternatives(
            subject=words.one_line(mail.subject),
            body=mail.text,
            from_email=formataddr((words.one_line(mail.from_name), sender)),
            to=[mail.to],
            reply_to=[mail.reply_to] if mail.reply_to and not _NOT_IN_ADDRESS.search(mail.reply_to) else None,
            headers={"Message-ID": message_id, "Auto-Submitted": "auto-generated", **_ways_to_stop(mail)},
        )
        message.attach_alternative(mail.html, "text/html")
        for name, data, kind in mail.attachments:
            message.attach(name, data, kind)
        for picture in mail.pictures:
            message.attach(_inline(picture))
        if mail.pictures and not mail.attachments:
            message.mixed_subtype = "related"  # RFC 2387: the pictures are part of what the HTML shows
        content = message.message().as_bytes(linesep="\r\n")
    except (ValidationError, ValueError, UnicodeError) as error:
        raise Never(f"The mail could not be made: {_decoded(error)}") from error
    return Message(sender, mail.to, content, message)


def _ways_to_stop(mail: Mail) -> dict[str, str]:
    """The head's lines by which a mail reader stops mails like this, empty where they can't be stopped.

    RFC 2369, 3.2: an address in angle brackets. RFC 8058, 3.1: one press only over HTTPS. That the two lines
    are covered by a DKIM signature (3.1 again) is the mail server's to see to.
    """
    if not mail.off_link:
        return {}
    lines = {"List-Unsubscribe": f"<{mail.off_link}>"}
    if mail.off_link.startswith("https://"):
        lines["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return lines


def _inline(picture: Picture) -> MIMEImage:
    part = MIMEImage(picture.jpeg, "jpeg")
    part.add_header("Content-ID", f"<{picture.cid}>")
    part.add_header("Content-Disposition", "inline", filename="photo.jpg")
    return part


class Line:
    """The line to the mail server, kept open from one mail to the next: dialling costs more than a mail.

    It is hung up at the first thing that goes wrong, after ``MOST`` mails, and by `hang_up`.
    """

    MOST = 100

    def __init__(self) -> None:
        self._backend: EmailBackend | None = None
        self._mails = 0

    @property
    def is_kept(self) -> bool:
        """Whether a mail has gone over it already: the server may have hung up since."""
        return self._mails > 0

    def dial(self, backend: EmailBackend) -> smtplib.SMTP:
        if self._backend is None:
            self._backend = backend
        if self._backend.open():
            # The final dot goes by itself. Without this it would wait for the words to be acknowledged
            # (RFC 896), which the other side puts off for some 40 ms (RFC 1122, 4.2.3.2).
            self._backend.connection.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        smtp = self._backend.connection
        smtp.ehlo_or_helo_if_needed()
        return smtp

    def went(self) -> None:
        """One more mail has gone over it."""
        self._mails += 1
        if self._mails >= self.MOST:
            self.hang_up()

    def hang_up(self) -> None:
        """End it without waiting for anything: the fate of every mail is known by now."""
        if self._backend is not None and self._backend.connection is not None:
            self._backend.connection.close()
            self._backend.connection = None
        self._backend, self._mails = None, 0


#: The message as it is at the last moment, or None: nothing is to be said.
AboutTo = Callable[[], Message | None]
Answer = Callable[[], None]


def hand_in(message: Message, *, about_to: AboutTo, line: Line | None = None) -> None:
    """Give the message to the mail server and hear what it says; see `give` and its answer.

    Without a ``line`` it has one of its own.
    """
    own = Line()
    try:
        give(message, about_to=about_to, line=line or own)()
    finally:
        own.hang_up()


def give(message: Message, *, about_to: AboutTo, line: Line) -> Answer:
    """Give the message to the mail server to its final dot, or keep it as a file where the studio is set up
    so. What is returned is called for the server's answer, before anything else is said on this line.

    ``about_to`` is called once, right before the words are given away: what it returns is sent, to whom it
    says; None stops it (`LeaseLost`). Raises `Later`, `Never`, `Doubtful`, and so does the answer; the line
    is hung up then. An answer that raises nothing says that the server has accepted.
    """
    backend = get_connection()
    if not isinstance(backend, EmailBackend):
        last = _last_moment(about_to)
        try:
            backend.send_messages([last.made])
        except OSError as error:
            raise Later(error) from error
        return lambda: None
    with _hung_up_at_trouble(line):
        try:
            smtp = _introduced(line, backend, message)
            last = _last_moment(about_to)
            if last.envelope != message.envelope:
                _expect(smtp.rset(), accepted=250)
                _envelope(smtp, message=last)
            _expect(smtp.docmd("DATA"), accepted=354)
            smtp.send(dotted(last.content))
        except (OSError, smtplib.SMTPException) as error:
            # A connection cut before the final dot: the server must throw away what it has (RFC 5321,
            # 4.1.1.4).
            raise Later(error) from error
        with _doubted_at_trouble():
            smtp.send(b".\r\n")

    def answer() -> None:
        with _hung_up_at_trouble(line):
            with _doubted_at_trouble():
                said = smtp.getreply()
            _expect(said, accepted=250)
            line.went()

    return answer


def _last_moment(about_to: AboutTo) -> Message:
    last = about_to()
    if last is None:
        raise LeaseLost
    return last


@contextmanager
def _hung_up_at_trouble(line: Line) -> Iterator[None]:
    try:
        yield
    except BaseException:
        line.hang_up()
        raise


@contextmanager
def _doubted_at_trouble() -> Iterator[None]:
    try:
        yield
    except (OSError, smtplib.SMTPException) as error:
        raise Doubtful(f"The mail server did not answer: {_decoded(error)}") from error


def _introduced(line: Line, backend: EmailBackend, message: Message) -> smtplib.SMTP:
    """The server, told who writes to whom. A kept line that has gone dead is dialled once more: of the
    message itself nothing has been said by then.
    """
    was_kept = line.is_kept
    try:
        smtp = line.dial(backend)
        _envelope(smtp, message=message)
    except (OSError, smtplib.SMTPException, Later):
        if not was_kept:
            raise
        line.hang_up()
        smtp = line.dial(get_connection())
        _envelope(smtp, message=message)
    return smtp


def dotted(content: bytes) -> bytes:
    """The content as it goes over the wire: CRLF line ends, a dot at the start of a line doubled."""
    content = re.sub(rb"\r\n|\r|\n", b"\r\n", content)
    content = re.sub(rb"(?m)^\.", b"..", content)
    return content if content.endswith(b"\r\n") else content + b"\r\n"


def _envelope(smtp: smtplib.SMTP, *, message: Message) -> None:
    eight_bits = smtp.has_extn("8bitmime") and not message.content.isascii()
    _expect(smtp.mail(message.sender, ["BODY=8BITMIME"] if eight_bits else []), accepted=250)
    _expect(smtp.rcpt(message.to), accepted=250)


def _expect(answer: tuple[int, bytes], *, accepted: int) -> None:
    code, said = answer
    if code == accepted or (accepted == 250 and code in {251, 252}):
        return
    sentence = f"{code} {_decoded(said)}"
    raise (Never if 500 <= code < 600 else Later)(sentence)


def _decoded(said: object) -> str:
    if isinstance(said, smtplib.SMTPResponseException):
        return f"{said.smtp_code} {_decoded(said.smtp_error)}"
    if isinstance(said, bytes):
        return said.decode("utf-8", "replace")
    if isinstance(said, BaseException):
        return str(said) or type(said).__name__
    return str(said)
