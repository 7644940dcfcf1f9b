"""Firing programmes: kept, copied, retired, and chosen for a firing, which keeps what it was fired with."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from studio.domain.cones import hotter
from studio.domain.problems import DomainError
from studio.domain.programme import Segment
from studio.domain.say import later, say
from studio.domain.stages import FIRING_WORDS, FiringKind
from studio.models import Firing, Kiln, Person, Programme, ProgrammeSegment
from studio.queries.programmes import copy_of

from .common import (
    clean_choice,
    clean_client_id,
    clean_cone,
    clean_text,
    clean_whole,
    moment,
    must_be_staff,
    must_be_tutor,
    refuse,
    retire,
    save_checked,
)
from .loads_hold import hold_firing, name_of

MOST_SEGMENTS = 30
_KEPT = [Firing.State.FIRING, Firing.State.COOLING, Firing.State.UNLOADING, Firing.State.CLOSED]


@transaction.atomic
def save_programme(
    *,
    by: Person,
    name: str,
    kind: FiringKind | str,
    segments: Sequence[tuple[int | None, int, int]],
    kiln: Kiln | None = None,
    cone: str = "",
    notes: str = "",
    programme: Programme | None = None,
    client_id: str = "",
    now: datetime | None = None,
) -> Programme:
    """Add a programme, or change one. ``segments`` are (°C/h or None for as fast as it goes, °C, minutes).

    Firings that were lit keep what they were lit with; planned ones follow. The same ``client_id`` sent again
    gives the programme it made the first time.
    """
    must_be_tutor(by)
    client_id = clean_client_id(client_id) if client_id else ""
    if programme is None:
        if client_id and (done := Programme.objects.filter(client_id=client_id).first()):
            return done
        row = Programme(made_by=by, made_at=moment(now), client_id=client_id or None)
    else:
        row = Programme.objects.select_for_update(no_key=True).get(pk=programme.pk)
    row.name = clean_text(name, label=say("name of the programme"), longest=60, required=True)
    row.kind = clean_choice(str(kind), [each.value for each in FiringKind], label=say("kind of firing"))
    row.kiln = kiln
    row.cone = clean_cone(cone)
    row.notes = clean_text(notes, label=later("notes"), longest=1000, lines=True)
    if kiln is not None and row.cone and hotter(row.cone, kiln.highest_cone):
        refuse(
            "kiln-too-cool",
            say(
                "{name} fires to cone {highest_cone} at most, not to cone {cone}. Choose a cooler "
                "cone or another kiln.",
                name=kiln.name,
                highest_cone=kiln.highest_cone,
                cone=row.cone,
            ),
        )
    cleaned = _clean_segments(segments)
    save_checked(
        row,
        words={"programme_name_once": say("There is a programme of this name already. Choose another name.")},
    )
    row.segments.all().delete()
    ProgrammeSegment.objects.bulk_create(
        ProgrammeSegment(programme=row, number=number, rate_c_per_h=rate, target_c=target, hold_min=hold)
        for number, (rate, target, hold) in enumerate(cleaned, start=1)
    )
    row._prefetched_objects_cache = {}
    return row


@transaction.atomic
def retire_programme(*, programme: Programme, by: Person, now: datetime | None = None) -> Programme:
    """Take a programme off the list for new firings. Those planned or fired with it stay."""
    return retire(programme, by=by, now=now)


@transaction.atomic
def restore_programme(*, programme: Programme, by: Person, now: datetime | None = None) -> Programme:
    """Put a programme back on the list."""
    must_be_tutor(by)
    Programme.objects.filter(pk=programme.pk).update(retired_at=None)
    programme.refresh_from_db()
    return programme


@transaction.atomic
def choose_programme(
    *, firing: Firing, programme: Programme | None, by: Person, now: datetime | None = None
) -> Firing:
    """Say with which programme a firing is, or was, fired; None for none.

    A planned firing follows its programme. One that is lit keeps a copy of it as it stands now; chosen again,
    the copy it keeps already stays.
    """
    must_be_staff(by)
    moment(now)
    firing = hold_firing(firing)
    if firing.state == Firing.State.CANCELLED:
        refuse("cancelled", say("{name_of} was given up. Plan it again first.", name_of=name_of(firing)))
    if programme is not None:
        programme = Programme.objects.select_related("kiln").get(pk=programme.pk)
        refuse_programme(programme, kiln=firing.kiln, kind=firing.kind, chosen_id=firing.programme_id)
    lit = firing.state in _KEPT
    if lit and programme is not None and programme.pk == firing.programme_id and firing.programme_as_fired:
        return firing
    firing.programme = programme
    firing.programme_as_fired = copy_of(programme) if lit and programme else {}
    firing.save(update_fields=["programme", "programme_as_fired"])
    return firing


def refuse_programme(
    programme: Programme, *, kiln: Kiln, kind: FiringKind | str, chosen_id: int | None = None
) -> None:
    """Refuse one that is for another kiln or kind, or retired, unless it was chosen before it was."""
    if programme.retired_at is not None and programme.pk != chosen_id:
        refuse(
            "programme-retired",
            say("{programme} is not in use any more. Choose another programme.", programme=programme),
        )
    if programme.kiln_id not in {None, kiln.pk}:
        refuse(
            "programme-kiln",
            say(
                "{programme} is for {kiln}. Choose one for {kiln_2} or for any kiln.",
                programme=programme,
                kiln=programme.kiln,
                kiln_2=kiln,
            ),
        )
    if programme.kind != kind:
        wanted, this = (
            FIRING_WORDS[FiringKind(kind)].lower(),
            FIRING_WORDS[FiringKind(programme.kind)].lower(),
        )
        refuse(
            "programme-kind",
            say(
                "{programme} is for a {this}, and this is a {wanted}. Choose another.",
                programme=programme,
                this=this,
                wanted=wanted,
            ),
        )


def _clean_segments(
    segments: Sequence[tuple[int | None, int, int]],
) -> list[tuple[int | None, int, int]]:
    if not segments:
        refuse(
            "no-segments", say("A programme needs at least one segment: a rate and a temperature to go to.")
        )
    if len(segments) > MOST_SEGMENTS:
        refuse(
            "too-many-segments",
            say("A programme has at most {most_segments} segments. Join some.", most_segments=MOST_SEGMENTS),
        )
    cleaned, before = [], None
    for number, (rate, target, hold) in enumerate(segments, start=1):
        label = say("segment {number}", number=number)
        if rate is not None:
            rate = clean_whole(rate, label=say("rate of {label} in °C/h", label=label), least=1, most=2000)
        target = clean_whole(
            target, label=say("temperature of {label} in °C", label=label), least=0, most=1500
        )
        hold = clean_whole(hold, label=say("hold of {label} in minutes", label=label), least=0, most=6000)
        if target == before and not hold:
            refuse(
                "empty-segment",
                say("Segment {number} goes nowhere and holds for no time. Take it out.", number=number),
            )
        try:
            Segment(rate, target, hold)
        except DomainError as error:
            refuse(error.code, say("Segment {number}: {message}", number=number, message=error.message))
        cleaned.append((rate, target, hold))
        before = target
    return cleaned
