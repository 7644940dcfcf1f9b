"""The next mail is made while the server's answer to one is awaited: what may happen meanwhile, and after."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import OperationalError, connection, connections
from django.test.utils import CaptureQueriesContext

from studio.actions import notices_wording, pieces, pieces_change, pieces_end, undo
from studio.domain.stages import Stage
from studio.models import Notice, NoticePiece, Person, Piece
from studio.notifications import deliver, door, outbox
from studio.queries import unchanged
from tests import factories
from tests.notifications.story import Clock, State, deliver_all, queued, ready_piece, tutor
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio()


def elsewhere(work: Callable[[], object]) -> None:
    """Do it as somebody else's request does: in another thread, with a connection of its own."""
    faults: list[BaseException] = []

    def run() -> None:
        try:
            work()
        except BaseException as fault:
            faults.append(fault)
        finally:
            connections.close_all()

    thread = threading.Thread(target=run)
    thread.start()
    thread.join(30)
    if faults:
        raise faults[0]


@pytest.fixture
def while_the_first_waits(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], object]], None]:
    """What to do after the next mail was made, before the first mail's answer is heard."""

    def arrange(work: Callable[[], object]) -> None:
        real, given = door.give, []

        def give(message: door.Message, **named: object) -> door.Answer:
            answer = real(message, **named)
            given.append(message)
            if len(given) > 1:
                return answer

            def later() -> None:
                work()
                answer()

            return later

        monkeypatch.setattr(door, "give", give)

    return arrange


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> Counter[int]:
    """How often each notice's mail was made."""
    counted: Counter[int] = Counter()
    real = deliver.compose

    def compose(notice: Notice, **named: object) -> object:
        counted[notice.pk] += 1
        return real(notice, **named)

    monkeypatch.setattr(deliver, "compose", compose)
    return counted


def two(clock: Clock) -> tuple[Notice, Notice]:
    """Ines's notice, then Tobias's: his is made while hers is on its way."""
    hers, his = (ready_piece(factories.student(name)) for name in ("Ines", "Tobias"))
    first, second = (queued([piece], clock=clock)[0] for piece in (hers, his))
    return first, second


def states(*notices: Notice) -> list[str]:
    for notice in notices:
        notice.refresh_from_db()
    return [notice.state for notice in notices]


def collect(piece: Piece) -> None:
    pieces_end.collect_pieces(pieces=[piece], by=tutor(), client_id=factories.client_id())


def give_away(piece: Piece) -> None:
    pieces_change.give_piece(
        piece=piece, maker=factories.student("Wren"), by=tutor(), client_id=factories.client_id()
    )


def take_away_from_the_address(piece: Piece) -> None:
    Person.objects.filter(pk=piece.maker_id).update(email="")


@pytest.mark.parametrize(
    ("change", "becomes"),
    [
        (collect, State.DROPPED),
        (give_away, State.DROPPED),
        (take_away_from_the_address, State.NO_ADDRESS),
    ],
)
def test_what_is_no_longer_so_when_its_turn_comes_is_not_sent(
    change: Callable[[Piece], None], becomes: str, smtp_sink: SmtpSink, while_the_first_waits
) -> None:
    clock = Clock()
    first, second = two(clock)
    piece = second.pieces.get()
    tutor()
    while_the_first_waits(lambda: elsewhere(lambda: change(piece)))
    assert deliver_all(clock=clock) == {State.SENT: 1, becomes: 1}
    assert states(first, second) == [State.SENT, becomes]
    assert [mail.recipients for mail in smtp_sink.mails] == [(first.recipient.email,)]


def test_what_is_taken_back_meanwhile_is_not_sent(smtp_sink: SmtpSink, while_the_first_waits) -> None:
    clock, by = Clock(), tutor()
    queued([ready_piece(factories.student())], clock=clock)
    fired = factories.piece(maker=factories.student("Tobias"), stage=Stage.FIRED)
    event = pieces.move_piece(piece=fired, to=Stage.READY, by=by, client_id=factories.client_id())
    second = Notice.objects.get(pieces=fired)
    Notice.objects.filter(pk=second.pk).update(state=State.QUEUED, not_before=clock())
    while_the_first_waits(
        lambda: elsewhere(lambda: undo.undo(event=event, by=by, client_id=factories.client_id()))
    )
    assert deliver_all(clock=clock) == {State.SENT: 1, State.DROPPED: 1}
    assert states(second) == [State.DROPPED]
    assert len(smtp_sink.mails) == 1


def test_one_of_two_pieces_collected_meanwhile_is_left_out(
    smtp_sink: SmtpSink, while_the_first_waits
) -> None:
    clock, tobias = Clock(), factories.student("Tobias")
    queued([ready_piece(factories.student())], clock=clock)
    stays, goes = ready_piece(tobias), ready_piece(tobias)
    [second] = queued([stays, goes], clock=clock)
    tutor()
    while_the_first_waits(lambda: elsewhere(lambda: collect(goes)))
    assert deliver_all(clock=clock) == {State.SENT: 2}
    text = smtp_sink.mails[1].text
    assert stays.mark in text
    assert goes.mark not in text
    assert [link.piece for link in NoticePiece.objects.filter(notice=second)] == [stays]


