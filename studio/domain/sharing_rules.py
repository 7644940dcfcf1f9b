"""The studio's rules for sharing a firing, and the facts of one: all whole millimetres and minor units."""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import StrEnum
from fractions import Fraction

from .problems import DomainError
from .say import say

#: The key of the empty space; it comes before every mark, so the studio and no maker pays for a tie.
EMPTY_SPACE = ""

#: π as far as a pocket calculator needs it, 3.1416, in ten-thousandths.
PI_10000 = 31416


class Basis(StrEnum):
    OWN_BOX = "own-box"
    SHELF_SHARE = "shelf-share"


class EmptySpace(StrEnum):
    """Who bears the space that no piece takes."""

    STUDIO = "studio"
    MAKERS = "makers"


class Free(StrEnum):
    """Why a piece is charged nothing."""

    STUDIO_PIECE = "studio-piece"
    LOST = "lost"
    STUDIO_FAULT = "studio-fault"


@dataclass(frozen=True, slots=True)
class FiringCost:
    """What a firing cost, in minor units, by kind."""

    energy_minor: int = 0
    consumables_minor: int = 0
    wear_minor: int = 0
    labour_minor: int = 0

    def __post_init__(self) -> None:
        for field in fields(self):
            _whole(
                getattr(self, field.name),
                say("The cost of {removesuffix}", removesuffix=field.name.removesuffix("_minor")),
                least=0,
            )

    @property
    def total_minor(self) -> int:
        return self.energy_minor + self.consumables_minor + self.wear_minor + self.labour_minor


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of the load: its kiln shelf's area, and its height with the shelf's thickness."""

    number: int
    area_mm2: int
    height_mm: int

    def __post_init__(self) -> None:
        _whole(self.area_mm2, say("The shelf area of layer {number}", number=self.number), least=1)
        _whole(self.height_mm, say("The height of layer {number}", number=self.number), least=1)


@dataclass(frozen=True, slots=True)
class Placement:
    """A piece as it went into the kiln. ``maker`` is empty for the studio's own and demonstration pieces.

    For a round footprint width and depth are the diameter. ``studio_fault`` marks a refire that the studio
    has to answer for.
    """

    key: str
    maker: str
    width_mm: int
    depth_mm: int
    height_mm: int
    layer: int = 1
    round: bool = False
    lost: bool = False
    studio_fault: bool = False

    def __post_init__(self) -> None:
        if not self.key:
            raise DomainError(say("A piece in the load has no mark."), code="keys")
        for size in (self.width_mm, self.depth_mm, self.height_mm):
            _whole(size, say("A size of {key}", key=self.key), least=1)
        if self.round and self.width_mm != self.depth_mm:
            raise DomainError(
                say("{key} is round, so its width and depth must be the same.", key=self.key), code="size"
            )


@dataclass(frozen=True, slots=True)
class Maker:
    """What a maker pays and has paid for already: rate in thousandths, allowance left of a course in mm³."""

    rate_per_mille: int = 1000
    allowance_mm3: int = 0

    def __post_init__(self) -> None:
        _whole(self.rate_per_mille, say("A rate in thousandths"), least=0)
        _whole(self.allowance_mm3, say("An allowance"), least=0)


@dataclass(frozen=True, slots=True)
class Policy:
    """The studio's choices. ``clearance_mm`` is the free space kept between two pieces (shelf share).

    ``studio_pieces_share`` False leaves the studio's own and test pieces out: their room counts as empty.
    """

    basis: Basis = Basis.OWN_BOX
    empty_space: EmptySpace = EmptySpace.STUDIO
    clearance_mm: int = 0
    smallest_charge_minor: int = 0
    rounding_step_minor: int = 1
    lost_are_free: bool = True
    studio_fault_is_free: bool = True
    studio_pieces_share: bool = True

    def __post_init__(self) -> None:
        _whole(self.clearance_mm, say("The clearance"), least=0)
        _whole(self.smallest_charge_minor, say("The smallest charge"), least=0)
        _whole(self.rounding_step_minor, say("The rounding step"), least=1)

    def free(self, placement: Placement) -> Free | None:
        if not placement.maker:
            return Free.STUDIO_PIECE
        if placement.lost and self.lost_are_free:
            return Free.LOST
        if placement.studio_fault and self.studio_fault_is_free:
            return Free.STUDIO_FAULT
        return None


def round_mm2(diameter_mm: int) -> int:
    """Area of a round in whole mm², rounded half up: 3.1416 × half the diameter, squared."""
    return (PI_10000 * diameter_mm * diameter_mm + 20_000) // 40_000


def footprint_mm2(placement: Placement, *, clearance_mm: int) -> int:
    """The area a piece takes on its shelf in whole mm²: its footprint and half the clearance all round."""
    if placement.round:
        return round_mm2(placement.width_mm + clearance_mm)
    return (placement.width_mm + clearance_mm) * (placement.depth_mm + clearance_mm)


def litres_to_mm3(litres: str | int) -> int:
    """Litres, as typed ("2.5"), in whole mm³. Raises `DomainError` on what is no number or below 0."""
    try:
        volume = Fraction(litres) * 1_000_000
    except (ValueError, ZeroDivisionError):
        raise DomainError(say("Litres must be a number, such as 2.5."), code="litres") from None
    if volume < 0:
        raise DomainError(say("Litres can't be below 0."), code="litres")
    return round(volume)


def _whole(value: int, what: str, *, least: int) -> None:
    if type(value) is not int or value < least:
        raise DomainError(
            say("{what} must be a whole number, {least} or more.", what=what, least=least),
            code="whole-number",
        )
