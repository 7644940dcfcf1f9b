"""Pairs of lengths of a clay, entered or from pieces that were measured twice, and the figure they give.

Of a piece its width counts, as it was last measured wet and last measured at a later stage: feet are turned
off heights. Whole millimetres of a small pot say little, so pots under `LEAST_PIECE_MM` are left out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from studio.domain.shrinkage import MOST_PERCENT, BodyFigure, figure_from_pairs, linear_percent
from studio.domain.stages import AFTER_LAST_FIRING, FiringKind, Stage
from studio.models import ClayBody, Event, LengthPair, Piece

LEAST_PIECE_MM = 60
MOST_PIECES = 400
COLUMNS = {
    LengthPair.Stage.BONE_DRY.value: "shrinkage_dry_pct",
    LengthPair.Stage.BISQUED.value: "shrinkage_bisque_pct",
    LengthPair.Stage.FIRED.value: "shrinkage_fired_pct",
}
_MEASURED_AT = {
    Stage.BONE_DRY: "bone-dry",
    Stage.BISQUED: "bisqued",
    Stage.GLAZED: "bisqued",
    **dict.fromkeys(AFTER_LAST_FIRING, "fired"),
}


@dataclass(frozen=True, slots=True)
class Pair:
    """``pair`` is the row where it was entered, ``piece`` where it is of a pot. ``counts``: of this cone."""

    stage: str
    cone: str
    wet_mm: Decimal
    later_mm: Decimal
    what: str
    on: date
    counts: bool
    pair: LengthPair | None = None
    piece: Piece | None = None

    @property
    def percent(self) -> float:
        return linear_percent(before_mm=float(self.wet_mm), after_mm=float(self.later_mm))


@dataclass(frozen=True, slots=True)
class StageFigure:
    """What the books have for a stage, %, and what pairs give; ``measured`` is None where there is none."""

    stage: str
    words: str
    in_books: Decimal
    measured: BodyFigure | None

    @property
    def differs(self) -> bool:
        """Whether the books' figure lies outside the interval, or off the mean where there is none."""
        if self.measured is None:
            return False
        if self.measured.low is None:
            return abs(self.measured.percent - float(self.in_books)) >= 0.05
        return not self.measured.low <= float(self.in_books) <= self.measured.high


def pairs_of(clay: ClayBody) -> list[Pair]:
    """All that count or did, the newest first. Four queries whatever the number."""
    entered = [
        Pair(
            stage=row.stage,
            cone=row.cone,
            wet_mm=row.wet_mm,
            later_mm=row.later_mm,
            what=row.what,
            on=row.measured_on,
            counts=_counts(clay, row.stage, row.cone),
            pair=row,
        )
        for row in clay.length_pairs.filter(taken_back_at__isnull=True)
    ]
    return sorted([*entered, *_of_pieces(clay)], key=lambda pair: pair.on, reverse=True)


def figures_of(clay: ClayBody, pairs: Iterable[Pair] | None = None) -> list[StageFigure]:
    """A figure for each stage; the books' own counts like one pair."""
    pairs = pairs_of(clay) if pairs is None else list(pairs)
    return [_figure(clay, stage.value, pairs) for stage in LengthPair.Stage]


def figure_of(clay: ClayBody, stage: str) -> StageFigure:
    return _figure(clay, stage, pairs_of(clay))


def _figure(clay: ClayBody, stage: str, pairs: Iterable[Pair]) -> StageFigure:
    in_books = getattr(clay, COLUMNS[stage])
    known = [
        (float(pair.wet_mm), float(pair.later_mm)) for pair in pairs if pair.stage == stage and pair.counts
    ]
    measured = figure_from_pairs(pairs_mm=known, stated_percent=float(in_books)) if known else None
    return StageFigure(stage, LengthPair.Stage(stage).label, in_books, measured)


def _counts(clay: ClayBody, stage: str, cone: str) -> bool:
    return stage != LengthPair.Stage.FIRED or not cone or cone == clay.cone


def _of_pieces(clay: ClayBody) -> list[Pair]:
    resized = Event.objects.filter(
        kind=Event.Kind.RESIZED, undone_by__isnull=True, piece__clay=clay, before__has_key="columns"
    )
    events: dict[int, list[Event]] = {}
    for event in resized.select_related("piece").order_by("-id")[: MOST_PIECES * 3]:
        events.setdefault(event.piece_id, []).append(event)
    cones = _cones(list(events)[:MOST_PIECES])
    return [
        pair
        for key in list(events)[:MOST_PIECES]
        for pair in _of_piece(clay, events[key], cones.get(key, ""))
    ]


def _of_piece(clay: ClayBody, newest_first: list[Event], cone: str) -> list[Pair]:
    """Walk back through what was measured: the last wet width, and the last one at each later stage."""
    piece = newest_first[0].piece
    width, stage = piece.width_mm, piece.measured_stage
    seen: dict[str, tuple[int, date]] = {}
    wet = None
    for event in newest_first:
        group = _MEASURED_AT.get(Stage(stage))
        if group and group not in seen:
            seen[group] = (width, timezone.localdate(event.at))
        columns = event.before.get("columns", {})
        width, stage = columns.get("width_mm", width), columns.get("measured_stage", stage)
        if stage == Stage.WET:
            wet = width
            break
    if wet is None or wet < LEAST_PIECE_MM:
        return []
    found = [
        Pair(
            stage=group,
            cone=cone if group == LengthPair.Stage.FIRED else "",
            wet_mm=Decimal(wet),
            later_mm=Decimal(later),
            what=f"{piece.get_form_display()} {piece.mark}",
            on=on,
            counts=_counts(clay, group, cone),
            piece=piece,
        )
        for group, (later, on) in seen.items()
    ]
    return [pair for pair in found if -1 <= pair.percent <= MOST_PERCENT]


def _cones(pieces: list[int]) -> dict[int, str]:
    """The cone of the last glaze firing each piece came out of."""
    events = Event.objects.filter(
        piece__in=pieces,
        undone_by__isnull=True,
        firing__kind=FiringKind.GLAZE,
        kind__in=[Event.Kind.UNLOADED, Event.Kind.FOUND, Event.Kind.KNOWN],
    )
    return dict(events.order_by("pk").values_list("piece", "firing__cone"))
