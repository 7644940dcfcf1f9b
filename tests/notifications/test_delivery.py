"""What the worker makes of every answer a mail server can give (RFC 5321), and of being two."""

from __future__ import annotations

import socket
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from django.core.mail.backends.smtp import EmailBackend
from django.core.management import call_command
from django.db import connections

from studio.actions import notices, notices_review
from studio.domain.problems import Refused
from studio.models import Notice, SignInCode, WorkerBeat
from studio.notifications import deliver, door, outbox
from tests import factories
from tests.notifications.story import Clock, State, deliver_all, queued, ready_piece, tutor
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio()


@pytest.fixture
def one(smtp_sink: SmtpSink) -> tuple[Clock, Notice]:
    clock = Clock()
    [notice] = queued([ready_piece(factories.student())], clock=clock)
    return clock, notice


def test_what_was_sent_is_kept_word_for_word(one: tuple[Clock, Notice], smtp_sink: SmtpSink) -> None:
    clock, notice = one
    assert deliver_all(clock=clock) == {"sent": 1}
    notice.refresh_from_db()
    [mail] = smtp_sink.mails
    assert (notice.sent_to,) == mail.recipients
    assert notice.sent_subject == mail.subject
    assert notice.sent_text.split() == mail.text.split()
    assert notice.sent_html.split() == mail.html.split()
    assert notice.sent_at == clock()
    assert notice.message_id == mail.message_id
    assert mail.message["Reply-To"] == "maud@quillmere.example"
    assert mail.message["From"].startswith("Quillmere Clay Room <")


@pytest.mark.parametrize("answer", ["450 Mailbox busy", "451 Try later", "452 No room", "421 Closing"])
def test_come_back_later_at_the_recipient(answer: str, one, smtp_sink: SmtpSink) -> None:
    clock, notice = one
    smtp_sink.refuse_recipient[notice.recipient.email] = answer
    assert deliver_all(clock=clock) == {"queued": 1}
    notice.refresh_from_db()
    assert answer in notice.last_error
    assert deliver_all(clock=clock) == {}
    smtp_sink.refuse_recipient.clear()
    clock.turn(minutes=1)
    assert deliver_all(clock=clock) == {"sent": 1}
    notice.refresh_from_db()
    assert notice.last_error == ""
    assert len(smtp_sink.mails) == 1


def test_come_back_later_after_the_final_dot(one, smtp_sink: SmtpSink) -> None:
    clock, _ = one
    smtp_sink.answers += ["451 Try again later", "450 Still busy"]
    assert deliver_all(clock=clock) == {"queued": 1}
    clock.turn(minutes=1)
    assert deliver_all(clock=clock) == {"queued": 1}
    clock.turn(minutes=5)
    assert deliver_all(clock=clock) == {"sent": 1}
    assert len({mail.message_id for mail in smtp_sink.mails}) == 1


@pytest.mark.parametrize("answer", ["550 No such person", "553 Not a mailbox", "554 We do not like you"])
def test_never_is_shown_to_the_tutor_in_the_servers_words(answer: str, one, smtp_sink: SmtpSink) -> None:
    clock, notice = one
    smtp_sink.refuse_recipient[notice.recipient.email] = answer
    assert deliver_all(clock=clock) == {"refused": 1}
    notice.refresh_from_db()
    assert notice.last_error == answer
    clock.turn(days=9)
    assert deliver_all(clock=clock) == {}


def test_a_server_that_says_no_to_the_content_is_shown_too(one, smtp_sink: SmtpSink) -> None:
    clock, notice = one
    smtp_sink.answers.append("554 Looks like advertising")
    assert deliver_all(clock=clock) == {"refused": 1}
    notice.refresh_from_db()
    assert notice.last_error == "554 Looks like advertising"


def test_a_whole_connection_turned_away_is_tried_again(one, smtp_sink: SmtpSink) -> None:
    clock, _ = one
    smtp_sink.greeting_answer = "421 Too busy"
    assert deliver_all(clock=clock) == {"queued": 1}
    smtp_sink.greeting_answer = ""
    clock.turn(minutes=1)
    assert deliver_all(clock=clock) == {"sent": 1}


