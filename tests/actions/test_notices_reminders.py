"""The daily round: reminders in days or classes attended, quiet hours, last notice, what nobody came for."""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest

from studio.actions import mail_off, notices, notices_reminders, notices_review
from studio.actions.pieces_end import collect_pieces
from studio.actions.studio import save_studio
from studio.domain.problems import Refused
from studio.models import Holiday, Notice, NoticeRound, Person, Piece, SignInCode
from studio.queries.by_hand import by_hand
from studio.queries.unclaimed import unclaimed
from tests import factories
from tests.notifications.story import Clock, State, deliver_all, let_go, queued, ready_piece
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio(
        reminder_by="days",
        reminder_every=10,
        reminder_rounds=2,
        last_notice_days=14,
        pickup_weeks=6,
        reminders_wait=False,
    )


def day_by_day(clock: Clock, days: int) -> None:
    """The worker's round once a day."""
    for _ in range(days):
        clock.turn(days=1)
        notices_reminders.queue_reminders(now=clock())
        deliver_all(clock=clock)


def told(maker: Person, clock: Clock, count: int = 1) -> list[Piece]:
    pieces = [ready_piece(maker) for _ in range(count)]
    queued(pieces, clock=clock)
    deliver_all(clock=clock)
    return pieces


def kinds(sink: SmtpSink) -> list[str]:
    return [notice.kind for notice in Notice.objects.filter(state=State.SENT).order_by("sent_at")]


def test_ready_two_reminders_the_last_notice_and_then_no_more(smtp_sink: SmtpSink) -> None:
    clock, ines = Clock(), factories.student()
    [pot] = told(ines, clock)
    day_by_day(clock, 60)
    assert kinds(smtp_sink) == ["ready", "reminder", "reminder", "last"]
    days = [notice.sent_at.date() for notice in Notice.objects.order_by("sent_at")]
    assert [(day - days[0]).days for day in days] == [0, 10, 20, 28]  # six weeks less fourteen days
    last = Notice.objects.get(kind="last")
    until = days[0] + timedelta(weeks=6)
    assert last.promised_on == until
    mail = smtp_sink.mails[-1]
    assert mail.subject == f"Last notice: please collect by {until:%A} {until.day} {until:%B}"
    assert "may be kept by the studio or disposed of" in " ".join(mail.text.split())
    assert pot.mark in mail.text
    # A reminder names the day that the first mail promised.
    assert f"{until.day} {until:%B}" in smtp_sink.mails[1].text
    [row] = unclaimed(now=clock())
    assert (row.piece, row.until, row.is_over) == (pot, until, True)


def test_classes_attended_are_what_counts_where_the_studio_says_so(smtp_sink: SmtpSink) -> None:
    save_studio(by=None, reminder_by="classes", reminder_every=2)
    clock, ines, tobias = Clock(), factories.student(), factories.student("Tobias")
    told(ines, clock)
    told(tobias, clock)
    course = factories.course()
    for week, word in enumerate(("here", "away", "late")):
        meeting = factories.session(course, starts_at=clock() + timedelta(days=7 * week + 1))
        factories.attended(ines, meeting, word)
        factories.attended(tobias, meeting, "told-us")
    day_by_day(clock, 14)
    assert kinds(smtp_sink) == ["ready", "ready"]
    day_by_day(clock, 3)
    reminders = Notice.objects.filter(kind="reminder")
    assert [notice.recipient for notice in reminders] == [ines]  # whoever was ill is not reminded
    day_by_day(clock, 20)
    assert Notice.objects.filter(kind="reminder").count() == 1
    assert Notice.objects.filter(kind="last").count() == 2


def test_what_was_collected_meanwhile_is_in_no_reminder(smtp_sink: SmtpSink) -> None:
    clock, ines = Clock(), factories.student()
    one, two = told(ines, clock, count=2)
    collect_pieces(pieces=[one], by=factories.tutor(), client_id="c-1", now=clock())
    day_by_day(clock, 11)
    assert one.mark not in smtp_sink.mails[1].text
    assert two.mark in smtp_sink.mails[1].text
    save_studio(by=None, reminders_wait=True)
    clock.turn(days=10)
    [waiting] = notices_reminders.queue_reminders(now=clock())
    assert waiting.state == State.WAITING
    collect_pieces(pieces=[two], by=factories.tutor("Nell"), client_id="c-2", now=clock())
    waiting.refresh_from_db()
    assert waiting.state == State.DROPPED
    assert not NoticeRound.objects.filter(notice=waiting).exists()
    day_by_day(clock, 40)
    assert len(smtp_sink.mails) == 2


def test_reminders_wait_for_the_tutor_and_nothing_piles_up_meanwhile() -> None:
    save_studio(by=None, reminders_wait=True)
    clock, ines = Clock(), factories.student()
    pieces = [ready_piece(ines)]
    [notice] = queued(pieces, clock=clock)
    Notice.objects.filter(pk=notice.pk).update(state=State.SENT, sent_at=clock())
    for _ in range(25):
        clock.turn(days=1)
        notices_reminders.queue_reminders(now=clock())
    assert Notice.objects.filter(kind="reminder", state=State.WAITING).count() == 1


