"""What the machine is given to fill a kiln, and what it has found, as pages show it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from studio.domain.cones import hotter, within
from studio.domain.loading import Item, Layer, Position
from studio.domain.loading_ways import WAYS, ways_for
from studio.domain.packing import Placed
from studio.domain.props import stacks_for
from studio.domain.say import later, say
from studio.models import Firing, Piece, Placement, Proposal
from studio.models import Layer as LayerRow

from .loads import Plan, item_at, place_seen, plan_of, prop_stock
from .loads_sizes import Size
from .loads_waiting import GLAZES, Waiting, items_for_planning, waiting_for_firing

#: Height of the stands that pieces get which must not touch the kiln shelf (common practice, no source).
STAND_MM = 15
#: The database allows no more layers.
_MOST_LAYERS = 12
#: Without a beat for so long, nobody works on it any more.
BEAT_LOST_AFTER = timedelta(seconds=15)
#: Seconds of search for each way; together with all around it the page has an answer within three.
SECONDS = 1.0


@dataclass(frozen=True)
class Gathered:
    """What one filling of a kiln is worked out from. ``jobs`` go to the machine, ``seen`` into the row."""

    plan: Plan
    jobs: list[dict[str, Any]]
    seen: dict[str, Any]
    free: int


def gather(firing: Firing, *, now: datetime, anew: bool = False, seconds: float = SECONDS) -> Gathered:
    """Pieces, kiln and props for a filling. What stands in the load stays, or with ``anew`` what is pinned.

    Query count does not depend on how many pieces wait.
    """
    plan = plan_of(firing)
    rows = waiting_for_firing(firing, now=now)
    kept = [place for place in plan.placements if place.pinned or not anew]
    loose = [place for place in plan.placements if not (place.pinned or not anew)]
    waiting = [row for row in rows if row.may_go_in]
    wanted = items_for_planning(waiting, firing=firing, now=now)
    items = [on_stand(item, row) for item, row in zip(wanted, waiting, strict=True)]
    items += [_worth(place, now=now) for place in loose]
    free = len(items)
    held = {place.piece.mark for place in kept}
    ways = ways_for(items)
    shelves = [(shelf, min(count, _MOST_LAYERS)) for shelf, count in plan.load.stock.shelves.items()]
    shared = {
        "items": [*items, *(item_at(place) for place in kept)],
        "chamber": plan.load.chamber,
        "props": dict(plan.load.stock.props),
        "shelves": shelves,
        "clearances": plan.load.clearances,
        "bisque": plan.load.bisque,
        "layers": plan.load.layers,
        "held": [position for position in plan.load.positions if position.key in held],
        "seconds": seconds,
    }
    pieces: dict[str, list[Any]] = {}
    for row in waiting:
        size = row.size
        sizes = [size.is_round, size.width_mm, size.depth_mm, size.height_mm]
        pieces[row.piece.mark] = [row.piece.code, sizes, STAND_MM if row.stand_why else 0]
    for place in loose:
        sizes = [place.is_round, place.width_mm, place.depth_mm, place.height_mm]
        pieces[place.piece.mark] = [place.piece.code, sizes, place.stand_mm]
    barred = [
        [row.piece.code, " ".join(problem.message for problem in row.problems), what_would_help(row)]
        for row in rows
        if not row.may_go_in
    ]
    seen = {
        "pieces": pieces,
        "barred": barred,
        "kept": {place.piece.mark: place_seen(place) for place in kept},
    }
    return Gathered(plan, [{**shared, "way": way.key} for way in ways], seen, free)


def on_stand(item: Item, row: Waiting) -> Item:
    """A piece that must not touch the kiln shelf, as it is on its stand."""
    if not row.stand_why:
        return item
    return replace(
        item, footprint=row.size.footprint(stand_mm=STAND_MM), height_mm=row.size.height_mm + STAND_MM
    )


def _worth(place: Placement, *, now: datetime) -> Item:
    """A piece of the load that may be moved, with how long it has waited: as the waiting ones."""
    waited = max(0, (now - place.piece.stage_since).days)
    due = (place.piece.due_on - now.date()).days if place.piece.due_on else None
    return replace(item_at(place), cone=place.firing.cone, waited_days=waited, due_in_days=due)


#: What would help a piece that may not go in, by the rule that keeps it out.
_HELPS = {
    "not-bone-dry": later("Let it dry, and mark it bone dry."),
    "unglazed": later("Glaze it and note the glazes, or decide that it is fired bare."),
    "too-tall": later("A taller kiln would help."),
    "too-large": later("A larger kiln would help."),
}


def what_would_help(row: Waiting) -> str:
    """``A firing to cone 6.``; empty where the problem says it itself."""
    codes = [problem.code for problem in row.problems]
    if "wrong-cone" in codes:
        cone = cone_wanted(row.piece) or row.piece.clay.cone
        return (
            say("A firing to cone {cone} would take it.", cone=cone)
            if cone
            else say("A firing to its own cone would take it.")
        )
    return next((_HELPS[code] for code in codes if code in _HELPS), "")


def cone_wanted(piece: Piece, *, usual: str = "") -> str:
    """The cone this piece asks for: its maker's, the usual one where its clay and glazes allow that, or one
    that all of its glazes share, or the hottest its clay stands. Empty when nothing says."""
    if piece.cone_wanted:
        return piece.cone_wanted
    stands = piece.clay.cone
    if usual and stands and hotter(usual, stands):
        usual = stands
    spans = [(on.glaze.cone_from, on.glaze.cone_to) for on in piece.glazes_on.all() if on.glaze]
    for cone in (usual, *(cone for span in spans for cone in span)):
        if cone and all(within(cone, coldest=low, hottest=high) for low, high in spans):
            return cone
    return spans[0][1] if spans else usual


# What has been found


def is_lost(proposal: Proposal, now: datetime) -> bool:
    """Whether whoever worked on it is gone: the server was started anew, or the machine was."""
    return proposal.state == Proposal.State.WORKING and now - proposal.beat_at > BEAT_LOST_AFTER


def latest_proposal(firing: Firing | None) -> Proposal | None:
    """The latest one for a firing, or for the queue."""
    return Proposal.objects.filter(firing=firing).order_by("-pk").first()


@dataclass(frozen=True)
class LeftOutRow:
    piece: Piece
    why: str
    would_help: str


@dataclass(frozen=True)
class WayFound:
    """One way to fill the kiln, to draw and to compare.

    ``fill`` and ``most`` are parts of the chamber: what this load takes of it, and what no load of these
    pieces can pass. ``by_whom`` counts the new pieces by their maker, most first.
    """

    key: str
    name: str
    says: str
    plan: Plan
    new: int
    fill: float
    most: float
    by_whom: list[tuple[str, int]] = field(default_factory=list)
    left_out: list[LeftOutRow] = field(default_factory=list)
    longest_left_days: int = 0

    @property
    def pieces(self) -> int:
        return len(self.plan.placements)


def ways_found(proposal: Proposal, *, now: datetime) -> list[WayFound]:
    """The ways of a proposal that is ready; constant query count."""
    assert proposal.firing is not None
    plan = plan_of(proposal.firing)
    known = proposal.seen["pieces"]
    codes = [code for code, _, _ in known.values()]
    pieces = {piece.mark: piece for piece in _pieces(codes)}
    found = []
    for result in proposal.found["ways"]:
        way = WAYS[result["way"]]
        shown = _plan_found(plan, proposal, result, pieces)
        new = [pieces[mark] for mark, *_ in result["places"] if mark in pieces]
        left = [
            LeftOutRow(pieces[mark], *_left_words(mark, code, message, would_help))
            for mark, code, message, would_help in result["left_out"]
            if mark in pieces
        ]
        found.append(
            WayFound(
                key=way.key,
                name=way.name,
                says=way.says,
                plan=shown,
                new=len(new),
                fill=result["fill"],
                most=result["most"],
                by_whom=Counter(_maker(piece) for piece in new).most_common(),
                left_out=left,
                longest_left_days=max(
                    (max(0, (now - row.piece.stage_since).days) for row in left), default=0
                ),
            )
        )
    return found


def barred(proposal: Proposal) -> list[LeftOutRow]:
    """Pieces that could not go in by the rules of loading when it was worked out."""
    pieces = {piece.code: piece for piece in _pieces([code for code, *_ in proposal.seen["barred"]])}
    return [
        LeftOutRow(pieces[code], why, would_help)
        for code, why, would_help in proposal.seen["barred"]
        if code in pieces
    ]


def _pieces(codes: Iterable[str]) -> list[Piece]:
    rows = Piece.objects.filter(code__in=list(codes)).select_related("maker", "clay")
    return list(rows.prefetch_related(GLAZES))


def _maker(piece: Piece) -> str:
    if piece.maker:
        return piece.maker.full_name
    return say("the studio’s own") if piece.studios_own else say("nobody known")


def _left_words(mark: str, code: str, message: str, would_help: str) -> tuple[str, str]:
    """The machine's reason in the words of the load page, which counts layers by name."""
    if code == "no-room":
        return (
            say("{mark} found no room beside ware that counts for more here.", mark=mark),
            say("Plan it into the next load, or put it in by hand, pin it, and fill the kiln again."),
        )
    return message, would_help


