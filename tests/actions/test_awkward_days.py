"""Deadlines and histories on the days that calendars trip over: 01:30 on both Sundays on which the clocks
change in London, 29 February, the last minutes of a year.

The clocks change at 01:00 UTC on the last Sundays of March and October (Directive 2000/84/EC, which the
Summer Time Order 2002 took over): 01:30 comes twice in October, and never in March.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from studio.actions import notices_reminders, pieces, retention, sign_in
from studio.actions.studio import save_studio
from studio.domain.problems import Refused
from studio.models import Event, KeepingRun, Notice, Piece, Studio
from studio.queries.keeping import kept_to
from studio.queries.pieces_page import history_of
from studio.queries.unclaimed import unclaimed
from tests import factories
from tests.actions.replay import agrees
from tests.notifications.story import Clock, State, deliver_all, queued, ready_piece
from tests.support.smtp import SmtpSink
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

LONDON = ZoneInfo("Europe/London")
#: The moment in UTC, and the day it is in the studio.
MOMENTS = {
    "01:30, still summer time": (datetime(2025, 10, 26, 0, 30, tzinfo=UTC), date(2025, 10, 26)),
    "01:30 again, winter time": (datetime(2025, 10, 26, 1, 30, tzinfo=UTC), date(2025, 10, 26)),
    "a minute before spring": (datetime(2026, 3, 29, 0, 59, tzinfo=UTC), date(2026, 3, 29)),
    "02:30, as 01:30 never was": (datetime(2026, 3, 29, 1, 30, tzinfo=UTC), date(2026, 3, 29)),
    "half past midnight, weeks before": (datetime(2025, 10, 4, 23, 30, tzinfo=UTC), date(2025, 10, 5)),
    "29 February": (datetime(2028, 2, 29, 12, tzinfo=UTC), date(2028, 2, 29)),
    "the year's last minutes": (datetime(2027, 12, 31, 23, 45, tzinfo=UTC), date(2027, 12, 31)),
}


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio(time_zone="Europe/London", pickup_weeks=6, last_notice_days=14, reminders_wait=False)
    save_studio(by=None, reminder_by="days", reminder_every=10, reminder_rounds=2)


def mornings(clock: Clock, until: date) -> None:
    """The worker's round at nine by the studio's clock, every day up to this one."""
    day = clock().astimezone(LONDON).date() + timedelta(days=1)
    while day <= until:
        clock.now = datetime(day.year, day.month, day.day, 9, tzinfo=LONDON).astimezone(UTC)
        notices_reminders.queue_reminders(now=clock())
        deliver_all(clock=clock)
        day += timedelta(days=1)


@pytest.mark.parametrize("name", MOMENTS)
def test_reminders_and_the_last_day_fall_on_their_days(name: str, smtp_sink: SmtpSink) -> None:
    at, day = MOMENTS[name]
    clock = Clock(at - timedelta(minutes=16))
    pot = ready_piece(factories.student(), made_at=at - timedelta(days=30))
    queued([pot], clock=clock)
    assert clock() == at
    assert deliver_all(clock=clock) == {"sent": 1}
    until = day + timedelta(days=42)
    assert f"{until:%A} {until.day} {until:%B}" in smtp_sink.mails[0].text
    mornings(clock, until + timedelta(days=1))
    sent = Notice.objects.filter(state=State.SENT).order_by("sent_at")
    went = [(each.kind, (each.sent_at.astimezone(LONDON).date() - day).days) for each in sent]
    assert went == [("ready", 0), ("reminder", 10), ("reminder", 20), ("last", 28)]
    assert Notice.objects.get(kind="last").promised_on == until
    [row] = unclaimed(now=clock())
    assert (row.piece, row.until, row.is_over) == (pot, until, True)


@pytest.mark.parametrize("name", MOMENTS)
def test_the_weeks_that_a_piece_is_kept_are_counted_on_the_studios_calendar(name: str) -> None:
    at, day = MOMENTS[name]
    pot = factories.piece(stage="ready", made_at=at)
    Piece.objects.filter(pk=pot.pk).update(stage_since=at)
    pot.refresh_from_db()
    assert kept_to(pot, studio=Studio.the()) == day + timedelta(days=42)


@pytest.mark.parametrize("name", MOMENTS)
def test_ten_minutes_are_ten_minutes(name: str, smtp_sink: SmtpSink) -> None:
    at, _ = MOMENTS[name]
    for minutes, lets_in in ((9.9, True), (10, False)):
        ines = factories.student()
        clock = Clock(at - timedelta(minutes=5))
        sign_in.ask_code(email=ines.email, requester_key="10.0.0.1", now=clock())
        deliver_all(clock=clock)
        secret = smtp_sink.mails[-1].text.partition("/enter/")[2].partition("/")[0]
        opened = {"secret": secret, "requester_key": "10.0.0.1", "now": clock() + timedelta(minutes=minutes)}
        if lets_in:
            assert sign_in.use_link(**opened) == ines
        else:
            with pytest.raises(Refused):
                sign_in.use_link(**opened)


def test_what_happened_at_half_past_one_twice_is_told_in_order() -> None:
    """By the clock on the wall the second scan is as late as the first, or earlier."""
    ivo, shelves = (
        factories.helper(),
        [factories.shelf("One"), factories.shelf("Two"), factories.shelf("Three")],
    )
    pot = factories.piece(stage="ready", made_at=datetime(2025, 10, 1, 12, tzinfo=UTC), by=ivo)
    moments = [datetime(2025, 10, 26, *hour, tzinfo=UTC) for hour in ((0, 45), (1, 30), (1, 40))]
    for shelf, at in zip(shelves, moments, strict=True):
        pieces.put_on_shelf(piece=pot, shelf=shelf, by=ivo, client_id=factories.client_id(), at=at, now=at)
    told = [each for each in history_of(pot) if each.to_shelf_id and each.kind == Event.Kind.SHELVED]
    assert [each.to_shelf.name for each in told] in (["One", "Two", "Three"], ["Three", "Two", "One"])
    pot.refresh_from_db()
    assert (pot.shelf, agrees(pot)) == (shelves[2], True)
    page = signed_in(factories.tutor()).get(f"/pieces/{pot.code}/").content.decode()
    assert page.count("01:45") == 1
    assert page.count("01:30") == 1


@pytest.mark.parametrize("name", MOMENTS)
def test_the_daily_run_is_once_a_day_of_the_studio(name: str) -> None:
    at, day = MOMENTS[name]
    assert retention.daily_run(now=at).day == day
    assert retention.daily_run(now=at + timedelta(minutes=10)) is None
    later = datetime(day.year, day.month, day.day, 22, tzinfo=LONDON)
    if later > at:
        assert retention.daily_run(now=later) is None
    assert retention.daily_run(now=later + timedelta(hours=2, minutes=1)) is not None
    assert list(KeepingRun.objects.order_by("day").values_list("day", flat=True)) == [
        day,
        day + timedelta(days=1),
    ]
