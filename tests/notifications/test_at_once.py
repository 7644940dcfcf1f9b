"""Several devices at once: their events and the notices that follow never wait for each other in a circle."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable

import pytest
from django.db import connections

from studio.actions import notices, notices_reminders, pieces, pieces_change
from studio.domain.stages import Stage
from studio.models import Notice, NoticePiece, NoticeRound
from studio.notifications import outbox
from tests import factories
from tests.notifications.story import Clock, State, deliver_all, let_go, ready_piece, tutor
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db(transaction=True)


def together(works: list[Callable[[], object]]) -> None:
    """Each in a thread and with a connection of its own, all starting at the same moment."""
    barrier = threading.Barrier(len(works))
    faults: list[BaseException] = []

    def run(work: Callable[[], object]) -> None:
        try:
            barrier.wait(10)
            work()
        except BaseException as fault:
            faults.append(fault)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not faults, faults


def test_eight_pieces_of_one_maker_become_ready_at_the_same_moment() -> None:
    factories.studio()
    by = tutor()
    ines = factories.student()
    fired = [factories.piece(maker=ines, stage=Stage.FIRED) for _ in range(8)]
    together(
        [
            lambda piece=piece: pieces.move_piece(
                piece=piece, to=Stage.READY, by=by, client_id=factories.client_id()
            )
            for piece in fired
        ]
    )
    [notice] = Notice.objects.all()
    assert set(notice.pieces.all()) == set(fired)


def test_pieces_change_hands_both_ways_while_a_worker_leases() -> None:
    factories.studio(notice_grace_minutes=0)
    by = tutor()
    ines, tobias = factories.student(), factories.student("Tobias")
    hers = [ready_piece(ines) for _ in range(4)]
    his = [ready_piece(tobias) for _ in range(4)]
    clock = Clock()
    notices.queue_ready(pieces=[*hers, *his], now=clock())
    let_go(clock=clock)

    def give(piece, maker):
        return lambda: pieces_change.give_piece(
            piece=piece, maker=maker, by=by, client_id=factories.client_id()
        )

    works = [give(piece, tobias) for piece in hers] + [give(piece, ines) for piece in his]
    works.append(lambda: outbox.lease("mail:1", clock()))
    together(works)
    # Each piece is on exactly one notice that has not been dropped, and that is its new maker's.
    for piece, maker in [*((piece, tobias) for piece in hers), *((piece, ines) for piece in his)]:
        open_ones = NoticePiece.objects.filter(piece=piece).exclude(notice__state=State.DROPPED)
        assert {link.notice.recipient for link in open_ones if link.notice.state != State.SENDING} == {maker}


def test_reminders_missed_for_three_days_and_then_asked_for_by_four_workers_at_once(
    smtp_sink: SmtpSink,
) -> None:
    """One reminder a person and round, whoever queues it: the key is person, kind, piece and round."""
    factories.studio(reminder_by="days", reminder_every=10, reminder_rounds=2, reminders_wait=False)
    clock = Clock()
    students = [factories.student() for _ in range(6)]
    pots = [ready_piece(student) for student in students for _ in range(2)]
    notices.queue_ready(pieces=pots, now=clock())
    let_go(clock=clock)
    clock.turn(minutes=16)
    deliver_all(clock=clock)
    clock.turn(days=13)
    together([lambda: notices_reminders.queue_reminders(now=clock()) for _ in range(4)])
    reminders = Notice.objects.filter(kind=Notice.Kind.REMINDER)
    assert sorted(reminders.values_list("recipient", flat=True)) == sorted(one.pk for one in students)
    assert NoticeRound.objects.count() == len(pots)
    together([lambda number=number: deliver_all(clock=clock, worker=f"mail:{number}") for number in range(4)])
    assert Counter(reminders.values_list("state", flat=True)) == {"sent": len(students)}
    told = Counter(mail.recipients[0] for mail in smtp_sink.mails)
    assert told == {student.email: 2 for student in students}, "what is ready, and one reminder"
    together([lambda: notices_reminders.queue_reminders(now=clock()) for _ in range(2)])
    assert reminders.count() == len(students)
