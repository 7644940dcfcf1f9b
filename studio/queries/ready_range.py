"""When pieces will be ready, as ranges, from what such steps took in this studio and what is planned.

The reckoning is `studio.domain.forecast`; here its records are gathered: how long pieces dried, were fired,
waited for glaze and were finished, and the rhythm of firings. A planned firing with a date comes before any
rhythm, and a piece that stands in a load is counted into that firing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from random import Random

from studio.domain.forecast import Forecast, KilnWait, Step, ready_range
from studio.domain.say import later
from studio.domain.stages import ENDED, FIRING_WORDS, GREENWARE, IN_KILN, FiringKind, Route, Stage
from studio.models import Event, Firing, Piece, Placement

DAY_H = 24.0
#: Hours that eight in ten lie between, for a studio with no records yet (common practice, no source).
USUAL_H: dict[str, tuple[float, float]] = {
    "drying": (4 * DAY_H, 14 * DAY_H),
    "bisque firing": (1 * DAY_H, 3 * DAY_H),
    "glazing": (3 * DAY_H, 21 * DAY_H),
    "glaze firing": (1 * DAY_H, 3 * DAY_H),
    "low firing": (1 * DAY_H, 3 * DAY_H),
    "finishing": (1 * DAY_H, 10 * DAY_H),
}
#: From one firing of a kind to the next, likewise.
USUAL_GAP_H: dict[FiringKind, tuple[float, float]] = {
    FiringKind.BISQUE: (7 * DAY_H, 21 * DAY_H),
    FiringKind.GLAZE: (7 * DAY_H, 21 * DAY_H),
    FiringKind.LOW: (28 * DAY_H, 120 * DAY_H),
}
#: Moves and firings looked back on: enough for the most records that the reckoning takes.
MOVES_LOOKED_BACK, FIRINGS_LOOKED_BACK = 3000, 120
#: As if it had gone in so many times of so many: a piece that stands in a load goes into that firing.
SURE = 1000
DRAWS = 200
#: Where makers ask: while there is a kiln still to come.
ASKED_AT = {*GREENWARE, Stage.BISQUE_FIRING, Stage.BISQUED, Stage.GLAZED}

_KIND_AT = {
    Stage.BISQUE_FIRING: FiringKind.BISQUE,
    Stage.GLAZE_FIRING: FiringKind.GLAZE,
    Stage.LOW_FIRING: FiringKind.LOW,
}
#: Steps are known by their English names, whatever language a page or the worker speaks.
_FIRING_NAMED = {
    FiringKind.BISQUE: "bisque firing",
    FiringKind.GLAZE: "glaze firing",
    FiringKind.LOW: "low firing",
}


@dataclass
class Records:
    """What is known of how work goes here: hours by step, firings by kind, and pieces in loads."""

    took_h: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    lit: dict[FiringKind, list[datetime]] = field(default_factory=lambda: defaultdict(list))
    planned: dict[FiringKind, list[datetime]] = field(default_factory=lambda: defaultdict(list))
    caught: dict[FiringKind, tuple[int, int]] = field(default_factory=dict)
    in_load: dict[int, tuple[FiringKind, datetime]] = field(default_factory=dict)
    in_fire: dict[int, datetime] = field(default_factory=dict)


def records(
    *, now: datetime, pieces: Iterable[Piece] | None = None, until: datetime | None = None
) -> Records:
    """Gathered in three queries. ``pieces``: whose places in loads are wanted.

    With ``until`` nothing later than that moment is looked at, as if asked then, and neither loads nor plans,
    whose past is not kept.
    """
    found = Records()
    firings = Firing.objects.exclude(state=Firing.State.CANCELLED)
    latest = firings.order_by("-number").values_list("kind", "lit_at", "planned_for")
    for kind, lit, planned in latest[:FIRINGS_LOOKED_BACK]:
        if lit is not None and (until is None or lit <= until):
            found.lit[FiringKind(kind)].append(lit)
        elif lit is None and planned is not None and planned > now and until is None:
            found.planned[FiringKind(kind)].append(planned)
    for times in (*found.lit.values(), *found.planned.values()):
        times.sort()
    _moves(found, until)
    if until is None and pieces is not None:
        _loads(found, [piece.pk for piece in pieces])
    return found


def _moves(found: Records, until: datetime | None) -> None:
    """Hours by step, from what happened to pieces and was not undone."""
    moves = Event.objects.filter(undone_by__isnull=True).exclude(kind=Event.Kind.UNDONE)
    if until is not None:
        moves = moves.filter(at__lte=until)
    latest = moves.order_by("-id").values_list("piece_id", "kind", "to_stage", "at", "firing_id")
    by_piece: dict[int, list[tuple[str, str, datetime, int | None]]] = defaultdict(list)
    for piece, kind, stage, at, firing in latest[:MOVES_LOOKED_BACK]:
        by_piece[piece].append((kind, stage, at, firing))
    went_in: dict[FiringKind, list[bool]] = defaultdict(list)
    for history in sorted(by_piece.values(), key=lambda history: history[0][2]):
        history.reverse()
        _one_history(found, history, went_in)
    found.caught = {kind: (sum(taken), len(taken)) for kind, taken in went_in.items()}


def _one_history(
    found: Records,
    history: list[tuple[str, str, datetime, int | None]],
    went_in: dict[FiringKind, list[bool]],
) -> None:
    made_at = since = None
    stage = ""
    for kind, to, at, _ in history:
        if kind == Event.Kind.MADE:
            made_at = at
        if to == stage:
            continue
        left, stage = stage, to
        hours = (at - since).total_seconds() / 3600 if since is not None else -1.0
        since = at
        if to == Stage.BONE_DRY and left in {Stage.WET, Stage.LEATHER_HARD} and made_at:
            found.took_h["drying"].append((at - made_at).total_seconds() / 3600)
        if hours < 0:
            continue
        if left in _KIND_AT and to not in ENDED:
            found.took_h[_FIRING_NAMED[_KIND_AT[Stage(left)]]].append(hours)
        elif left == Stage.BISQUED and to == Stage.GLAZED:
            found.took_h["glazing"].append(hours)
        elif left in {Stage.FINISHING, Stage.FIRED} and to == Stage.READY:
            found.took_h["finishing"].append(hours)
        elif left in {Stage.BONE_DRY, Stage.GLAZED} and to in _KIND_AT:
            firings = found.lit[_KIND_AT[Stage(to)]]
            ready = at - timedelta(hours=hours)
            went_in[_KIND_AT[Stage(to)]] += [False] * max(0, sum(ready <= lit < at for lit in firings))
            went_in[_KIND_AT[Stage(to)]].append(True)


def _loads(found: Records, keys: list[int]) -> None:
    places = Placement.objects.filter(holds_piece__in=keys, taken_out_at__isnull=True)
    for piece, kind, planned, lit in places.values_list(
        "piece_id", "firing__kind", "firing__planned_for", "firing__lit_at"
    ):
        if lit is not None:
            found.in_fire[piece] = lit
        elif planned is not None:
            found.in_load[piece] = (FiringKind(kind), planned)


def steps_left(piece: Piece) -> list[str | FiringKind]:
    """What is left to do with a piece, in order: names of steps, and the kinds of firing waited for."""
    stage, left = Stage(piece.stage), []
    if stage in ENDED or stage == Stage.READY:
        return []
    glazed = piece.route != Route.BISQUE_ONLY
    if stage in {Stage.WET, Stage.LEATHER_HARD}:
        left.append("drying")
    if stage in GREENWARE and piece.route != Route.SINGLE_FIRED:
        left += [FiringKind.BISQUE, later("bisque firing")]
    if stage == Stage.BISQUE_FIRING:
        left.append(later("bisque firing"))
    if (
        glazed
        and stage in {*GREENWARE, Stage.BISQUE_FIRING, Stage.BISQUED}
        and (piece.route != Route.SINGLE_FIRED or stage not in GREENWARE)
    ):
        left.append("glazing")
    if glazed and stage in {*GREENWARE, Stage.BISQUE_FIRING, Stage.BISQUED, Stage.GLAZED}:
        left += [FiringKind.GLAZE, later("glaze firing")]
    if stage == Stage.GLAZE_FIRING:
        left.append(later("glaze firing"))
    if stage == Stage.LOW_FIRING:
        left.append(later("low firing"))
    elif piece.low_firings_wanted and stage not in {Stage.FINISHING}:
        left += [FiringKind.LOW, later("low firing")] * piece.low_firings_wanted
    if stage in {Stage.FINISHING, Stage.FIRED} and not left:
        left.append("finishing")
    return left


def range_of(piece: Piece, *, found: Records, now: datetime, draws: int = DRAWS) -> Forecast | None:
    """When this piece will be ready; None for one that is, that has left, or that nothing is left to do for.

    The same all day: the draws start from the piece and the date.
    """
    left = steps_left(piece)
    if not left:
        return None
    steps: list[Step | KilnWait] = []
    for name in left:
        if isinstance(name, FiringKind):
            steps.append(_wait(name, found=found, piece=piece, now=now))
        else:
            steps.append(Step(name, tuple(found.took_h[name]), USUAL_H[name]))
    spent = 0.0
    if isinstance(left[0], str):
        since = piece.made_at if left[0] == "drying" else piece.stage_since
        if piece.stage in IN_KILN:
            since = found.in_fire.get(piece.pk, since)
        spent = max(0.0, (now - since).total_seconds() / 3600)
    return ready_range(
        steps=steps,
        now=now,
        random=Random(f"{piece.code} {now:%Y-%m-%d}"),  # noqa: S311
        in_first_step_h=spent,
        draws=draws,
    )


def _wait(kind: FiringKind, *, found: Records, piece: Piece, now: datetime) -> KilnWait:
    lit = found.lit[kind]
    gaps = tuple(
        (later - earlier).total_seconds() / 3600 for earlier, later in pairwise(lit) if later > earlier
    )
    went, waited = found.caught.get(kind, (0, 0))
    planned = found.planned[kind]
    stands_in = found.in_load.get(piece.pk)
    if stands_in and stands_in[0] == kind:
        # A date that has gone by unlit is as good as now.
        planned, went, waited = [max(stands_in[1], now)], SURE, SURE
    return KilnWait(
        name=FIRING_WORDS[kind],
        gaps_h=gaps,
        setting_gap_h=USUAL_GAP_H[kind],
        since_last_h=max(0.0, (now - lit[-1]).total_seconds() / 3600) if lit else None,
        planned_h=tuple((at - now).total_seconds() / 3600 for at in planned),
        went_in=went,
        waited=waited,
    )


def ranges_of(pieces: list[Piece], *, now: datetime) -> dict[int, Forecast]:
    """Ranges by primary key, of those that have one. Three queries whatever the number."""
    waiting = [piece for piece in pieces if steps_left(piece)]
    if not waiting:
        return {}
    found = records(now=now, pieces=waiting)
    made = {piece.pk: range_of(piece, found=found, now=now) for piece in waiting}
    return {key: forecast for key, forecast in made.items() if forecast is not None}


def asked_before(*, most: int = 100) -> list[tuple[datetime, datetime, datetime]]:
    """What would have been said of past pieces, and what came: (earliest, latest, when it was ready).

    Each of the latest ``most`` pieces that became ready is asked about once, at one of its own moves on the
    way, from what was on record then. For `studio.domain.forecast.held`.
    """
    moves = Event.objects.filter(undone_by__isnull=True).exclude(kind=Event.Kind.UNDONE)
    ready = dict(
        moves.filter(to_stage=Stage.READY)
        .exclude(from_stage=Stage.READY)
        .order_by("-at")
        .values_list("piece_id", "at")[:most]
    )
    asked = []
    for piece in Piece.objects.filter(pk__in=ready).order_by("pk"):
        way = [
            (stage, at)
            for was, stage, at in moves.filter(piece=piece, at__lt=ready[piece.pk])
            .order_by("id")
            .values_list("from_stage", "to_stage", "at")
            if was != stage and stage in ASKED_AT
        ]
        if not way:
            continue
        stage, at = Random(piece.code).choice(way)  # noqa: S311
        piece.stage, piece.stage_since = stage, at
        said = range_of(piece, found=records(now=at, until=at), now=at)
        if said is not None:
            asked.append((said.earliest, said.latest, ready[piece.pk]))
    return asked
