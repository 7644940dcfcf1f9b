"""Signed-in devices: noted when somebody signs in, looked at with every page, ended by their owner.

A session that nobody noted (made by a test, or before there were devices) is noted when it is first seen. An
ended one is known by its row, so it stays ended even while its browser still holds the session's key.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime, timedelta

from django.contrib.sessions.models import Session
from django.db import DatabaseError, transaction
from django.db.models import QuerySet

from studio.domain.devices import device_words
from studio.domain.say import say
from studio.models import Device, Person, Studio
from studio.queries import devices as queries

from .common import moment, must_be_tutor, refuse

#: "Last seen" is written no oftener than this.
SEEN_EVERY = timedelta(minutes=5)


def note_device(*, person: Person, session_key: str, user_agent: str, now: datetime | None = None) -> Device:
    """Note that this person is signed in by this session. Noted once, however many pages ask at once."""
    now = moment(now)
    return Device.objects.get_or_create(
        session_key=session_key,
        defaults={
            "person": person,
            "name": device_words(user_agent),
            "signed_in_at": now,
            "seen_at": now,
        },
    )[0]


def still_in(
    *, person: Person, session_key: str, user_agent: str, studio: Studio, now: datetime | None = None
) -> bool:
    """Whether this session still lets this person in: not ended, not older than the studio's days.

    Asks once; writes at most every five minutes. A database that takes no writes shows its pages still.
    """
    now = moment(now)
    device = Device.objects.filter(session_key=session_key).first()
    if device is None:
        with suppress(DatabaseError):
            device = note_device(person=person, session_key=session_key, user_agent=user_agent, now=now)
    if device is None:
        return True
    if device.ended_at is not None or device.person_id != person.pk:
        return False
    if device.signed_in_at <= now - queries.lasts(person, studio):
        return False
    if device.seen_at <= now - SEEN_EVERY:
        with suppress(DatabaseError):
            Device.objects.filter(pk=device.pk, seen_at__lte=now - SEEN_EVERY).update(seen_at=now)
    return True


@transaction.atomic
def end_device(*, device: Device, by: Person, now: datetime | None = None) -> None:
    """Sign one device out, at its next page. One's own; the tutor also another's."""
    if device.person_id != by.pk:
        must_be_tutor(by)
    _end(Device.objects.filter(pk=device.pk), moment(now))


@transaction.atomic
def end_devices(
    *, person: Person, by: Person | None, but_session: str = "", now: datetime | None = None
) -> int:
    """Sign somebody out everywhere, but in one session; returns how many devices that were.

    One's own; the tutor also another's. ``by`` None is the studio itself: somebody left, a password changed.
    """
    if by is not None and person.pk != by.pk:
        must_be_tutor(by)
    return _end(Device.objects.filter(person=person).exclude(session_key=but_session), moment(now))


def own_device(*, code: str, person: Person) -> Device:
    """A device of this person's that is not ended. One of somebody else's is refused as if it never was."""
    device = Device.objects.filter(code=code, person=person, ended_at__isnull=True).first()
    if device is None:
        refuse("no-device", say("That device is not signed in any more. Nothing needs to be done."))
    return device


def _end(devices: QuerySet[Device], now: datetime) -> int:
    keys = list(devices.filter(ended_at__isnull=True).values_list("session_key", flat=True))
    ended = devices.filter(ended_at__isnull=True).update(ended_at=now)
    Session.objects.filter(session_key__in=keys).delete()
    return ended