def test_nobody_listening_is_tried_again(one, smtp_sink: SmtpSink, settings) -> None:
    clock, notice = one
    right, settings.EMAIL_PORT = settings.EMAIL_PORT, 1
    assert deliver_all(clock=clock) == {"queued": 1}
    notice.refresh_from_db()
    assert "refused" in notice.last_error.lower()
    settings.EMAIL_PORT = right
    clock.turn(minutes=1)
    assert deliver_all(clock=clock) == {"sent": 1}


def test_a_server_that_hangs_after_the_final_dot_leaves_it_in_doubt(
    one, smtp_sink: SmtpSink, settings
) -> None:
    clock, notice = one
    settings.EMAIL_TIMEOUT = 0.3
    smtp_sink.hang_seconds = 1
    assert deliver_all(clock=clock) == {"may-have-gone": 1}
    clock.turn(days=2)
    assert deliver_all(clock=clock) == {}
    assert len(smtp_sink.mails) == 1
    notice.refresh_from_db()
    assert "did not answer" in notice.last_error


def test_a_line_that_breaks_after_the_final_dot_leaves_it_in_doubt(one, smtp_sink: SmtpSink) -> None:
    clock, notice = one
    smtp_sink.drop_connection = True
    assert deliver_all(clock=clock) == {"may-have-gone": 1}
    smtp_sink.drop_connection = False
    clock.turn(days=2)
    assert deliver_all(clock=clock) == {}
    assert len(smtp_sink.mails) == 1
    # Only the tutor can send it again, or say that it arrived.
    notices_review.send_again(notice=notice, by=tutor(), now=clock())
    assert deliver_all(clock=clock) == {"sent": 1}
    assert len({mail.message_id for mail in smtp_sink.mails}) == 1


def test_the_tutor_finds_out_that_a_doubtful_one_arrived(one, smtp_sink: SmtpSink) -> None:
    clock, notice = one
    smtp_sink.drop_connection = True
    deliver_all(clock=clock)
    settled = notices_review.say_it_went(notice=notice, by=tutor(), now=clock.turn(hours=3))
    assert settled.state == State.SENT
    assert settled.sent_at is not None


class Server(threading.Thread):
    """A mail server that follows a script: what it answers to each line, or ``None`` to hang up there."""

    def __init__(self, answer: Callable[[bytes], bytes | None], greeting: bytes = b"220 hello\r\n") -> None:
        super().__init__(daemon=True)
        self.answer, self.greeting = answer, greeting
        self.socket = socket.create_server(("127.0.0.1", 0))
        self.port = self.socket.getsockname()[1]

    def run(self) -> None:
        try:
            while True:
                self._talk(self.socket.accept()[0])
        except OSError:
            return

    def _talk(self, link: socket.socket) -> None:
        with link, link.makefile("rb") as lines:
            link.sendall(self.greeting)
            for line in lines:
                answer = self.answer(line)
                if answer is None:
                    return
                link.sendall(answer)


@pytest.fixture
def server(settings) -> Iterator[Callable[..., Server]]:
    made: list[Server] = []

    def start(*arguments: object) -> Server:
        running = Server(*arguments)
        running.start()
        made.append(running)
        settings.EMAIL_PORT = running.port
        return running

    yield start
    for each in made:
        each.socket.close()


@pytest.mark.parametrize("breaks_at", [b"EHLO", b"MAIL", b"RCPT", b"DATA"])
def test_a_line_that_breaks_before_the_words_are_given_away_is_tried_again(
    breaks_at: bytes, one, server
) -> None:
    clock, _ = one
    server(lambda line: None if line.upper().startswith(breaks_at) else b"250 fine\r\n")
    assert deliver_all(clock=clock) == {"queued": 1}


