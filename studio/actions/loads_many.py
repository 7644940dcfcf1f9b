"""Putting several pieces into a load at once, each by itself: one that may not go in stops no other."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from studio.domain.problems import Problem, Refused
from studio.domain.say import say
from studio.models import Firing, Layer, LoadChange, Person, Piece, Placement

from .common import moment, must_be_staff
from .load_changes import record_change, repeated_change, snapshot
from .loads_hold import hold_planned
from .loads_places import stand_in


@dataclass(frozen=True, slots=True)
class LoadedMany:
    """What went in, and why the rest did not."""

    placed: tuple[Placement, ...]
    left_out: tuple[Problem, ...]


@transaction.atomic
def load_pieces(
    *,
    firing: Firing,
    pieces: Iterable[Piece],
    by: Person,
    layer: Layer | None = None,
    stand_mm: int = 0,
    client_id: str = "",
    now: datetime | None = None,
) -> LoadedMany:
    """Put pieces into a load, on one layer, or from the bottom up wherever there is room.

    The widest goes first: a small piece finds a gap beside a large one, not the other way round (common
    practice). Nothing is overruled here; a piece that needs the tutor's reason is put in by itself. All of
    them are one change, undone together.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(firing)
    pieces = list(pieces)
    if repeated_change(client_id, firing=firing, kind=LoadChange.Kind.PUT):
        return LoadedMany(tuple(firing.placements.filter(piece__in=pieces, taken_out_at=None)), ())
    was = snapshot(firing)
    layers = [layer] if layer else list(firing.layers.order_by("number"))
    placed, left_out = [], []
    for piece in sorted(pieces, key=lambda piece: (-piece.width_mm * piece.depth_mm, piece.mark)):
        why: list[Problem] = []
        for each in layers:
            try:
                with transaction.atomic():
                    placement = stand_in(
                        firing=firing, piece=piece, layer=each, by=by, stand_mm=stand_mm, now=now
                    )
            except Refused as refused:
                why = refused.problems
            else:
                placed.append(placement)
                why = []
                break
        left_out += why
    marks = [placement.piece.mark for placement in placed]
    record_change(
        firing=firing,
        kind=LoadChange.Kind.PUT,
        was=was,
        words=say("{marks} put in", marks=marks[0])
        if len(marks) == 1
        else say("{count} pieces put in", count=len(marks)),
        by=by,
        now=now,
        client_id=client_id,
    )
    return LoadedMany(tuple(placed), tuple(left_out))
