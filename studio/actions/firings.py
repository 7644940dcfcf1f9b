"""The fire itself: lit, its temperatures noted, the kiln off; undone while nothing later stands on it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal, InvalidOperation

from django.db import IntegrityError, transaction
from django.db.models import QuerySet, prefetch_related_objects

from studio.domain.loading import problems as problems_of_load
from studio.domain.problems import Problem
from studio.domain.say import midway, say
from studio.domain.stages import STAGE_IN_FIRING, FiringKind
from studio.models import Event, Firing, Person
from studio.queries.loads import plan_of
from studio.queries.loads_waiting import GLAZES, load_facts
from studio.queries.piece_facts import facts_for
from studio.queries.programmes import copy_of

from .alarms import clear_all
from .common import clean_client_id, happened_at, moment, must_be_staff, refuse
from .loads import hold_firing, hold_planned, move_on, name_of, overrule
from .loads_places import recheck
from .pieces_events import check_undoable, hold_pieces, record, reverse
from .readings import LEEWAY
from .sharing_policies import policy_to_keep

_HOT = (Firing.State.FIRING, Firing.State.COOLING, Firing.State.UNLOADING)
_MOST_KWH = Decimal(9_999_999)


@transaction.atomic
def light(
    *,
    firing: Firing,
    by: Person,
    client_id: str,
    at: datetime | None = None,
    meter_start_kwh: Decimal | None = None,
    override_reason: str = "",
    now: datetime | None = None,
) -> Firing:
    """Light a loaded kiln. Sent twice with the same client id it is lit once.

    In order: the load and every piece in it are looked at again, for they may have changed since they were
    put in; what the tutor may overrule needs a reason, unless it was overruled for this firing before; each
    piece is recorded as in the kiln and leaves its storage shelf; the firing begins, and keeps the rules that
    its cost is shared by and a copy of its programme.
    """
    must_be_staff(by)
    clean_client_id(client_id)
    now = moment(now)
    firing = hold_firing(firing)
    sent_before = _lit_events(firing).filter(client_id__startswith=f"{client_id}:", undone_by__isnull=True)
    if sent_before.exists():
        return firing
    firing = hold_planned(firing)
    lit_at = happened_at(at, now, label=say("time of lighting"))
    meter = clean_kwh(meter_start_kwh, label=say("meter before the firing"))
    busy = Firing.objects.filter(kiln=firing.kiln_id, state__in=_HOT).first()
    if busy:
        refuse(
            "kiln-busy",
            say(
                "{name} is in {name_of}. Unload and close that one first.",
                name=firing.kiln.name,
                name_of=midway(name_of(busy)),
            ),
        )

    plan = plan_of(firing)
    if not plan.placements:
        refuse("empty-load", say("There is nothing in this load. Put a piece in first."))
    pieces = {piece.pk: piece for piece in hold_pieces([place.piece for place in plan.placements])}
    prefetch_related_objects(list(pieces.values()), "clay", GLAZES)
    problems: list[Problem] = list(problems_of_load(load=plan.load, items=plan.items.values()))
    facts = facts_for(pieces.values())
    for place in plan.placements:
        problems += recheck(firing, place, load_facts(pieces[place.piece_id], facts[place.piece_id]))
    by_mark = {piece.mark: piece for piece in pieces.values()}
    overrule(firing=firing, problems=problems, pieces=by_mark, reason=override_reason, by=by, now=now)

    for piece in sorted(pieces.values(), key=lambda piece: piece.pk):
        record(
            piece=piece,
            kind=Event.Kind.LIT,
            by=by,
            client_id=f"{client_id}:{piece.code}",
            now=now,
            at=lit_at,
            to=STAGE_IN_FIRING[FiringKind(firing.kind)],
            shelf=None,
            firing=firing,
        )
    try:
        with transaction.atomic():
            move_on(
                firing,
                Firing.State.PLANNED,
                Firing.State.FIRING,
                lit_at=lit_at,
                meter_start_kwh=meter,
                sharing_policy=policy_to_keep(lit_at, by=by, now=now),
                programme_as_fired=copy_of(firing.programme) if firing.programme else {},
            )
    except IntegrityError:
        refuse(
            "kiln-busy",
            say("{name} was lit for another firing just now. Load the page again.", name=firing.kiln.name),
        )
    return firing


@transaction.atomic
def undo_light(*, firing: Firing, by: Person, client_id: str, now: datetime | None = None) -> Firing:
    """The kiln was not lit after all: every piece goes back to where it stood, and the load can be changed.

    Readings noted meanwhile are dropped: there was no fire that they could be of.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_firing(firing)
    sent_before = Event.objects.filter(
        firing=firing, kind=Event.Kind.UNDONE, client_id__startswith=f"{clean_client_id(client_id)}:"
    )
    if firing.state == Firing.State.PLANNED and sent_before.exists():
        return firing
    if firing.state != Firing.State.FIRING:
        refuse(
            "not-firing",
            say(
                "{name_of} is {state}, so its lighting stands.",
                name_of=name_of(firing),
                state=midway(firing.get_state_display()),
            ),
        )
    events = list(_lit_events(firing).filter(undone_by__isnull=True).select_related("piece"))
    pieces = {piece.pk: piece for piece in hold_pieces([event.piece for event in events])}
    for event in sorted(events, key=lambda event: event.piece_id):
        check_undoable(event)
        piece = pieces[event.piece_id]
        reverse(event=event, piece=piece, by=by, client_id=f"{client_id}:{piece.code}", now=now)
    firing.readings.all().delete()
    firing.alarms.all().delete()
    move_on(
        firing,
        Firing.State.FIRING,
        Firing.State.PLANNED,
        lit_at=None,
        meter_start_kwh=None,
        sharing_policy=None,
        programme_as_fired={},
    )
    return firing