def test_a_new_address_and_a_new_wording_are_those_used(smtp_sink: SmtpSink, while_the_first_waits) -> None:
    clock = Clock()
    _, second = two(clock)
    by = tutor()

    def change() -> None:
        Person.objects.filter(pk=second.recipient_id).update(email="tobias@new.example")
        usual = deliver.compose(second, now=clock())
        notices_wording.save_wording(
            kind=Notice.Kind.READY, subject="Come and see", heading="Look", body="{pieces}", by=by
        )
        assert usual.subject != "Come and see"

    while_the_first_waits(lambda: elsewhere(change))
    assert deliver_all(clock=clock) == {State.SENT: 2}
    assert smtp_sink.mails[0].subject != "Come and see"
    assert smtp_sink.mails[1].subject == "Come and see"
    assert smtp_sink.mails[1].recipients == ("tobias@new.example",)


@pytest.fixture
def while_the_second_is_introduced(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], object]], None]:
    """What to do when the server has been told who writes to whom, and nothing of the mail yet."""

    def arrange(work: Callable[[], object]) -> None:
        real, told = door._envelope, []

        def envelope(*arguments: object, **named: object) -> None:
            real(*arguments, **named)
            told.append(True)
            if len(told) == 2:
                work()

        monkeypatch.setattr(door, "_envelope", envelope)

    return arrange


def test_a_piece_collected_at_the_last_moment_is_not_written_about(
    smtp_sink: SmtpSink, while_the_second_is_introduced
) -> None:
    clock = Clock()
    first, second = two(clock)
    queued([ready_piece(factories.student("Wren"))], clock=clock)
    piece = second.pieces.get()
    tutor()
    while_the_second_is_introduced(lambda: elsewhere(lambda: collect(piece)))
    assert deliver_all(clock=clock) == {State.SENT: 2, State.DROPPED: 1}
    assert states(first, second) == [State.SENT, State.DROPPED]
    assert smtp_sink.to(second.recipient.email) == []


def test_an_address_changed_at_the_last_moment_is_the_one_written_to(
    smtp_sink: SmtpSink, while_the_second_is_introduced
) -> None:
    clock = Clock()
    _, second = two(clock)
    his = Person.objects.filter(pk=second.recipient_id)
    while_the_second_is_introduced(lambda: elsewhere(lambda: his.update(email="tobias@new.example")))
    assert deliver_all(clock=clock) == {State.SENT: 2}
    assert [mail.recipients for mail in smtp_sink.mails][1:] == [("tobias@new.example",)]


def test_one_who_was_erased_meanwhile_stops_nobody(smtp_sink: SmtpSink, while_the_first_waits) -> None:
    clock = Clock()
    first, second = two(clock)
    queued([ready_piece(factories.student("Wren"))], clock=clock)
    while_the_first_waits(lambda: elsewhere(lambda: Notice.objects.filter(pk=second.pk).delete()))
    assert deliver_all(clock=clock) == {State.SENT: 2, State.DROPPED: 1}
    assert states(first) == [State.SENT]


def test_time_that_passed_meanwhile_counts(smtp_sink: SmtpSink, while_the_first_waits) -> None:
    clock = Clock()
    first, second = two(clock)
    Notice.objects.filter(pk=second.pk).update(expires_at=clock() + timedelta(seconds=2))
    while_the_first_waits(lambda: clock.turn(seconds=3))
    assert deliver_all(clock=clock) == {State.SENT: 1, State.DROPPED: 1}
    assert states(first, second) == [State.SENT, State.DROPPED]
    assert len(smtp_sink.mails) == 1


def test_nothing_is_made_twice_when_nobody_wrote(smtp_sink: SmtpSink, made: Counter[int]) -> None:
    clock = Clock()
    queued([ready_piece(factories.student(f"Ann{number}")) for number in range(12)], clock=clock)
    assert deliver_all(clock=clock) == {State.SENT: 12}
    # Where the database can't say that nobody wrote, it is made again at the last moment.
    assert set(made.values()) == {1 if connection.vendor == "sqlite" else 2}
    assert len(made) == 12


