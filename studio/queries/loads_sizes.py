"""The size a piece has as it goes into a kiln."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from studio.domain.packing import Footprint, Rectangle, Round
from studio.domain.sharing import round_half_up
from studio.domain.stages import GREENWARE, Stage
from studio.models import ClayBody, Piece


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


def size_going_in(piece: Piece) -> Size:
    """The size a piece has now, from the stage it was measured at and its clay's figures."""
    stage = Stage(piece.stage)
    going_in = Stage.BONE_DRY if stage in GREENWARE else stage
    lengths = (piece.width_mm, piece.depth_mm, piece.height_mm)
    kept = kept_of_wet(piece.clay, going_in) / kept_of_wet(piece.clay, Stage(piece.measured_stage))
    width, depth, height = (max(1, round_half_up(length * kept)) for length in lengths)
    if piece.is_round:
        width = depth = max(width, depth)
    return Size(piece.is_round, width, depth, height)


def kept_of_wet(clay: ClayBody, stage: Stage) -> Fraction:
    """What is left of a wet length at a stage."""
    if stage in {Stage.WET, Stage.LEATHER_HARD}:
        percent = 0
    elif stage == Stage.BONE_DRY:
        percent = clay.shrinkage_dry_pct
    elif stage in {Stage.BISQUED, Stage.BISQUE_FIRING}:
        percent = clay.shrinkage_bisque_pct
    else:
        percent = clay.shrinkage_fired_pct
    return 1 - Fraction(percent) / 100
