"""Witness cones: noted where they stood, corrected and struck out; nothing noted is ever lost."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import later, say
from studio.models import Firing, Person, WitnessCone

from .common import (
    clean_client_id,
    clean_cone,
    clean_text,
    clean_whole,
    moment,
    must_be_staff,
    refuse,
    save_checked,
)
from .loads_hold import hold_firing, name_of

MOST_BEND_DEGREES = 120
_SEEN = [Firing.State.COOLING, Firing.State.UNLOADING, Firing.State.CLOSED]
_TWICE = {
    "witness_cone_once": later(
        "That cone at that place is noted already. Correct it, or say where else it stood."
    )
}


@transaction.atomic
def note_witness_cone(
    *,
    firing: Firing,
    layer_number: int,
    cone: str,
    bend_degrees: int,
    by: Person,
    client_id: str,
    place: str = "",
    note: str = "",
    corrects: WitnessCone | None = None,
    now: datetime | None = None,
) -> WitnessCone:
    """Note a cone as it was found; with ``corrects``, in the place of what was noted before, which stays.

    ``bend_degrees``: 0 upright, 90 with the tip at the shelf. Sent twice with one ``client_id`` it is noted
    once.
    """
    must_be_staff(by)
    client_id, now = clean_client_id(client_id), moment(now)
    firing = hold_firing(firing)
    if done := WitnessCone.objects.filter(client_id=client_id).first():
        return done
    if firing.state not in _SEEN:
        refuse(
            "not-seen-yet",
            say("{name_of} still goes on. Note its cones once the kiln is off.", name_of=name_of(firing)),
        )
    layers = firing.layers.count()
    if corrects is not None:
        corrects = WitnessCone.objects.select_for_update(no_key=True).get(pk=corrects.pk, firing=firing)
        _refuse_ended(corrects)
        _end(corrects, by, now)
    row = WitnessCone(
        firing=firing,
        layer_number=clean_whole(layer_number, label=later("layer"), least=1, most=max(1, layers)),
        place=clean_text(place, label=say("place on the layer"), longest=40),
        cone=clean_cone(cone, required=True),
        bend_degrees=clean_whole(bend_degrees, label=say("bend in degrees"), least=0, most=MOST_BEND_DEGREES),
        note=clean_text(note, label=later("note"), longest=200),
        at=now,
        by=by,
        client_id=client_id,
        corrects=corrects,
    )
    save_checked(row, words=_TWICE)
    return row


@transaction.atomic
def strike_witness_cone(*, cone: WitnessCone, by: Person, now: datetime | None = None) -> WitnessCone:
    """It was no cone of this firing: struck out, and kept in the history. Struck out already counts as
    done."""
    must_be_staff(by)
    hold_firing(cone.firing)
    row = WitnessCone.objects.select_for_update(no_key=True).get(pk=cone.pk)
    if row.ended_at is None:
        _end(row, by, moment(now))
    return row


@transaction.atomic
def restore_witness_cone(*, cone: WitnessCone, by: Person, now: datetime | None = None) -> WitnessCone:
    """A cone struck out by mistake counts again; one that was corrected does not, its correction does."""
    must_be_staff(by)
    hold_firing(cone.firing)
    row = WitnessCone.objects.select_for_update(no_key=True).get(pk=cone.pk)
    if row.ended_at is None:
        return row
    if WitnessCone.objects.filter(corrects=row).exists():
        refuse("cone-corrected", say("It was corrected since. Correct the newer one, or strike that out."))
    row.ended_at = row.ended_by = None
    save_checked(row, words=_TWICE)
    return row


def _refuse_ended(row: WitnessCone) -> None:
    if row.ended_at is not None:
        refuse("cone-ended", say("It was corrected or struck out just now. Load the page again."))


def _end(row: WitnessCone, by: Person, now: datetime) -> None:
    row.ended_at, row.ended_by = now, by
    row.save(update_fields=["ended_at", "ended_by"])