def test_an_end_is_written_down_before_the_next_mail_is_handed_over(
    smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = Clock()
    queued([ready_piece(factories.student(f"Ann{number}")) for number in range(5)], clock=clock)
    smtp_sink.answers += ["451 Later", "554 Never"]
    real, open_ends = outbox.hand_over, []

    def hand_over(notice: Notice, *arguments: object, **named: object) -> bool:
        open_ends.append(Notice.objects.filter(handed_over=True, state=State.SENDING).count())
        return real(notice, *arguments, **named)

    monkeypatch.setattr(outbox, "hand_over", hand_over)
    assert deliver_all(clock=clock) == {State.SENT: 3, State.QUEUED: 1, State.REFUSED: 1}
    assert open_ends == [0] * 5


@pytest.mark.parametrize(
    ("answer", "becomes"), [("451 Later", State.QUEUED), ("550 Nobody of that name", State.REFUSED)]
)
def test_a_server_that_says_no_to_one_gets_the_next(
    answer: str, becomes: str, smtp_sink: SmtpSink, made: Counter[int]
) -> None:
    clock = Clock()
    first, second = two(clock)
    smtp_sink.answers.append(answer)
    assert deliver_all(clock=clock) == {becomes: 1, State.SENT: 1}
    assert states(first, second) == [becomes, State.SENT]
    assert [mail.recipients for mail in smtp_sink.mails] == [(second.recipient.email,)]


def test_a_line_that_breaks_under_one_is_dialled_anew_for_the_next(
    smtp_sink: SmtpSink, while_the_first_waits
) -> None:
    clock = Clock()
    first, second = two(clock)
    smtp_sink.drop_connection = True

    def mended() -> None:
        smtp_sink.wait_for(1)
        smtp_sink.drop_connection = False

    while_the_first_waits(mended)
    assert deliver_all(clock=clock) == {State.MAY_HAVE_GONE: 1, State.SENT: 1}
    assert states(first, second) == [State.MAY_HAVE_GONE, State.SENT]
    assert Counter(mail.recipients[0] for mail in smtp_sink.mails) == {
        first.recipient.email: 1,
        second.recipient.email: 1,
    }


@pytest.mark.parametrize("where", ["lease", "compose"])
def test_a_database_that_fails_under_the_next_loses_no_answer(
    where: str, smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first is on its way: what the server said of it is written down all the same."""
    clock = Clock()
    first, second = two(clock)
    owner = outbox if where == "lease" else deliver
    real, failed = getattr(owner, where), []

    def failing(subject: object, *arguments: object, **named: object) -> object:
        is_next = subject == second if where == "compose" else Notice.objects.filter(state=State.SENDING)
        if is_next and not failed:
            failed.append(True)
            raise OperationalError("the disk is gone")
        return real(subject, *arguments, **named)

    monkeypatch.setattr(owner, where, failing)
    with pytest.raises(OperationalError):
        deliver_all(clock=clock)
    assert states(first, second) == [State.SENT, State.QUEUED if where == "lease" else State.SENDING]
    assert not second.handed_over
    clock.turn(minutes=6)
    assert deliver_all(clock=clock) == {State.SENT: 1}
    assert Counter(mail.recipients[0] for mail in smtp_sink.mails) == {
        first.recipient.email: 1,
        second.recipient.email: 1,
    }


def test_an_end_that_cannot_be_written_down_stops_the_next(
    smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = Clock()
    first, second = two(clock)
    with monkeypatch.context() as broken:

        def sent(*arguments: object, **named: object) -> None:
            raise OperationalError("the disk is gone")

        broken.setattr(outbox, "sent", sent)
        with pytest.raises(OperationalError):
            deliver_all(clock=clock)
    assert states(first, second) == [State.SENDING, State.SENDING]
    assert first.handed_over
    assert not second.handed_over
    clock.turn(minutes=6)
    assert deliver_all(clock=clock) == {State.MAY_HAVE_GONE: 1, State.SENT: 1}
    assert len(smtp_sink.mails) == 2


def test_a_worker_told_to_stop_takes_nothing_more_in_hand(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    queued([ready_piece(factories.student(f"Ann{number}")) for number in range(4)], clock=clock)
    asked: list[bool] = []

    def go_on() -> bool:
        asked.append(True)
        return len(asked) <= 2

    assert deliver.deliver_due(worker="mail:1", clock=clock, go_on=go_on) == {State.SENT: 2}
    assert Counter(Notice.objects.values_list("state", flat=True)) == {State.SENT: 2, State.QUEUED: 2}
    assert not Notice.objects.filter(state=State.QUEUED, attempts__gt=0).exists()


def test_two_notices_of_one_person_in_one_reading_are_one_mail_a_day(smtp_sink: SmtpSink) -> None:
    clock, ines = Clock(), factories.student()
    for number in range(3):
        Notice.objects.create(
            key=f"ready:{number}",
            kind=Notice.Kind.READY,
            recipient=ines,
            state=State.QUEUED,
            made_at=clock(),
            not_before=clock(),
        ).pieces.add(ready_piece(ines))
    queued([ready_piece(factories.student(f"Ann{number}")) for number in range(4)], clock=clock)
    assert deliver_all(clock=clock) == {State.SENT: 5}
    assert len(smtp_sink.to(ines.email)) == 1


def test_only_others_change_what_the_database_was(smtp_sink: SmtpSink) -> None:
    before = unchanged.version()
    factories.student("Ines")
    assert unchanged.version() == before
    elsewhere(lambda: factories.student("Tobias"))
    assert (unchanged.version() != before) == (connection.vendor == "sqlite")


def test_many_mails_cost_few_queries_each(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    queued([ready_piece(factories.student(f"Ann{number}")) for number in range(30)], clock=clock)
    with CaptureQueriesContext(connection) as queries:
        assert deliver_all(clock=clock) == {State.SENT: 30}
    assert len(queries) <= 30 * (16 if connection.vendor == "sqlite" else 56)