@transaction.atomic
def end_firing(
    *,
    firing: Firing,
    by: Person,
    at: datetime | None = None,
    meter_end_kwh: Decimal | None = None,
    now: datetime | None = None,
) -> Firing:
    """The kiln is off and cools. Ended already counts as done."""
    must_be_staff(by)
    now = moment(now)
    firing = hold_firing(firing)
    if firing.state == Firing.State.COOLING:
        return firing
    if firing.state != Firing.State.FIRING:
        refuse(
            "not-firing",
            say(
                "{name_of} is {state}; it can't be ended now.",
                name_of=name_of(firing),
                state=midway(firing.get_state_display()),
            ),
        )
    ended_at = moment(at) if at else now
    if ended_at < firing.lit_at:
        refuse("ends-before-start", say("The kiln can't have been off before it was lit. Check the time."))
    if ended_at > now + LEEWAY:
        refuse("in-future", say("That is still to come. Note the end when the kiln is off."))
    meter = clean_kwh(meter_end_kwh, label=say("meter after the firing"))
    refuse_meter(firing, meter)
    move_on(firing, Firing.State.FIRING, Firing.State.COOLING, ended_at=ended_at, meter_end_kwh=meter)
    clear_all(firing=firing, now=now)
    return firing


@transaction.atomic
def undo_end(*, firing: Firing, by: Person, now: datetime | None = None) -> Firing:
    """The kiln is still on after all."""
    must_be_staff(by)
    moment(now)
    firing = hold_firing(firing)
    if firing.state == Firing.State.FIRING:
        return firing
    if firing.state != Firing.State.COOLING:
        refuse(
            "not-cooling",
            say(
                "{name_of} is {state}, so its end stands.",
                name_of=name_of(firing),
                state=midway(firing.get_state_display()),
            ),
        )
    move_on(firing, Firing.State.COOLING, Firing.State.FIRING, ended_at=None, meter_end_kwh=None)
    return firing


def clean_kwh(value: Decimal | int | str | None, *, label: str) -> Decimal | None:
    """A reading of the electricity meter, or an amount of energy, in kWh to a tenth."""
    if value is None or value == "":
        return None
    try:
        kwh = Decimal(str(value).strip().replace(",", ".")).quantize(Decimal("0.1"))
    except InvalidOperation:
        refuse("no-meter", say("The {label} is no number of kWh. Read it again.", label=label))
    if not kwh.is_finite() or not 0 <= kwh <= _MOST_KWH:
        refuse("no-meter", say("The {label} can't be {kwh} kWh. Read it again.", label=label, kwh=kwh))
    return kwh


def refuse_meter(firing: Firing, end_kwh: Decimal | None) -> None:
    """Meters only count up."""
    start = firing.meter_start_kwh
    if end_kwh is not None and start is not None and end_kwh < start:
        refuse(
            "meter-backwards",
            say(
                "The meter stood at {start} kWh before the firing and can't stand at {end_kwh} kWh "
                "after it. Read it again.",
                start=start,
                end_kwh=end_kwh,
            ),
        )


def _lit_events(firing: Firing) -> QuerySet[Event]:
    return Event.objects.filter(firing=firing, kind=Event.Kind.LIT)