def test_a_line_that_breaks_in_the_middle_of_the_words_is_tried_again_or_in_doubt(
    one, server, settings
) -> None:
    """Before the final dot a server must throw away what it has; the kernel may not tell us in time."""
    clock, _ = one
    settings.EMAIL_TIMEOUT = 2

    def answer(line: bytes) -> bytes | None:
        if line.startswith(b"DATA"):
            return b"354 go on\r\n"
        if line.startswith(b"Subject"):
            return None
        return b"250 fine\r\n" if line[:4].upper() in {b"EHLO", b"MAIL", b"RCPT"} else b""

    server(answer)
    became = deliver_all(clock=clock)
    assert became in ({"queued": 1}, {"may-have-gone": 1})


@pytest.mark.parametrize(
    ("code", "becomes"),
    [(b"354", "may-have-gone"), (b"421", "queued"), (b"451", "queued"), (b"554", "refused")],
)
def test_what_data_is_answered_with_decides(code: bytes, becomes: str, one, server, settings) -> None:
    clock, _ = one
    settings.EMAIL_TIMEOUT = 0.5

    def talk(line: bytes) -> bytes | None:
        if line[:4].upper() in {b"EHLO", b"MAIL", b"RCPT"}:
            return b"250 fine\r\n"
        # After that nothing more is ever answered.
        return code + b" so it is\r\n" if line.startswith(b"DATA") else b""

    server(talk)
    assert deliver_all(clock=clock) == {becomes: 1}


def test_a_greeting_that_never_comes_is_tried_again(one, server, settings) -> None:
    clock, _ = one
    settings.EMAIL_TIMEOUT = 0.3
    server(lambda line: b"", b"")
    assert deliver_all(clock=clock) == {"queued": 1}


def test_waits_grow_and_after_two_days_the_tutor_is_told(one, smtp_sink: SmtpSink) -> None:
    clock, notice = one
    smtp_sink.refuse_recipient[notice.recipient.email] = "450 Busy"
    started = clock()
    waits = []
    for _ in range(outbox.MOST_ATTEMPTS):
        deliver_all(clock=clock)
        notice.refresh_from_db()
        if notice.next_try_at is None or notice.state == State.REFUSED:
            break
        waits.append(notice.next_try_at - clock())
        clock.now = notice.next_try_at
    assert notice.state == State.REFUSED
    assert notice.attempts == outbox.MOST_ATTEMPTS
    assert "Given up" in notice.last_error
    assert "450 Busy" in notice.last_error
    assert waits == sorted(waits)
    assert timedelta(days=1) < clock() - started < timedelta(days=3)


