"""Readings by hand and from a controller's file: looked at first, saved whole or not at all, taken back."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal, InvalidOperation

from django.db import transaction

from studio.domain.problems import Problem, Refused
from studio.domain.readings import COLDEST_C, HOTTEST_C, order_problems
from studio.domain.readings_file import Choice, FileRead, look_at
from studio.domain.say import later, say
from studio.models import Firing, Person, Reading, ReadingsFile

from .alarms import watch
from .common import clean_text, moment, must_be_staff, refuse, refuse_all, studio_zone
from .loads import hold_firing, name_of
from .readings_insert import insert_readings

#: A controller's clock and the phone's may differ by this much.
LEEWAY = timedelta(minutes=10)
#: A file that nobody saved is forgotten after this.
KEPT = timedelta(days=1)
#: A temperature noted for a moment stands; a file that differs from it by more than this is another kiln's.
_ANOTHER_KILN_C = Decimal(25)


@dataclass(frozen=True, slots=True)
class Saved:
    """What a file brought: ``fresh`` new readings; ``known`` were there; ``kept`` stand as noted before."""

    fresh: int
    known: int
    kept: int


@transaction.atomic
def note_reading(
    *,
    firing: Firing,
    temperature_c: Decimal | int | str,
    by: Person,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Reading:
    """Write down a temperature read by hand, and look whether anything is amiss.

    The same reading sent twice is one; another one at the same moment takes its place, as when a figure was
    mistyped.
    """
    must_be_staff(by)
    now = moment(now)
    firing = _burning(firing)
    at = moment(at) if at else now
    celsius = clean_temperature(temperature_c)
    _refuse_outside(firing, [(at, celsius)], now)
    reading, _ = Reading.objects.update_or_create(
        firing=firing, at=at, defaults={"temperature_c": celsius, "source": Reading.Source.HAND, "by": by}
    )
    watch(firing=firing, now=now)
    return reading


@transaction.atomic
def drop_reading(*, reading: Reading, by: Person, now: datetime | None = None) -> None:
    """Take back a reading that was a mistake; gone already counts as done."""
    must_be_staff(by)
    firing = hold_firing(reading.firing)
    _refuse_over(firing)
    Reading.objects.filter(pk=reading.pk).delete()
    watch(firing=firing, now=now)


@transaction.atomic
def import_readings(
    *, firing: Firing, rows: Iterable[tuple[datetime, Decimal]], by: Person, now: datetime | None = None
) -> int:
    """Add readings, all of them or none; returns how many were new. Read twice they add nothing.

    Refused when one lies outside the firing, or differs from what is noted for the same moment.
    """
    must_be_staff(by)
    now = moment(now)
    firing = _burning(firing)
    rows = [(moment(at), celsius) for at, celsius in rows]
    known = dict(firing.readings.values_list("at", "temperature_c"))
    clashes = [(at, known[at]) for at, _ in rows if at in known]
    _refuse_outside(firing, [*clashes, *rows], now)
    fresh = {at: celsius for at, celsius in rows if at not in known}
    insert_readings(firing, list(fresh.items()), source=Reading.Source.IMPORTED, by=by)
    watch(firing=firing, now=now)
    return len(fresh)


@transaction.atomic
def keep_file(
    *, firing: Firing, name: str, text: str, by: Person, now: datetime | None = None
) -> ReadingsFile:
    """Keep a controller's file to look at; nothing is read in yet. The same file again is the one kept."""
    must_be_staff(by)
    now = moment(now)
    firing = _burning(firing)
    data = text.encode("utf-8", "replace")
    sha256 = hashlib.sha256(data).hexdigest()
    waiting = firing.readings_files.filter(sha256=sha256, by=by, saved_at__isnull=True).first()
    if waiting is not None:
        return waiting
    name = clean_text(
        "".join(sign for sign in name if sign.isprintable())[-120:], label=later("file"), longest=120
    )
    return ReadingsFile.objects.create(
        firing=firing,
        name=name or "Readings",
        data=zlib.compress(data, 1),
        sha256=sha256,
        by=by,
        made_at=now,
    )


def look(*, file: ReadingsFile, choice: Choice | None = None, now: datetime | None = None) -> FileRead:
    """What is understood of a file that was kept. Changes nothing. Raises `Refused` for one saved already."""
    if file.saved_at is not None or not file.data:
        refuse("file-saved", say("This file is in already. Send it again to look at it once more."))
    return look_at(
        zlib.decompress(bytes(file.data)).decode(),
        lit_at=file.firing.lit_at,
        zone=studio_zone(),
        earliest=file.firing.lit_at - LEEWAY,
        latest=moment(now) + LEEWAY,
        choice=choice,
    )


