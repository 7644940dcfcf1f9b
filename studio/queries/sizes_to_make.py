"""The size to make for a size wanted, and the lid for a gallery, by a clay's figures and their interval."""

from __future__ import annotations

from dataclasses import dataclass

from studio.domain.lengths import MM_PER_INCH, Unit, unit_in_force
from studio.domain.problems import DomainError
from studio.domain.say import say
from studio.domain.shrinkage import BodyFigure, Lid, lid_for, wet_size
from studio.domain.stages import Stage
from studio.models import ClayBody

from .loads_sizes import shrinkage_of
from .shrinkage import figure_of

#: Fired sizes of the table.
USUAL_SIZES_MM = (50, 80, 100, 120, 150, 200, 250, 300)
USUAL_SIZES_IN = (2, 3, 4, 5, 6, 8, 10, 12)


@dataclass(frozen=True, slots=True)
class ToMake:
    """All in mm. ``low_mm`` to ``high_mm`` is what a pot made ``wet_mm`` comes out as, 19 times in 20."""

    fired_mm: float
    wet_mm: float
    dry_mm: float
    low_mm: float | None = None
    high_mm: float | None = None


def usual_sizes_mm() -> list[float]:
    """Whole ones in the studio's unit."""
    if unit_in_force() is Unit.INCH:
        return [size * float(MM_PER_INCH) for size in USUAL_SIZES_IN]
    return [float(size) for size in USUAL_SIZES_MM]


def to_make(clay: ClayBody, fired_mm: float, figure: BodyFigure | None = None) -> ToMake:
    """Worked out with the figure in the books; the range with what was measured, where that is enough."""
    wet = wet_size(size_mm=fired_mm, percent_to_stage=float(clay.shrinkage_fired_pct))
    low = high = None
    if figure and figure.piece_high is not None and figure.pairs >= 5:
        low, high = wet * (1 - figure.piece_high / 100), wet * (1 - figure.piece_low / 100)
    return ToMake(fired_mm, wet, wet * (1 - float(clay.shrinkage_dry_pct) / 100), low, high)


def measured_fired(clay: ClayBody) -> BodyFigure | None:
    return figure_of(clay, "fired").measured


@dataclass(frozen=True, slots=True)
class LidToMake:
    lid: Lid
    #: Pot and lid of one clay, measured at one stage: only the gap shrinks, and the figure matters little.
    alike: bool
    #: How much wider or narrower such a lid may come out, mm; None while too little is known.
    either_way_mm: float | None


def lid_to_make(
    *, gallery_mm: float, gallery_at: str, clay: ClayBody, lid_clay: ClayBody, lid_at: str, gap_mm: float
) -> LidToMake:
    """Raises `DomainError` where no lid is left."""
    lid = lid_for(
        gallery_mm=gallery_mm,
        gallery_at=gallery_at,
        lid_at=lid_at,
        gap_mm=gap_mm,
        gallery_percents=_percents(clay),
        lid_percents=_percents(lid_clay),
    )
    figure = measured_fired(lid_clay)
    either = None
    if figure and figure.piece_high is not None and figure.pairs >= 5:
        either = lid.lid_mm * (figure.piece_high - figure.piece_low) / 200
    return LidToMake(lid, clay == lid_clay and gallery_at == lid_at, either)


def _percents(clay: ClayBody) -> dict[str, float]:
    percents = {Stage(stage).value: percent for stage, percent in shrinkage_of(clay).items()}
    if percents["fired"] >= 100:
        raise DomainError(say("The clay's figures can't be right. Check them on its page."), code="percent")
    return percents
