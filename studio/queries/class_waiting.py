"""What a class is waiting for: which firing each of its pieces will be in, and what its last day will see."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Max

from studio.domain.forecast import Forecast
from studio.domain.stages import ENDED, GREENWARE, FiringKind, Route, Stage
from studio.models import Course, Firing, Piece, Session

from .ready_range import ranges_of, steps_left
from .standers import standers

#: Pieces whose day of being ready is reckoned; the rest of a very large class is listed without one.
RECKONED = 120


@dataclass
class WaitingGroup:
    """Pieces that wait for the same thing. ``what`` is its code; ``firing`` the load or fire they stand in,
    ``next_firing`` the next planned one of the kind they wait for, as far as there is one.
    """

    what: str
    pieces: list[Piece] = field(default_factory=list)
    firing: Firing | None = None
    next_firing: Firing | None = None


@dataclass
class ClassWaiting:
    """``last`` is the course's last meeting; ``after_end`` pieces that will likely be ready only after it, by
    the studio's own record.
    """

    course: Course
    last: datetime | None
    groups: list[WaitingGroup]
    unfinished: int
    ready: int
    after_end: list[Piece]


#: In the order of a pot's life, the nearest to its maker's hands first.
ORDER = (
    *("ready", "finishing", "in-fire", "in-load", "glaze"),
    *("low", "to-glaze", "glaze-raw", "bisque", "drying"),
)


def class_waiting(course: Course, *, now: datetime) -> ClassWaiting:
    """Everything that was made in the course and is still here. Eight queries, however much it is."""
    pieces = list(
        standers()
        .filter(session__course=course)
        .exclude(stage__in=ENDED)
        .select_related("maker", "clay", "shelf", "held_by__firing__kiln")
        .order_by("maker__first_name", "maker__last_name", "pk")
    )
    add_ranges(pieces, now=now)
    last = last_meeting(course)
    planned = next_planned()
    groups: dict[tuple[str, int], WaitingGroup] = {}
    for piece in pieces:
        what, firing, kind = waits_for(piece)
        group = groups.setdefault(
            (what, firing.number if firing else 0),
            WaitingGroup(what, firing=firing, next_firing=planned.get(kind) if kind and not firing else None),
        )
        group.pieces.append(piece)
    ready = sum(piece.stage == Stage.READY for piece in pieces)
    return ClassWaiting(
        course=course,
        last=last,
        groups=sorted(groups.values(), key=_in_turn),
        unfinished=len(pieces) - ready,
        ready=ready,
        after_end=[piece for piece in pieces if last and _later_than(piece, last)],
    )


def _later_than(piece: Piece, last: datetime) -> bool:
    return piece.ready_about is not None and piece.ready_about.likely > last


def add_ranges(pieces: list[Piece], *, now: datetime) -> None:
    """``ready_about`` on each: its `Forecast`, or None."""
    ranges: dict[int, Forecast] = ranges_of(pieces[:RECKONED], now=now)
    for piece in pieces:
        piece.ready_about = ranges.get(piece.pk)


def last_meeting(course: Course) -> datetime | None:
    return Session.objects.held().filter(course=course).aggregate(last=Max("ends_at"))["last"]


def next_planned() -> dict[FiringKind, Firing]:
    """The next load of each kind that is being planned: by its day, those without one last. One query."""
    found: dict[FiringKind, Firing] = {}
    rows = Firing.objects.filter(state=Firing.State.PLANNED).select_related("kiln")
    for firing in sorted(rows, key=lambda row: (row.planned_for is None, row.planned_for or 0, row.number)):
        found.setdefault(FiringKind(firing.kind), firing)
    return found


def waits_for(piece: Piece) -> tuple[str, Firing | None, FiringKind | None]:
    """What this piece waits for: its code, the firing it stands in, and the next kind of firing."""
    stage = Stage(piece.stage)
    held = getattr(piece, "held_by", None)
    kind = next((step for step in steps_left(piece) if isinstance(step, FiringKind)), None)
    if held is not None:
        lit = held.firing.state != Firing.State.PLANNED
        return ("in-fire" if lit else "in-load"), held.firing, kind
    if stage == Stage.READY:
        return "ready", None, kind
    if stage in {Stage.FINISHING, Stage.FIRED} and kind is None:
        return "finishing", None, None
    if stage in {Stage.WET, Stage.LEATHER_HARD}:
        return "drying", None, kind
    if stage in GREENWARE and piece.route == Route.SINGLE_FIRED:
        return "glaze-raw", None, FiringKind.GLAZE
    if stage == Stage.BISQUED and piece.route != Route.BISQUE_ONLY:
        return "to-glaze", None, FiringKind.GLAZE
    return (kind.value if kind else "finishing"), None, kind


def _in_turn(group: WaitingGroup) -> tuple[int, int]:
    return ORDER.index(group.what), group.firing.number if group.firing else 0
