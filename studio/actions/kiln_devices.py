"""Small devices that post a kiln's temperature: made by the tutor, ended, and heard by their tokens alone."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction

from studio.domain.say import say
from studio.models import Firing, Kiln, KilnDevice, Person, Reading

from .alarms import watch
from .common import clean_client_id, clean_text, moment, must_be_tutor, refuse, save_checked
from .loads import hold_firing
from .readings import LEEWAY

#: Posts a device may send in a minute, and readings in one post.
MOST_POSTS_A_MINUTE = 60
MOST_READINGS = 1000
#: A reading without a time of its own is the same as one so near to it with the same temperature.
_SAME = timedelta(seconds=5)
_OLDEST_S = 30 * 24 * 3600.0
#: Its kiln burns or cools: only then are a device's readings kept.
_HEARD = (Firing.State.FIRING, Firing.State.COOLING)


class UnknownTokenError(Exception):
    """No device has this token, or not any more. Nobody is told which."""


class TooOftenError(Exception):
    """The device posts more often than it may."""


@dataclass(frozen=True, slots=True)
class Posted:
    """A reading as posted: its own time, or its age in seconds, or neither for this moment."""

    celsius: Decimal
    at: datetime | None = None
    age_s: float | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """What became of a post: ``kept`` new readings, ``known`` ones, ``left_out`` for lying outside the
    firing; ``words`` say it."""

    kept: int
    known: int
    left_out: int
    firing: Firing | None
    words: str


@transaction.atomic
def make_device(
    *, kiln: Kiln, name: str, by: Person, client_id: str, now: datetime | None = None
) -> tuple[KilnDevice, str]:
    """A device and its token. The token can't be found out again: sent twice, the second answer has none."""
    must_be_tutor(by)
    clean_client_id(client_id)
    made = KilnDevice.objects.filter(client_id=client_id).first()
    if made is not None:
        return made, ""
    if kiln.retired_at is not None:
        refuse("kiln-retired", say("{name} is out of use. Take it back into use first.", name=kiln.name))
    token = secrets.token_urlsafe(24)
    device = KilnDevice(
        kiln=kiln,
        name=clean_text(name, label=say("name of the device"), longest=40, required=True),
        token_hash=_hash(token),
        client_id=client_id,
        made_at=moment(now),
        made_by=by,
    )
    save_checked(device)
    return device, token


@transaction.atomic
def end_device(*, device: KilnDevice, by: Person, now: datetime | None = None) -> KilnDevice:
    """Its token is worth nothing from now on; what it has posted stays. Ended already counts as done."""
    must_be_tutor(by)
    KilnDevice.objects.filter(pk=device.pk, ended_at__isnull=True).update(ended_at=moment(now))
    device.refresh_from_db()
    return device


def device_of(token: str) -> KilnDevice:
    """The device with this token. Raises `UnknownTokenError` for an unknown, an ended and an empty one alike.

    It is looked for by its hash, so the time it takes tells nothing of the token.
    """
    device = KilnDevice.objects.filter(token_hash=_hash(token)).select_related("kiln").first()
    if device is None or device.ended_at is not None or not token:
        raise UnknownTokenError
    return device


@transaction.atomic
def hear(*, device: KilnDevice, posted: Sequence[Posted], now: datetime | None = None) -> Heard:
    """Take what a device posts. In any order and any number of times, each reading is kept once.

    In order: the post is counted (`TooOftenError`, and nothing is written); the device's last word is noted;
    the kiln's burning or cooling firing is held; readings outside it are left out; a moment noted already
    keeps what is noted; alarms are looked at. Without such a firing nothing is kept, and the answer says so.
    """
    now = moment(now)
    _count(device, now)
    if len(posted) > MOST_READINGS:
        refuse(
            "too-many-readings",
            say(
                "{most_readings} readings at most fit in one post. Send several.",
                most_readings=format(MOST_READINGS, ","),
            ),
        )
    if not posted:
        refuse("no-readings", say("There is no reading in this post. Send temperature_c."))
    timed = [(_moment_of(one, now), one) for one in posted]
    last = max(timed, key=lambda pair: pair[0])[1]
    KilnDevice.objects.filter(pk=device.pk).update(heard_at=now, last_c=last.celsius)
    firing = Firing.objects.filter(kiln=device.kiln_id, state__in=_HEARD).first()
    if firing is None:
        words = say("No firing of {name} is burning or cooling, so nothing is kept.", name=device.kiln.name)
        return Heard(0, 0, 0, None, words)
    firing = hold_firing(firing)
    inside = [(at, one) for at, one in timed if firing.lit_at - LEEWAY <= at <= now + LEEWAY]
    fresh = _new_ones(firing, inside)
    Reading.objects.bulk_create(
        (
            Reading(firing=firing, at=at, temperature_c=celsius, source=Reading.Source.POSTED)
            for at, celsius in fresh.items()
        ),
        ignore_conflicts=True,
    )
    if fresh:
        watch(firing=firing, now=now)
    left_out, known = len(timed) - len(inside), len(inside) - len(fresh)
    words = say(
        "{count} kept for firing {number}, {known} known already.",
        count=len(fresh),
        number=firing.number,
        known=known,
    )
    if left_out:
        words += say(
            " {left_out} left out: from before the kiln was lit, or in the future. Check the clock.",
            left_out=left_out,
        )
    return Heard(len(fresh), known, left_out, firing, words)


def _hash(token: str) -> str:
    # The token has 192 bits of chance in it, so a plain hash can't be turned round.
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def _count(device: KilnDevice, now: datetime) -> None:
    """One more post this minute; a new minute begins at nought. Posts of one device wait for each other."""
    row = KilnDevice.objects.select_for_update(no_key=True).get(pk=device.pk)
    began = row.minute_began_at
    if began is None or not began <= now < began + timedelta(minutes=1):
        row.minute_began_at, row.posts_in_minute = now, 0
    if row.posts_in_minute >= MOST_POSTS_A_MINUTE:
        raise TooOftenError
    row.posts_in_minute += 1
    row.save(update_fields=["minute_began_at", "posts_in_minute"])


def _moment_of(one: Posted, now: datetime) -> datetime:
    if one.at is not None:
        return moment(one.at)
    if one.age_s is None:
        return now
    return (now - timedelta(seconds=min(max(one.age_s, 0.0), _OLDEST_S))).replace(microsecond=0)


def _new_ones(firing: Firing, inside: Sequence[tuple[datetime, Posted]]) -> dict[datetime, Decimal]:
    """Those whose moment is not noted yet; of two for one moment, the first."""
    if not inside:
        return {}
    moments = [at for at, _ in inside]
    known = dict(
        firing.readings.filter(at__gte=min(moments) - _SAME, at__lte=max(moments) + _SAME)
        .order_by()
        .values_list("at", "temperature_c")
    )
    fresh: dict[datetime, Decimal] = {}
    for at, one in inside:
        near = [celsius for seen, celsius in [*known.items(), *fresh.items()] if abs(seen - at) <= _SAME]
        if at in known or at in fresh or (one.at is None and one.celsius in near):
            continue
        fresh[at] = one.celsius
    return fresh
