"""Alarms of a burning kiln: raised once for a cause, mailed to the tutor at once, cleared when it is over."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from studio.domain.alarms import AlarmCause
from studio.domain.alarms import alarms as alarms_of
from studio.domain.say import say
from studio.models import Firing, FiringAlarm, Notice, Person, Reading, Role
from studio.queries import notices as notice_queries
from studio.queries.firing_live import watched

from .common import moment, must_be_tutor, refuse
from .loads import hold_firing, name_of

#: A cause that comes back so soon is the same one still: it is shown again, and nobody is told twice.
SAME_AGAIN = timedelta(minutes=30)


@transaction.atomic
def watch(*, firing: Firing, now: datetime | None = None) -> list[FiringAlarm]:
    """Look at one fire: raise what is amiss, clear what is over; returns what was raised.

    Called whenever a reading comes, and by the mail worker for a kiln that says nothing at all. In order:
    the firing is held, so that two lookers raise one alarm; what no longer holds is cleared; what is new is
    raised, with a notice to each tutor unless the firing's alarms are muted. No mail waits for a word.
    """
    now = moment(now)
    firing = hold_firing(firing)
    standing = {row.cause: row for row in firing.alarms.filter(cleared_at__isnull=True)}
    burns = firing.state == Firing.State.FIRING
    holds = {alarm.cause: alarm for alarm in alarms_of(watched(firing), now=now)} if burns else {}
    for cause, row in standing.items():
        if cause not in holds:
            FiringAlarm.objects.filter(pk=row.pk).update(cleared_at=now)
    raised = []
    for cause, alarm in holds.items():
        if cause not in standing and (row := _raise(firing, cause, alarm.sentence, now)):
            raised.append(row)
    return raised


def watch_all(*, now: datetime | None = None) -> int:
    """Look at every burning kiln; returns how many alarms were raised. The mail worker's round."""
    now = moment(now)
    burning = Firing.objects.filter(state=Firing.State.FIRING).order_by("number")
    return sum(len(watch(firing=firing, now=now)) for firing in burning)


def clear_all(*, firing: Firing, now: datetime) -> None:
    """The kiln is off: nothing is amiss with its fire any more."""
    firing.alarms.filter(cleared_at__isnull=True).update(cleared_at=now)


@transaction.atomic
def mute(*, firing: Firing, by: Person, now: datetime | None = None) -> Firing:
    """Send no mail about this fire. What is amiss is shown all the same. Muted already counts as done."""
    must_be_tutor(by)
    firing = hold_firing(firing)
    if firing.state != Firing.State.FIRING:
        refuse(
            "not-firing",
            say("{name_of} is not burning, so nothing is amiss with its fire.", name_of=name_of(firing)),
        )
    if firing.alarms_muted_at is None:
        firing.alarms_muted_at = moment(now)
        firing.save(update_fields=["alarms_muted_at"])
    return firing


@transaction.atomic
def unmute(*, firing: Firing, by: Person, now: datetime | None = None) -> Firing:
    """Send mail about this fire again, from the next thing amiss on."""
    must_be_tutor(by)
    firing = hold_firing(firing)
    if firing.alarms_muted_at is not None:
        firing.alarms_muted_at = None
        firing.save(update_fields=["alarms_muted_at"])
    return firing


def _raise(firing: Firing, cause: AlarmCause, sentence: str, now: datetime) -> FiringAlarm | None:
    earlier = firing.alarms.filter(cause=cause).order_by("-began_at", "-id").first()
    if earlier is not None:
        if cause == AlarmCause.SILENT and not firing.readings.exclude(source=Reading.Source.HAND).exists():
            return None  # somebody notes it by hand, now and then: once was a reminder, twice is a nuisance
        if now - earlier.cleared_at < SAME_AGAIN:
            FiringAlarm.objects.filter(pk=earlier.pk).update(cleared_at=None, sentence=sentence[:300])
            return None
    muted = firing.alarms_muted_at is not None
    row = FiringAlarm.objects.create(
        firing=firing, cause=cause, sentence=sentence[:300], began_at=now, muted=muted
    )
    if not muted:
        _tell_tutors(row, now)
    return row


def _tell_tutors(alarm: FiringAlarm, now: datetime) -> None:
    day = notice_queries.today(now)
    for tutor in Person.objects.filter(role=Role.TUTOR, left_at__isnull=True).order_by("pk"):
        if notice_queries.address_of(tutor, day):
            Notice.objects.create(
                key=f"alarm:{alarm.pk}:{tutor.pk}",
                kind=Notice.Kind.ALARM,
                recipient=tutor,
                state=Notice.State.QUEUED,
                alarm=alarm,
                made_at=now,
                not_before=now,
            )