def test_a_mail_that_cannot_be_made_holds_up_nobody(
    smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = Clock()
    ines, tobias = factories.student(), factories.student("Tobias")
    queued([ready_piece(ines), ready_piece(tobias)], clock=clock)
    real = deliver.compose

    def compose(notice: Notice, **named: object) -> object:
        if notice.recipient_id == ines.pk:
            raise KeyError("something nobody thought of")
        return real(notice, **named)

    monkeypatch.setattr(deliver, "compose", compose)
    assert deliver_all(clock=clock) == {"refused": 1, "sent": 1}
    assert [mail.recipients for mail in smtp_sink.mails] == [(tobias.email,)]


def test_the_wire_format_doubles_dots_and_ends_lines_with_crlf() -> None:
    """RFC 5321, 4.5.2 (transparency) and 2.3.8 (lines end in CRLF)."""
    assert door.dotted(b".a\n..b\r\nc.\rd") == b"..a\r\n...b\r\nc.\r\nd\r\n"


def test_a_line_that_is_one_dot_arrives_as_it_was(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    notices.queue_ready(pieces=[ready_piece(factories.student())], now=clock())
    Notice.objects.update(added_words="before\n.\n..\n.after", state=State.QUEUED)
    clock.turn(minutes=16)
    assert deliver_all(clock=clock) == {"sent": 1}
    assert "before\n.\n..\n.after" in smtp_sink.mails[0].text.replace("\r\n", "\n")


# The daily run


def test_three_missed_days_are_made_up_for_once(smtp_sink: SmtpSink) -> None:
    """Nobody queued, no worker ran: the next round finds what was forgotten, and so does a second at once."""
    clock = Clock()
    students = [factories.student() for _ in range(5)]
    pieces = [ready_piece(student) for student in students for _ in range(3)]
    clock.turn(days=3)
    first = notices.queue_forgotten(now=clock())
    assert len(first) == 5
    assert notices.queue_forgotten(now=clock()) == []
    assert sum(notice.pieces.count() for notice in Notice.objects.all()) == len(pieces)
    by = tutor()
    for notice in first:
        notices_review.approve(notice=notice, by=by, now=clock())
    clock.turn(days=3)
    assert deliver_all(clock=clock, worker="mail:1") == {"sent": 5}
    assert deliver_all(clock=clock, worker="mail:2") == {}
    assert sorted(mail.recipients[0] for mail in smtp_sink.mails) == sorted(s.email for s in students)


@pytest.mark.django_db(transaction=True)
def test_two_runs_started_at_once_repeat_nothing(smtp_sink: SmtpSink) -> None:
    factories.studio()
    clock = Clock()
    students = [factories.student() for _ in range(8)]
    pieces = [ready_piece(student) for student in students for _ in range(2)]
    together(4, lambda number: notices.queue_forgotten(now=clock()))
    assert Notice.objects.count() == len(students)
    assert sum(notice.pieces.count() for notice in Notice.objects.all()) == len(pieces)
    Notice.objects.update(state=State.QUEUED)
    clock.turn(minutes=16)
    together(4, lambda number: deliver_all(clock=clock, worker=f"mail:{number}"))
    assert Counter(Notice.objects.values_list("state", flat=True)) == {"sent": len(students)}
    assert Counter(mail.recipients[0] for mail in smtp_sink.mails) == {s.email: 1 for s in students}


@pytest.mark.django_db(transaction=True)
def test_two_workers_share_out_sixty_notices_and_send_each_once(smtp_sink: SmtpSink) -> None:
    factories.studio()
    clock = Clock()
    for number in range(60):
        Notice.objects.create(
            key=f"ready:{number}",
            kind=Notice.Kind.READY,
            recipient=(student := factories.student()),
            state=State.QUEUED,
            made_at=clock(),
            not_before=clock(),
        ).pieces.add(ready_piece(student))
    done: Counter[int] = Counter()

    def work(number: int) -> None:
        done[number] = deliver_all(clock=clock, worker=f"mail:{number}").get("sent", 0)

    together(2, work)
    assert sum(done.values()) == 60
    assert all(done[number] for number in range(2)), done
    assert set(Counter(mail.recipients[0] for mail in smtp_sink.mails).values()) == {1}
    assert len(smtp_sink.mails) == 60


def together(count: int, work: Callable[[int], object]) -> None:
    """Run in threads that start at the same moment, each with a connection of its own."""
    barrier = threading.Barrier(count)
    faults: list[BaseException] = []

    def run(number: int) -> None:
        try:
            barrier.wait(10)
            work(number)
        except BaseException as fault:
            faults.append(fault)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(number,)) for number in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    if faults:
        raise faults[0]


# Leases


def test_a_lease_is_one_workers_alone_and_runs_out(one) -> None:
    clock, notice = one
    assert outbox.lease("mail:1", clock()) == notice
    assert outbox.lease("mail:2", clock()) is None
    clock.turn(minutes=6)
    assert outbox.lease("mail:2", clock()) == notice
    # The first wakes up again: it may neither send nor write.
    assert not outbox.hand_over(notice, "mail:1", clock(), message_id="<x@x>")
    outbox.refuse(notice, "mail:1", "too late")
    notice.refresh_from_db()
    assert notice.state == State.SENDING
    assert notice.lease_by == "mail:2"


def test_a_worker_whose_lease_ran_out_sends_nothing(one, smtp_sink: SmtpSink) -> None:
    clock, _ = one
    held = outbox.lease("mail:1", clock())
    assert held is not None
    clock.turn(minutes=6)
    deliver.see_to(held, worker="mail:1", clock=clock, line=door.Line())
    assert smtp_sink.mails == []
    assert deliver_all(clock=clock, worker="mail:2") == {"sent": 1}


def test_one_handed_over_by_a_worker_that_died_is_parked(one, smtp_sink: SmtpSink) -> None:
    clock, notice = one
    outbox.lease("mail:1", clock())
    assert outbox.hand_over(notice, "mail:1", clock(), message_id="<x@x>")
    assert deliver_all(clock=clock, worker="mail:2") == {}
    clock.turn(minutes=6)
    assert deliver_all(clock=clock, worker="mail:2") == {"may-have-gone": 1}
    notice.refresh_from_db()
    assert "stopped while" in notice.last_error
    assert smtp_sink.mails == []


def test_the_tutor_cannot_change_what_a_worker_holds(one) -> None:
    clock, notice = one
    outbox.lease("mail:1", clock())
    for act in (notices_review.hold, notices_review.approve, notices_review.release):
        with pytest.raises(Refused) as refused:
            act(notice=notice, by=tutor(), now=clock())
        assert "being sent" in str(refused.value)


# The command


def test_the_command_reports_what_became_of_it(smtp_sink: SmtpSink, capsys) -> None:
    ines = factories.student()
    notices.queue_ready(pieces=[ready_piece(ines)])
    Notice.objects.update(state=State.QUEUED, not_before=factories.NOW)
    call_command("deliver_mail", "--once")
    assert capsys.readouterr().out == "1 sent\n"
    call_command("deliver_mail", "--once")
    assert capsys.readouterr().out == "Nothing to send.\n"
    assert WorkerBeat.objects.get().name == "mail"


def test_a_code_goes_before_everything_else(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    students = [factories.student() for _ in range(3)]
    queued([ready_piece(student) for student in students], clock=clock)
    tobias = factories.student("Tobias")
    SignInCode.objects.create(
        person=tobias, token="t", asked_at=clock(), expires_at=clock() + timedelta(minutes=10)
    )
    assert deliver_all(clock=clock) == {"sent": 4}
    assert smtp_sink.mails[0].recipients == (tobias.email,)


def lines_dialled(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """True for each time the mail server is really dialled."""
    dialled: list[bool] = []
    real = EmailBackend.open

    def counted(backend: EmailBackend) -> object:
        if backend.connection is None:
            dialled.append(True)
        return real(backend)

    monkeypatch.setattr(EmailBackend, "open", counted)
    return dialled


def many(count: int, clock: Clock) -> list[Notice]:
    return queued([ready_piece(factories.student(f"Ann{number}")) for number in range(count)], clock=clock)


def test_the_line_is_kept_from_mail_to_mail(smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch) -> None:
    clock, dialled = Clock(), lines_dialled(monkeypatch)
    many(4, clock)
    assert deliver_all(clock=clock) == {"sent": 4}
    assert len(dialled) == 1
    monkeypatch.setattr(door.Line, "MOST", 2)
    clock.turn(days=1)
    many(3, clock)
    assert deliver_all(clock=clock) == {"sent": 3}
    assert len(dialled) == 3


def test_a_kept_line_that_went_dead_is_dialled_again_and_nothing_is_said_twice(
    smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, dialled = Clock(), lines_dialled(monkeypatch)
    many(2, clock)
    envelope = door._envelope
    calls: list[bool] = []

    def cut(smtp: object, **named: object) -> None:
        calls.append(True)
        if len(calls) == 2:
            smtp.close()
        envelope(smtp, **named)

    monkeypatch.setattr(door, "_envelope", cut)
    assert deliver_all(clock=clock) == {"sent": 2}
    assert len(dialled) == 2
    assert len(smtp_sink.mails) == 2


def test_one_refused_recipient_does_not_harm_the_next(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    first, second, third = many(3, clock)
    smtp_sink.refuse_recipient[second.recipient.email] = "550 No such person"
    assert deliver_all(clock=clock) == {"sent": 2, "refused": 1}
    second.refresh_from_db()
    assert second.last_error == "550 No such person"
    assert {mail.recipients[0] for mail in smtp_sink.mails} == {first.recipient.email, third.recipient.email}
