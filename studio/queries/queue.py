"""How many firings all that waits now makes, of which kind, in which kiln, and about when each may be."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from random import Random
from typing import Any

from studio.domain.cones import hotter
from studio.domain.queue_dates import FEW_GAPS, DateRange, gaps_h, next_firings
from studio.domain.say import say
from studio.domain.stages import FIRING_WORDS, FiringKind
from studio.models import Firing, Kiln, Piece, Proposal, Studio

from .kiln_queues import main_kiln
from .loads import chamber_of, clearances_for, kiln_shelf, prop_stock, shelves_in_stock
from .loads_waiting import GLAZES, Waiting, items_for_planning, waiting_for
from .proposals import cone_wanted, on_stand, what_would_help

#: Seconds of search for each load of the queue, and loads at most.
EACH_S = 0.35
MOST_LOADS = 16
#: How many lightings of a kiln are looked back on.
_LOOKED_BACK = 40


def gather_queue(*, now: datetime) -> tuple[dict[str, Any], dict[str, Any]]:
    """The job for the machine, and what is remembered of the pieces. Queries grow with kilns alone."""
    studio = Studio.the()
    kilns = sorted(
        Kiln.objects.filter(retired_at__isnull=True).prefetch_related("props"),
        key=lambda kiln: -kiln.width_mm * kiln.depth_mm * kiln.height_mm,
    )
    groups: list[dict[str, Any]] = []
    pieces: dict[str, str] = {}
    not_yet: list[list[str]] = []
    main = main_kiln()
    for kind in FiringKind if main else ():
        by_cone, barred = _by_cone(main, kind, now)
        not_yet += barred
        for cone, rows in sorted(by_cone.items()):
            able = [kiln for kiln in kilns if not hotter(cone, kiln.highest_cone)]
            if not able:
                not_yet += [
                    [row.piece.code, say("No kiln here fires to cone {cone}.", cone=cone), ""] for row in rows
                ]
                continue
            asked = Firing(kiln=able[0], kind=kind, cone=cone)
            pieces |= {row.piece.mark: row.piece.code for row in rows}
            groups.append(
                {
                    "kind": kind.value,
                    "cone": cone,
                    "bisque": kind == FiringKind.BISQUE,
                    "items": [
                        on_stand(item, row)
                        for item, row in zip(
                            items_for_planning(rows, firing=asked, now=now), rows, strict=True
                        )
                    ],
                    "kilns": [_kiln_job(kiln, kind, studio) for kiln in able],
                }
            )
    seconds = EACH_S * max(1, min(MOST_LOADS, 2 * len(groups)))
    job = {"groups": groups, "each_s": EACH_S, "seconds": seconds, "most_loads": MOST_LOADS}
    return job, {"pieces": pieces, "not_yet": not_yet}


def _by_cone(kiln: Kiln, kind: FiringKind, now: datetime) -> tuple[dict[str, list[Waiting]], list[list[str]]]:
    """Who waits for this kind of firing, by the cone each asks for, and who may not go in yet, with why."""
    usual = kiln.usual_bisque_cone if kind == FiringKind.BISQUE else kiln.usual_glaze_cone
    by_cone: dict[str, list[Waiting]] = defaultdict(list)
    barred = []
    for row in waiting_for(kiln=kiln, kind=kind, cone=usual, now=now):
        cone = usual if kind == FiringKind.BISQUE else cone_wanted(row.piece, usual=usual)
        others = [problem for problem in row.problems if problem.code != "wrong-cone"]
        if others:
            barred.append(
                [row.piece.code, " ".join(problem.message for problem in others), what_would_help(row)]
            )
        else:
            by_cone[cone].append(
                row if row.may_go_in else Waiting(row.piece, row.size, (), row.stand_why, row.waited_days)
            )
    return by_cone, barred


def _kiln_job(kiln: Kiln, kind: FiringKind, studio: Studio) -> dict[str, Any]:
    return {
        "code": kiln.code,
        "chamber": chamber_of(kiln),
        "props": prop_stock(kiln),
        "shelves": [(kiln_shelf(kiln), min(12, shelves_in_stock(kiln)))],
        "clearances": clearances_for(kiln, kind, studio),
    }


@dataclass(frozen=True, slots=True)
class LoadToCome:
    """One firing of the queue. ``fill`` is the part of the chamber that its ware takes."""

    kind: str
    cone: str
    kiln: Kiln
    marks: tuple[str, ...]
    fill: float
    layers: int
    when: DateRange

    @property
    def title(self) -> str:
        return say(
            "{firing_words}, cone {cone}", firing_words=FIRING_WORDS[FiringKind(self.kind)], cone=self.cone
        )


@dataclass(frozen=True, slots=True)
class OutsideRow:
    piece: Piece
    why: str
    would_help: str


@dataclass(frozen=True, slots=True)
class QueueFound:
    """``few`` names kilns whose record is too short to say when; then a usual rhythm stands in for it."""

    loads: tuple[LoadToCome, ...]
    outside: tuple[OutsideRow, ...]
    not_yet: tuple[OutsideRow, ...]
    few: tuple[str, ...]
    cut: bool

    @property
    def pieces(self) -> int:
        return sum(len(load.marks) for load in self.loads)


def queue_found(proposal: Proposal, *, now: datetime) -> QueueFound:
    """What a proposal for the queue came to, with dates from each kiln's own rhythm. Few queries."""
    found = proposal.found["ways"][0]
    kilns = {kiln.code: kiln for kiln in Kiln.objects.all()}
    rows = _in_turn([row for row in found["loads"] if row["kiln"] in kilns])
    dates: dict[str, list[DateRange]] = {}
    few = []
    for code in dict.fromkeys(row["kiln"] for row in rows):
        lit = list(
            Firing.objects.filter(kiln=kilns[code], lit_at__isnull=False, lit_at__lte=now)
            .order_by("-lit_at")
            .values_list("lit_at", flat=True)[:_LOOKED_BACK]
        )
        planned = (
            Firing.objects.filter(
                kiln=kilns[code], state=Firing.State.PLANNED, planned_for__gt=now, placements__isnull=False
            )
            .order_by("-planned_for")
            .values_list("planned_for", flat=True)
            .first()
        )
        count = sum(row["kiln"] == code for row in rows)
        dates[code] = next_firings(
            lit=lit,
            count=count,
            now=now,
            random=Random(f"{code} {now:%Y-%m-%d}"),  # noqa: S311
            not_before=planned,
        )
        if len(gaps_h(lit)) < FEW_GAPS:
            few.append(kilns[code].name)
    turns = {code: iter(ranges) for code, ranges in dates.items()}
    loads = tuple(
        LoadToCome(
            row["kind"],
            row["cone"],
            kilns[row["kiln"]],
            tuple(row["marks"]),
            row["fill"],
            row["layers"],
            next(turns[row["kiln"]]),
        )
        for row in rows
    )
    codes = proposal.seen["pieces"]
    outside = [(codes[mark], why, helps) for mark, why, helps in found["outside"] if mark in codes]
    return QueueFound(
        tuple(sorted(loads, key=lambda load: load.when.likely)),
        _rows(outside),
        _rows([(code, why, helps) for code, why, helps in proposal.seen["not_yet"]]),
        tuple(few),
        found["cut"],
    )


def _in_turn(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What is worth most first; loads of one kind and cone in the order in which they were filled."""
    groups: dict[tuple[str, str], list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        groups[row["kind"], row["cone"]].append(row)
    turns = []
    while groups:
        key = max(groups, key=lambda each: groups[each][0]["worth"])
        turns.append(groups[key].pop(0))
        if not groups[key]:
            del groups[key]
    return turns


def _rows(told: list[tuple[str, str, str]]) -> tuple[OutsideRow, ...]:
    pieces = {
        piece.code: piece
        for piece in Piece.objects.filter(code__in=[code for code, *_ in told])
        .select_related("maker", "clay")
        .prefetch_related(GLAZES)
    }
    return tuple(OutsideRow(pieces[code], why, helps) for code, why, helps in told if code in pieces)