def test_ready_and_reminder_never_come_on_one_day(smtp_sink: SmtpSink) -> None:
    clock, ines = Clock(), factories.student()
    told(ines, clock)
    clock.turn(days=10)
    assert notices_reminders.queue_reminders(now=clock())
    assert not notices_reminders.queue_reminders(now=clock())
    new = ready_piece(ines)
    notices.queue_ready(pieces=[new], now=clock())
    let_go(clock=clock)
    clock.turn(minutes=16)
    deliver_all(clock=clock)
    assert len(smtp_sink.mails) == 2
    clock.turn(days=1)
    deliver_all(clock=clock)
    assert len(smtp_sink.mails) == 3
    assert sorted(kinds(smtp_sink)) == ["ready", "ready", "reminder"]


def test_quiet_hours_and_closed_days_hold_mail_back_until_they_end(smtp_sink: SmtpSink) -> None:
    save_studio(by=None, quiet_from=time(20), quiet_until=time(8, 30), closed_weekdays="67")
    clock, ines = Clock(), factories.student()
    friday = clock().replace(year=2025, month=11, day=21, hour=20, minute=30)
    assert friday.weekday() == 4
    Holiday.objects.create(name="Kiln repair", first_on=date(2025, 11, 24), last_on=date(2025, 11, 25))
    clock.now = friday - timedelta(minutes=16)
    [notice] = queued([ready_piece(ines)], clock=clock)
    assert deliver_all(clock=clock) == {}
    notice.refresh_from_db()
    assert notice.state == State.QUEUED
    # Saturday and Sunday have no mail, Monday and Tuesday are the holiday; London keeps UTC in winter.
    assert notice.not_before.isoformat() == "2025-11-26T08:30:00+00:00"
    clock.now = notice.not_before
    assert deliver_all(clock=clock) == {"sent": 1}
    assert notices_reminders.queue_reminders(now=friday) == []


def test_alarms_and_codes_know_no_quiet_hours(smtp_sink: SmtpSink) -> None:
    save_studio(by=None, quiet_from=time(0), quiet_until=time(23, 59))
    clock, maud = Clock(), factories.tutor()
    SignInCode.objects.create(
        person=maud, token="t" * 20, asked_at=clock(), expires_at=clock() + timedelta(minutes=10)
    )
    assert deliver_all(clock=clock) == {"sent": 1}


def test_who_stopped_reminders_gets_none_but_the_last_notice(smtp_sink: SmtpSink) -> None:
    clock, ines = Clock(), factories.student()
    told(ines, clock)
    mail_off.stop(person=ines, which="reminders", now=clock())
    day_by_day(clock, 50)
    assert kinds(smtp_sink) == ["ready", "last"]


def test_the_young_are_reminded_through_their_guardian(smtp_sink: SmtpSink) -> None:
    clock, ruth = Clock(), factories.guardian()
    sam = factories.young_person(guardian=ruth)
    told(sam, clock)
    day_by_day(clock, 50)
    assert len(smtp_sink.mails) == 4
    for mail in smtp_sink.mails:
        assert mail.recipients == (ruth.email,)
        assert "Sam" not in mail.subject


def test_without_an_address_they_are_on_the_list_to_tell_and_told_counts(smtp_sink: SmtpSink) -> None:
    clock, maud = Clock(), factories.tutor()
    ines = factories.student(email=None)
    pot = ready_piece(ines)
    notices.queue_ready(pieces=[pot], now=clock())
    [row] = by_hand(now=clock())
    assert (row.person, [notice.kind for notice in row.notices]) == (ines, ["ready"])
    notices_review.told_in_person(notice=row.notices[0], by=maud, now=clock())
    assert by_hand(now=clock()) == []
    day_by_day(clock, 28)
    found = {notice.kind: notice for row in by_hand(now=clock()) for notice in row.notices}
    assert "last" in found
    notices_review.told_in_person(notice=found["last"], by=maud, now=clock())
    found["last"].refresh_from_db()
    assert found["last"].promised_on is not None
    clock.turn(days=30)
    assert [row.piece for row in unclaimed(now=clock())] == [pot]
    assert not smtp_sink.mails


def test_what_is_kept_for_its_maker_is_left_alone_until_then(smtp_sink: SmtpSink) -> None:
    clock, ines = Clock(), factories.student()
    [pot] = told(ines, clock)
    Piece.objects.filter(pk=pot.pk).update(kept_until=(clock() + timedelta(days=70)).date())
    day_by_day(clock, 65)
    assert kinds(smtp_sink) == ["ready"]
    day_by_day(clock, 6)
    assert kinds(smtp_sink) == ["ready", "last"]


def test_a_reminder_refused_by_the_server_is_shown_and_tried_again(smtp_sink: SmtpSink) -> None:
    clock, ines = Clock(), factories.student()
    told(ines, clock)
    smtp_sink.refuse_recipient[ines.email] = "450 Mailbox busy"
    clock.turn(days=10)
    [notice] = notices_reminders.queue_reminders(now=clock())
    deliver_all(clock=clock)
    notice.refresh_from_db()
    assert notice.state == State.QUEUED
    assert "450 Mailbox busy" in notice.last_error
    smtp_sink.refuse_recipient.clear()
    clock.turn(minutes=2)
    assert deliver_all(clock=clock) == {"sent": 1}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"quiet_from": time(21)}, "Say from when and until when"),
        ({"closed_weekdays": "1234567"}, "Leave one day of the week"),
        ({"closed_weekdays": "8"}, "Choose days of the week."),
        ({"reminder_by": "moons"}, "way of counting reminders"),
        ({"last_notice_days": 0}, "days to come after the last notice"),
    ],
)
def test_settings_that_cannot_be_are_refused(changes: dict[str, object], said: str) -> None:
    with pytest.raises(Refused) as caught:
        save_studio(by=factories.tutor(), **changes)
    assert said in str(caught.value)