@transaction.atomic
def save_file(
    *, file: ReadingsFile, by: Person, choice: Choice | None = None, now: datetime | None = None
) -> Saved:
    """Read a kept file in, whole or not at all. Saved already counts as done.

    In order: the file is read again, as the choice says; refused while anything in it is wrong or open; what
    is noted for a moment stands, unless it differs so far that the file is another kiln's; the rest is added;
    the file's own bytes are let go; alarms are looked at.
    """
    must_be_staff(by)
    now = moment(now)
    firing = _burning(file.firing)
    row = ReadingsFile.objects.select_for_update(no_key=True).get(pk=file.pk)
    if row.saved_at is not None:
        return Saved(row.brought, 0, 0)
    row.firing = firing
    found = look(file=row, choice=choice, now=now)
    found.refuse_unready()
    known = dict(
        firing.readings.filter(at__gte=found.rows[0][0], at__lte=found.rows[-1][0])
        .order_by()
        .values_list("at", "temperature_c")
    )
    refuse_all(_another_kiln(found, known))
    fresh = [(at, celsius) for at, celsius in found.rows if at not in known] if known else found.rows
    insert_readings(firing, fresh, source=Reading.Source.IMPORTED, by=by, file=row)
    row.saved_at, row.brought, row.data = now, len(fresh), b""
    row.save(update_fields=["saved_at", "brought", "data"])
    watch(firing=firing, now=now)
    same = sum(known.get(at) == celsius for at, celsius in found.rows) if known else 0
    return Saved(len(fresh), same, len(found.rows) - len(fresh) - same)


@transaction.atomic
def take_back_file(*, file: ReadingsFile, by: Person, now: datetime | None = None) -> int:
    """Strike out every reading that a file brought; returns how many. Taken back already counts as done."""
    must_be_staff(by)
    now = moment(now)
    firing = hold_firing(file.firing)
    _refuse_over(firing)
    gone = firing.readings.filter(file=file).delete()[0]
    ReadingsFile.objects.filter(pk=file.pk, taken_back_at__isnull=True).update(taken_back_at=now)
    watch(firing=firing, now=now)
    return gone


def forget_files(*, now: datetime | None = None) -> int:
    """Delete files that were looked at and never saved; returns how many. The mail worker's round."""
    old = ReadingsFile.objects.filter(saved_at__isnull=True, made_at__lt=moment(now) - KEPT)
    return old.delete()[0]


def clean_temperature(value: Decimal | int | str) -> Decimal:
    """A temperature of a kiln in °C, to a tenth."""
    try:
        celsius = Decimal(str(value).strip().replace(",", ".")).quantize(Decimal("0.1"))
    except InvalidOperation:
        refuse("no-temperature", say("That is no temperature. Write the number of °C."))
    if not celsius.is_finite() or not COLDEST_C <= celsius <= HOTTEST_C:
        refuse(
            "no-temperature", say("{celsius} °C is no temperature of a kiln. Read it again.", celsius=celsius)
        )
    return celsius


def _another_kiln(found: FileRead, known: dict[datetime, Decimal]) -> list[Problem]:
    clashes = [
        (at, celsius)
        for at, celsius in found.rows
        if (noted := known.get(at)) is not None and abs(noted - celsius) > _ANOTHER_KILN_C
    ]
    return [
        Problem(
            "clash",
            say(
                "Line {line_of}: {celsius} °C, but {known} °C is noted for that moment. Is the file "
                "another kiln's, or in °F?",
                line_of=found.line_of[at],
                celsius=celsius,
                known=known[at],
            ),
        )
        for at, celsius in clashes[:5]
    ]


def _refuse_over(firing: Firing) -> None:
    if firing.state not in {Firing.State.FIRING, Firing.State.COOLING}:
        refuse(
            "not-burning",
            say("{name_of} is over: its readings stand as its record.", name_of=name_of(firing)),
        )


def _burning(firing: Firing) -> Firing:
    firing = hold_firing(firing)
    if firing.lit_at is None or firing.state == Firing.State.CANCELLED:
        refuse(
            "not-lit",
            say("{name_of} has not been lit, so it has no temperatures yet.", name_of=name_of(firing)),
        )
    return firing


def _refuse_outside(firing: Firing, rows: list[tuple[datetime, Decimal]], now: datetime) -> None:
    problems = order_problems(rows, earliest=firing.lit_at - LEEWAY, latest=now + LEEWAY, zone=studio_zone())
    if problems:
        raise Refused(problems)
