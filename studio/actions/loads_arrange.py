"""Two pieces of a load change places; a piece is pinned where it stands."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.loading import problems as problems_of_load
from studio.domain.packing import Placed
from studio.domain.problems import Problem
from studio.domain.say import say
from studio.models import LoadChange, Person, Placement
from studio.queries.loads import Plan, plan_of

from .common import moment, must_be_staff, refuse, refuse_all
from .load_changes import record_change, repeated_change, snapshot
from .loads_hold import hold_planned
from .loads_places import held_place
from .pieces_events import hold_pieces


@transaction.atomic
def pin_placement(
    *, placement: Placement, pinned: bool, by: Person, client_id: str = "", now: datetime | None = None
) -> Placement:
    """Pin a piece where it stands, or unpin it. Pinned, it stays when the kiln is filled anew."""
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(placement.firing)
    kind = LoadChange.Kind.PINNED if pinned else LoadChange.Kind.UNPINNED
    if not repeated_change(client_id, firing=firing, kind=kind):
        row = held_place(placement, pinned_too=True)
        was = snapshot(firing)
        Placement.objects.filter(pk=row.pk).update(pinned=pinned)
        words = (
            say("{mark} pinned", mark=row.piece.mark)
            if pinned
            else say("{mark} unpinned", mark=row.piece.mark)
        )
        record_change(firing=firing, kind=kind, was=was, words=words, by=by, now=now, client_id=client_id)
    placement.refresh_from_db()
    return placement


@transaction.atomic
def swap_placements(
    *,
    placement: Placement,
    other: Placement,
    by: Person,
    client_id: str = "",
    seen: str = "",
    now: datetime | None = None,
) -> Placement:
    """Two pieces of one load change places: each stands with its middle where the other's was.

    A piece that is not round is turned where only so it fits. Refused whole when either can't stand there.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(placement.firing)
    if repeated_change(client_id, firing=firing, kind=LoadChange.Kind.SWAPPED):
        placement.refresh_from_db()
        return placement
    if other.firing_id != firing.pk or other.pk == placement.pk:
        refuse("swap-with", say("Choose another piece of this load to change places with."))
    hold_pieces([placement.piece, other.piece])
    one, two = held_place(placement, seen=seen), held_place(other)
    was = snapshot(firing)
    plan = plan_of(firing)
    first: list[Problem] = []
    for turned_one, turned_two in _ways(one, two):
        tried = _swapped(plan, one, two, turned_one=turned_one, turned_two=turned_two)
        wrong = [
            problem
            for problem in problems_of_load(load=tried.load, items=tried.items.values())
            if {one.piece.mark, two.piece.mark} & set(problem.keys)
        ]
        if not wrong:
            break
        first = first or list(wrong)
    else:
        refuse_all(first)
    for row, place, turned in ((one, two, turned_one), (two, one, turned_two)):
        Placement.objects.filter(pk=row.pk).update(
            layer=place.layer, x_mm=place.x_mm, y_mm=place.y_mm, turned=turned
        )
    record_change(
        firing=firing,
        kind=LoadChange.Kind.SWAPPED,
        was=was,
        words=say("{mark} and {piece_mark} swapped", mark=one.piece.mark, piece_mark=two.piece.mark),
        by=by,
        now=now,
        client_id=client_id,
    )
    placement.refresh_from_db()
    return placement


def _ways(one: Placement, two: Placement) -> list[tuple[bool, bool]]:
    """How the two may be turned, as they are first."""
    ones = [one.turned] if one.is_round else [one.turned, not one.turned]
    twos = [two.turned] if two.is_round else [two.turned, not two.turned]
    return [(a, b) for a in ones for b in twos]


def _swapped(plan: Plan, one: Placement, two: Placement, *, turned_one: bool, turned_two: bool) -> Plan:
    for row, place, turned in ((one, two, turned_one), (two, one, turned_two)):
        plan = plan.with_place(
            plan.items[row.piece.mark],
            layer=place.layer.number,
            place=Placed(place.x_mm, place.y_mm, turned),
        )
    return plan
