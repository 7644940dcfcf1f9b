"""The care of kilns: noting what was done, putting it right, and how often a reminder speaks."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal, InvalidOperation

from django.db import transaction

from studio.domain.kiln_care import (
    CARE_WORDS,
    LICENSED,
    MOST_FIRINGS,
    MOST_MONTHS,
    REMINDED,
    CareKind,
)
from studio.domain.say import date_words, later, say
from studio.models import CareReminder, CareSilence, Kiln, KilnCare, Person

from .common import (
    clean_choice,
    clean_client_id,
    clean_text,
    clean_whole,
    local_day,
    moment,
    must_be_tutor,
    refuse,
    save_checked,
)

_OLDEST = date(1970, 1, 1)
_MOST_OHM = Decimal(10_000)
_LONGEST_SILENCE = timedelta(days=366)


@transaction.atomic
def note_care(
    *,
    kiln: Kiln,
    kind: str,
    done_on: date,
    by: Person,
    client_id: str,
    done_by: str = "",
    note: str = "",
    ohm: Decimal | str | None = None,
    now: datetime | None = None,
) -> KilnCare:
    """Write down what was done to a kiln on a day. Work on the wiring names who did it.

    ``ohm`` is the resistance of all elements together, as measured. Sent twice it is written once.
    """
    must_be_tutor(by)
    if done := _noted(kiln, client_id):
        return done
    row = KilnCare(kiln=kiln, client_id=clean_client_id(client_id))
    _fill(row, kind=kind, done_on=done_on, done_by=done_by, note=note, ohm=ohm, by=by, now=moment(now))
    save_checked(row)
    return row


@transaction.atomic
def correct_care(
    *,
    care: KilnCare,
    kind: str,
    done_on: date,
    by: Person,
    client_id: str,
    done_by: str = "",
    note: str = "",
    ohm: Decimal | str | None = None,
    now: datetime | None = None,
) -> KilnCare:
    """Put an entry right: the old one is taken back and stays to be read, a new one says what is true."""
    must_be_tutor(by)
    if done := _noted(care.kiln, client_id):
        return done
    now = moment(now)
    old = _hold(care)
    if old.taken_back_at is not None:
        refuse("care-taken-back", say("This entry was taken back already. Correct the one that counts."))
    row = KilnCare(kiln=old.kiln, client_id=clean_client_id(client_id), replaces=old)
    _fill(row, kind=kind, done_on=done_on, done_by=done_by, note=note, ohm=ohm, by=by, now=now)
    _take_back(old, by, now)
    save_checked(row)
    return row


@transaction.atomic
def take_back_care(*, care: KilnCare, by: Person, now: datetime | None = None) -> KilnCare:
    """An entry that was wrong counts no longer; it stays to be read. Taken back already counts as done."""
    must_be_tutor(by)
    row = _hold(care)
    if row.taken_back_at is None:
        _take_back(row, by, moment(now))
    return row


@transaction.atomic
def put_back_care(*, care: KilnCare, by: Person) -> KilnCare:
    """Undo the taking back. Refused for an entry that was corrected by another one that counts."""
    must_be_tutor(by)
    row = _hold(care)
    if row.corrections.filter(taken_back_at__isnull=True).exists():
        refuse("care-corrected", say("A correction stands in its place. Take that one back first."))
    row.taken_back_at = row.taken_back_by = None
    row.save(update_fields=["taken_back_at", "taken_back_by"])
    return row


@transaction.atomic
def set_reminder(
    *,
    kiln: Kiln,
    kind: str,
    every_months: int | None,
    after_firings: int | None,
    by: Person,
    now: datetime | None = None,
) -> CareReminder:
    """How often something is asked for at this kiln, whichever comes first; both None: never."""
    must_be_tutor(by)
    kind = clean_choice(kind, REMINDED, label=say("reminder"))
    called = CARE_WORDS[CareKind(kind)].lower()
    if every_months is not None:
        every_months = clean_whole(
            every_months, label=say("months for “{called}”", called=called), least=1, most=MOST_MONTHS
        )
    if after_firings is not None:
        after_firings = clean_whole(
            after_firings, label=say("firings for “{called}”", called=called), least=1, most=MOST_FIRINGS
        )
    row, _ = CareReminder.objects.update_or_create(
        kiln=kiln,
        kind=kind,
        defaults={
            "every_months": every_months,
            "after_firings": after_firings,
            "changed_at": moment(now),
            "changed_by": by,
        },
    )
    return row


@transaction.atomic
def set_reminders(
    *,
    kiln: Kiln,
    intervals: Mapping[CareKind, tuple[int | None, int | None]],
    by: Person,
    now: datetime | None = None,
) -> list[CareReminder]:
    """`set_reminder` for several kinds at once, all or none: kind -> (months, firings)."""
    return [
        set_reminder(kiln=kiln, kind=kind, every_months=months, after_firings=firings, by=by, now=now)
        for kind, (months, firings) in intervals.items()
    ]


@transaction.atomic
def silence_reminder(
    *,
    kiln: Kiln,
    kind: str,
    until: date,
    why: str,
    by: Person,
    client_id: str,
    now: datetime | None = None,
) -> CareSilence:
    """Hold a reminder silent up to and on a day, a year at most, with the reason. A new one takes the place
    of the one before."""
    must_be_tutor(by)
    if done := CareSilence.objects.filter(client_id=clean_client_id(client_id), kiln=kiln).first():
        return done
    now = moment(now)
    kind = clean_choice(kind, REMINDED, label=say("reminder"))
    today = local_day(now)
    if until < today:
        refuse(
            "silence-past", say("{until} has passed. Choose a day to come.", until=date_words(until, "j F Y"))
        )
    if until > today + _LONGEST_SILENCE:
        refuse("silence-long", say("A reminder may be silent for a year at most. Choose an earlier day."))
    why = clean_text(why, label=later("reason"), longest=200, required=True)
    # The kiln's row makes two silences at once wait for each other.
    Kiln.objects.select_for_update(no_key=True).get(pk=kiln.pk)
    _wake(kiln, kind, by, now)
    row = CareSilence(kiln=kiln, kind=kind, until=until, why=why, at=now, by=by, client_id=client_id)
    save_checked(row)
    return row


@transaction.atomic
def wake_reminder(*, kiln: Kiln, kind: str, by: Person, now: datetime | None = None) -> int:
    """Let a silenced reminder speak again; how many there were (0 or 1). The silence stays on record."""
    must_be_tutor(by)
    return _wake(kiln, clean_choice(kind, REMINDED, label=say("reminder")), by, moment(now))


def _noted(kiln: Kiln, client_id: str) -> KilnCare | None:
    """What this page's number has written already; of another kiln it is a number that was lost."""
    done = KilnCare.objects.filter(client_id=clean_client_id(client_id)).first()
    if done is not None and done.kiln_id != kiln.pk:
        refuse("client-id", say("This page has lost its number. Load it again and try once more."))
    return done


