"""The size a piece has as it goes into a kiln."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor

from studio.domain.packing import Footprint, Rectangle, Round
from studio.domain.shrinkage import size_at
from studio.domain.stages import AFTER_LAST_FIRING, GREENWARE, Stage
from studio.models import ClayBody, Event, Piece


@dataclass(frozen=True, slots=True)
class Size:
    """Whole millimetres; a round piece has its diameter in both width and depth."""

    is_round: bool
    width_mm: int
    depth_mm: int
    height_mm: int

    def footprint(self, *, stand_mm: int = 0) -> Footprint:
        """As seen from above; a stand under it makes it that much wider."""
        if self.is_round:
            return Round(self.width_mm + stand_mm)
        return Rectangle(self.width_mm + stand_mm, self.depth_mm + stand_mm)

    @property
    def volume_mm3(self) -> int:
        """Of the box round it."""
        return self.width_mm * self.depth_mm * self.height_mm


def size_going_in(piece: Piece, *, fired_before: bool = False) -> Size:
    """The size a piece has now, from the stage it was measured at and its clay's figures.

    Greenware is taken as bone dry, for that is how it goes into a kiln; what has been through its last firing
    before, and is glazed again, as fired.
    """
    now = Stage.BONE_DRY if piece.stage in GREENWARE else Stage.FIRED if fired_before else Stage(piece.stage)
    percents = shrinkage_of(piece.clay)
    lengths = [
        size_at(size_mm=length, measured_at=piece.measured_stage, wanted_at=now.value, percents=percents)
        for length in (piece.width_mm, piece.depth_mm, piece.height_mm)
    ]
    width, depth, height = (max(1, floor(length + 0.5)) for length in lengths)
    if piece.is_round:
        width = depth = max(width, depth)
    return Size(piece.is_round, width, depth, height)


def fired_before(pieces: Iterable[Piece]) -> set[int]:
    """Primary keys of those that have come out of their last firing once, as refired ones have."""
    return set(
        Event.objects.filter(piece__in=[piece.pk for piece in pieces], undone_by__isnull=True)
        .filter(to_stage__in=[stage.value for stage in AFTER_LAST_FIRING])
        .values_list("piece", flat=True)
    )


def shrinkage_of(clay: ClayBody) -> dict[str, float]:
    """Total linear shrinkage from wet in % to every stage. Leather-hard is taken as half way to bone dry."""
    dry, bisque, fired = (
        float(percent)
        for percent in (clay.shrinkage_dry_pct, clay.shrinkage_bisque_pct, clay.shrinkage_fired_pct)
    )
    percents = dict.fromkeys([stage.value for stage in Stage], fired)
    percents |= {Stage.WET.value: 0.0, Stage.LEATHER_HARD.value: dry / 2, Stage.BONE_DRY.value: dry}
    percents |= {Stage.BISQUE_FIRING.value: dry, Stage.BISQUED.value: bisque, Stage.GLAZED.value: bisque}
    return percents | {Stage.GLAZE_FIRING.value: bisque}