def _plan_found(
    plan: Plan, proposal: Proposal, result: Mapping[str, Any], pieces: Mapping[str, Piece]
) -> Plan:
    """The load as it would be: rows that are not saved, what stays in it and what is new."""
    firing, heights = plan.firing, result["props_mm"]
    layers = tuple(
        LayerRow(pk=-number, firing=firing, number=number, prop_mm=height)
        for number, height in enumerate(heights, start=1)
    )
    stacks = stacks_for(heights_mm=heights, stock=prop_stock(firing.kiln)) or [
        (height,) if height else () for height in heights
    ]
    shelf = next(iter(plan.load.stock.shelves))
    kept = set(proposal.seen["kept"])
    placements = []
    for place in plan.placements:
        if place.piece.mark in kept and place.layer.number <= len(layers):
            placements.append(_copy(place, layers[place.layer.number - 1]))
    for number, (mark, layer, x_mm, y_mm, turned) in enumerate(result["places"], start=1):
        if mark not in pieces or layer > len(layers):
            continue
        _, sizes, stand_mm = proposal.seen["pieces"][mark]
        placements.append(
            Placement(
                pk=-number,
                firing=firing,
                layer=layers[layer - 1],
                piece=pieces[mark],
                x_mm=x_mm,
                y_mm=y_mm,
                turned=turned,
                stand_mm=stand_mm,
                **size_columns(sizes),
            )
        )
    load = replace(
        plan.load,
        layers=tuple(Layer(number, shelf, stack) for number, stack in enumerate(stacks, start=1)),
        positions=tuple(
            Position(place.piece.mark, place.layer.number, Placed(place.x_mm, place.y_mm, place.turned))
            for place in placements
        ),
    )
    items = {place.piece.mark: item_at(place) for place in placements}
    return Plan(firing, load, items, tuple(placements), layers)


def size_columns(sizes: Iterable[Any]) -> dict[str, Any]:
    """A size as it stands in ``seen``, as columns of a placement."""
    names = ("is_round", "width_mm", "depth_mm", "height_mm")
    return dict(zip(names, sizes, strict=True))


def size_seen(sizes: Iterable[Any]) -> Size:
    return Size(**size_columns(sizes))


def _copy(place: Placement, layer: LayerRow) -> Placement:
    names = [f.attname for f in Placement._meta.concrete_fields if f.attname not in {"layer_id", "id"}]
    copy = Placement(pk=place.pk, **{name: getattr(place, name) for name in names})
    copy.layer, copy.piece, copy.firing = layer, place.piece, place.firing
    return copy