def _hold(care: KilnCare) -> KilnCare:
    return KilnCare.objects.select_for_update(of=("self",)).select_related("kiln").get(pk=care.pk)


def _take_back(row: KilnCare, by: Person, now: datetime) -> None:
    row.taken_back_at, row.taken_back_by = now, by
    row.save(update_fields=["taken_back_at", "taken_back_by"])


def _wake(kiln: Kiln, kind: str, by: Person, now: datetime) -> int:
    holding = CareSilence.objects.filter(kiln=kiln, kind=kind, woken_at__isnull=True)
    return holding.update(woken_at=now, woken_by=by)


def _fill(
    row: KilnCare,
    *,
    kind: str,
    done_on: date,
    done_by: str,
    note: str,
    ohm: Decimal | str | None,
    by: Person,
    now: datetime,
) -> None:
    row.kind = clean_choice(kind, list(CareKind), label=say("kind of care"))
    if done_on > local_day(now):
        refuse(
            "care-ahead",
            say(
                "{done_on} is still to come. Write down what has been done.",
                done_on=date_words(done_on, "j F Y"),
            ),
        )
    if done_on < _OLDEST:
        refuse("care-old", say("{year} can't be right. Check the year.", year=done_on.year))
    row.done_on = done_on
    row.done_by = clean_text(done_by, label=say("name of who did it"), longest=80)
    if row.kind in LICENSED and not row.done_by:
        refuse(
            "care-by-whom",
            say(
                "Work on the wiring is done by a licensed person, by your local rules. Write down who did it."
            ),
        )
    row.note = clean_text(note, label=later("note"), longest=300)
    if row.kind == CareKind.OTHER and not row.note:
        refuse("care-note", say("Say in the note what was done."))
    row.ohm = None if ohm in (None, "") else _ohm(ohm)
    row.made_at, row.made_by = now, by


def _ohm(value: Decimal | str) -> Decimal:
    try:
        ohm = Decimal(str(value))
    except InvalidOperation:
        ohm = Decimal(-1)
    if not ohm.is_finite() or not Decimal("0.1") <= ohm <= _MOST_OHM:
        refuse(
            "care-ohm",
            say("The resistance is between 0.1 and 10,000 Ω. Leave it empty if it was not measured."),
        )
    return ohm.quantize(Decimal("0.01"))
