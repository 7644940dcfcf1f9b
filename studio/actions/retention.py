"""How long things about people are kept, and the daily run that lets them go when their time is over.

Every step looks for what is older than its period, so a run that was missed is made up for by the next, and
one that died half way is simply done again.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, time, timedelta

from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import F, Q

from studio.domain.calendar_days import months_after
from studio.domain.problems import Refused
from studio.domain.retention import Did
from studio.domain.say import later
from studio.models import (
    Attendance,
    AttendanceSaid,
    Device,
    KeepingPeriods,
    KeepingRun,
    Notice,
    Person,
    Proposal,
    Waiting,
)
from studio.queries import personal
from studio.queries import retention as queries
from studio.queries.notices import OPEN

from . import sign_in
from .common import clean_whole, local_day, moment, must_be_tutor, save_checked, studio_zone
from .erasing import clean_database_file, erase_person
from .photos import sweep_photos

log = logging.getLogger("studio.retention")

#: A run that has not ended by then has died, and another takes it up.
HELD_FOR = timedelta(minutes=30)
#: Signed-out devices, for whoever looks where they were signed in.
DEVICES_KEPT = timedelta(days=90)
#: Loads that were worked out and never taken: what waits is another by then.
PROPOSALS_KEPT = timedelta(days=30)
#: What the runs did is kept this long.
RUNS_KEPT = timedelta(days=400)

#: column -> (what it is called, least, most)
_PERIODS = {
    "left_months": (later("months after which people who left are erased"), 0, 240),
    "mail_months": (later("months that words of mails are kept"), 0, 240),
    "register_months": (later("months that registers are kept"), 0, 240),
    "waiting_months": (later("months that ended waits are kept"), 0, 240),
    "care_days": (later("days that health notes are kept after somebody left"), 1, 365),
}


@transaction.atomic
def save_periods(*, by: Person, **periods: object) -> KeepingPeriods:
    """Change the periods that are named; the rest stay. The next daily run goes by them."""
    must_be_tutor(by)
    KeepingPeriods.objects.get_or_create(pk=1)
    row = KeepingPeriods.objects.select_for_update(no_key=True).get(pk=1)
    for column, value in periods.items():
        label, least, most = _PERIODS[column]
        setattr(row, column, clean_whole(value, label=label, least=least, most=most))
    save_checked(row)
    return row


def daily_run(*, now: datetime | None = None) -> KeepingRun | None:
    """Today's run, or None where it is done or another worker has it. Asking again costs one question."""
    now = moment(now)
    day = local_day(now)
    run = _take_up(day, now)
    if run is None:
        return None
    periods, did = KeepingPeriods.the(), []
    for code, step in _steps(periods, day, now):
        if count := step():
            did.append([code, count])
    clean_database_file()
    run.did, run.done_at = did, now
    run.save(update_fields=["did", "done_at"])
    KeepingRun.objects.filter(day__lt=day - RUNS_KEPT).delete()
    log.info(
        "Daily run of %s: %s", day, ", ".join(f"{count} {code}" for code, count in did) or "nothing to do"
    )
    return run


def _take_up(day: date, now: datetime) -> KeepingRun | None:
    run, made = KeepingRun.objects.get_or_create(
        day=day, defaults={"started_at": now, "held_until": now + HELD_FOR}
    )
    if made:
        return run
    if run.done_at is not None:
        return None
    died = KeepingRun.objects.filter(pk=run.pk, done_at__isnull=True, held_until__lte=now)
    return run if died.update(held_until=now + HELD_FOR) else None


def _steps(periods: KeepingPeriods, day: date, now: datetime) -> Iterator[tuple[Did, Callable[[], int]]]:
    """In this order; each its own transaction."""

    def since(months: int) -> datetime:
        start = datetime.combine(months_after(day, -months), time(), studio_zone())
        return start.astimezone(UTC)

    if periods.left_months:
        erased = [0, 0]
        yield Did.ERASED, lambda: _erase_left(since(periods.left_months), now, erased)
        yield Did.NOT_ERASED, lambda: erased[1]
    yield Did.CARE_NOTES, lambda: _forget_care_notes(now - timedelta(days=periods.care_days))
    if periods.mail_months:
        yield Did.MAILS, lambda: _forget_mails(since(periods.mail_months))
    if periods.register_months:
        yield Did.REGISTERS, lambda: _forget_registers(since(periods.register_months))
    if periods.waiting_months:
        yield Did.WAITS, lambda: _forget_waits(since(periods.waiting_months))
    yield Did.DEVICES, lambda: _forget_devices(now - DEVICES_KEPT)
    yield Did.CODES, lambda: sign_in.tidy(now=now)
    yield Did.SESSIONS, lambda: Session.objects.filter(expire_date__lt=now).delete()[0]
    yield Did.PROPOSALS, lambda: _forget_proposals(now - PROPOSALS_KEPT)
    swept = []
    yield Did.PHOTOS, lambda: _sweep(swept, now)
    yield Did.FILES, lambda: swept[0].files


def _erase_left(before: datetime, now: datetime, counts: list[int]) -> int:
    # Young people first, as their guardians cannot be erased before them.
    for person in queries.left_before(before).order_by(F("guardian_id").desc(nulls_last=True), "pk"):
        try:
            erase_person(person=person, by=None, now=now)
            counts[0] += 1
        except Refused:
            counts[1] += 1
    return counts[0]


def _forget_care_notes(before: datetime) -> int:
    empty = dict.fromkeys(queries.CARE_NOTES, "")
    held = Person.objects.filter(left_at__lt=before).exclude(**empty)
    return held.update(**empty)


def _forget_mails(before: datetime) -> int:
    empty = dict.fromkeys(personal.MAIL_WORDS, "")
    return Notice.objects.filter(made_at__lt=before).exclude(state__in=OPEN).exclude(**empty).update(**empty)


@transaction.atomic
def _forget_registers(before: datetime) -> int:
    went = Attendance.objects.filter(session__starts_at__lt=before).delete()[0]
    AttendanceSaid.objects.filter(session__starts_at__lt=before).delete()
    return went


def _forget_waits(before: datetime) -> int:
    over = Q(state__in=queries.ENDED_WAITS) & (Q(ended_at__lt=before) | Q(ended_at=None, asked_at__lt=before))
    return Waiting.objects.filter(over).delete()[0]


def _forget_devices(before: datetime) -> int:
    return Device.objects.filter(
        Q(ended_at__lt=before) | Q(seen_at__lt=before - timedelta(days=365))
    ).delete()[0]


def _forget_proposals(before: datetime) -> int:
    return Proposal.objects.filter(asked_at__lt=before, taken_at=None).delete()[0]


def _sweep(swept: list, now: datetime) -> int:
    swept.append(sweep_photos(now=now))
    return swept[0].rows
