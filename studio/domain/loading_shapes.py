"""The things a kiln load is made of: chamber, shelves, props, layers, pieces and where each stands.

All lengths are millimetres. In the chamber x runs to the right and y to the back from its middle, and heights
count from its floor. Layers are numbered from the bottom; a layer's props stand on its shelf and carry the
shelf above.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from .packing_shapes import LARGEST_MM, Footprint, Outline, Placed, Rectangle, Round
from .problems import DomainError
from .say import say

PROPS_PER_SHELF = 3
STACKED_PROPS = 2


def _not_negative(name: str, value: float) -> None:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= LARGEST_MM:
        raise DomainError(
            say(
                "{name} must be from 0 to {largest_mm} mm, not {value}.",
                name=name,
                largest_mm=LARGEST_MM,
                value=repr(value),
            )
        )


def _positive(name: str, value: float) -> None:
    _not_negative(name, value)
    if value == 0:
        raise DomainError(say("{name} must be more than 0 mm.", name=name))


@dataclass(frozen=True)
class Clearances:
    """Free distances in a load. The defaults are common practice for glazed ware."""

    ware_mm: float = 5
    wall_mm: float = 5
    above_mm: float = 10
    lid_mm: float = 25

    def __post_init__(self) -> None:
        for name in ("ware_mm", "wall_mm", "above_mm", "lid_mm"):
            _not_negative(say("A clearance"), getattr(self, name))

    @classmethod
    def for_bisque(cls) -> Clearances:
        """Bisque ware may touch its neighbours and the wall (common practice)."""
        return cls(ware_mm=0, wall_mm=0)


@dataclass(frozen=True)
class KeptClear:
    """An upright round space round a thermocouple (or peephole) that ware keeps out of.

    Centre in the chamber, radius (25 mm by common practice), and the heights from and to which it reaches.
    Shelves keep out of it too, unless it reaches through every height (``to_mm`` None): then only ware does.
    """

    x_mm: float
    y_mm: float
    radius_mm: float = 25
    from_mm: float = 0
    to_mm: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.x_mm) and math.isfinite(self.y_mm)):
            raise DomainError(say("The place of the thermocouple must be given in millimetres."))
        _positive(say("The distance to keep from the thermocouple"), self.radius_mm)
        _not_negative(say("The lowest height kept clear"), self.from_mm)
        if self.to_mm is not None and self.to_mm <= self.from_mm:
            raise DomainError(say("The space kept clear must reach higher than it begins."))

    @property
    def top_mm(self) -> float:
        return math.inf if self.to_mm is None else self.to_mm


@dataclass(frozen=True)
class Chamber:
    """Inside of a kiln: outline from above, height, what the bottom shelf stands on, spaces kept clear.

    ``floor_mm`` is the height of the feet under the bottom shelf; they belong to the kiln and are not counted
    among the props. ``prop_side_mm`` is how wide a prop is: ware keeps off the three props of its layer; 0
    leaves them out of account.
    """

    outline: Outline
    height_mm: float
    floor_mm: float = 25
    kept_clear: tuple[KeptClear, ...] = ()
    prop_side_mm: float = 30

    def __post_init__(self) -> None:
        _positive(say("The height of the chamber"), self.height_mm)
        _not_negative(say("The height of the bottom shelf"), self.floor_mm)
        _not_negative(say("The width of a prop"), self.prop_side_mm)


@dataclass(frozen=True)
class Shelf:
    """A kiln shelf. ``half`` shelves lie in the left or the right half of the kiln, two to a level."""

    outline: Outline
    thickness_mm: float = 16
    half: bool = False

    def __post_init__(self) -> None:
        _positive(say("The thickness of a kiln shelf"), self.thickness_mm)


@dataclass(frozen=True)
class Layer:
    """One shelf of a load, numbered from the bottom, with the props that stand on it.

    ``props_mm`` are the lengths of one stack of props, (102,) or (102, 51); empty when no shelf lies above.
    ``side`` is whole, left or right: halves stand side by side, over the whole layers or over the floor.
    Number the halves through: each number occurs once in a load. ``x_mm``, ``y_mm`` are where the shelf's
    origin lies in the chamber.
    """

    number: int
    shelf: Shelf
    props_mm: tuple[float, ...] = ()
    side: str = "whole"
    x_mm: float = 0
    y_mm: float = 0

    def __post_init__(self) -> None:
        if self.number < 1:
            raise DomainError(say("Layers are numbered from 1, the bottom one."))
        if self.side not in ("whole", "left", "right"):
            raise DomainError(say("A layer is whole, left or right, not {side}.", side=repr(self.side)))
        for length in self.props_mm:
            _positive(say("The length of a prop"), length)

    @property
    def prop_mm(self) -> float:
        """Height of the props on this layer; 0 when there are none."""
        return sum(self.props_mm)


@dataclass(frozen=True)
class Item:
    """A piece that waits for a firing, as it stands in the kiln (on its stand, if it has one).

    ``cone`` is the wanted cone, empty when any will do. The waiting figures give it its value in a load.
    ``hollow`` and ``hollow_depth_mm`` describe the room inside a bowl or pot, for nesting; ``rim_open`` says
    that its rim may carry another piece of the same rim upside down.
    """

    key: str
    footprint: Footprint
    height_mm: float
    cone: str = ""
    bone_dry: bool = True
    mass_g: float | None = None
    waited_days: float = 0
    due_in_days: float | None = None
    course_ends_in_days: float | None = None
    hollow: Footprint | None = None
    hollow_depth_mm: float = 0
    rim_open: bool = False

    def __post_init__(self) -> None:
        if not isinstance(self.footprint, (Round, Rectangle)):
            raise DomainError(say("A piece stands on a round or a rectangular footprint."))
        _positive(say("The height of a piece"), self.height_mm)
        _not_negative(say("The depth inside a piece"), self.hollow_depth_mm)
        if self.hollow_depth_mm >= self.height_mm:
            raise DomainError(say("A piece is not as deep inside as it is high."))
        if self.hollow is not None and self.hollow.reach_mm > self.footprint.reach_mm:
            raise DomainError(say("The room inside a piece is no wider than the piece."))
        if self.mass_g is not None and not 0 < self.mass_g < 1e7:
            raise DomainError(say("The weight of a piece must be a number of grams above 0."))

    @property
    def volume_mm3(self) -> float:
        """Of the box or cylinder round the piece."""
        return self.footprint.area_mm2 * self.height_mm


@dataclass(frozen=True)
class Position:
    """Where a piece stands: on which layer and where from the middle of that layer's shelf.

    ``rests_on`` names the piece it stands in (``how`` "nested") or on, rim to rim ("boxed"); it then shares
    that piece's x and y.
    """

    key: str
    layer: int
    place: Placed
    rests_on: str | None = None
    how: str = ""

    def __post_init__(self) -> None:
        if (self.rests_on is None) != (self.how == "") or self.how not in ("", "nested", "boxed"):
            raise DomainError(say("A piece stands on its shelf, or nested in or boxed on another piece."))


@dataclass(frozen=True)
class Stock:
    """Kiln shelves and props the studio owns: ``props`` counts by length in mm, ``shelves`` counts by
    shelf."""

    props: Mapping[float, int] = field(default_factory=dict)
    shelves: Mapping[Shelf, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for length, count in self.props.items():
            _positive(say("The length of a prop"), length)
            if count < 0:
                raise DomainError(say("The count of props must be 0 or more."))
        if any(count < 0 for count in self.shelves.values()):
            raise DomainError(say("The count of kiln shelves must be 0 or more."))
        object.__setattr__(self, "props", MappingProxyType(dict(self.props)))
        object.__setattr__(self, "shelves", MappingProxyType(dict(self.shelves)))


@dataclass(frozen=True)
class Load:
    """A kiln as it is (to be) filled. ``may_stack`` is the tutor's leave to nest and box bisque ware."""

    chamber: Chamber
    layers: tuple[Layer, ...]
    positions: tuple[Position, ...]
    stock: Stock
    clearances: Clearances = field(default_factory=Clearances)
    bisque: bool = False
    may_stack: bool = False

    def layer(self, number: int) -> Layer | None:
        return next((layer for layer in self.layers if layer.number == number), None)

    def above(self, layer: Layer) -> tuple[Layer, ...]:
        """The layers whose shelves stand on this layer's props: one, two halves, or none."""
        above = [other for other in self.layers if other.number > layer.number]
        if layer.side != "whole":
            return tuple(sorted((o for o in above if o.side == layer.side), key=lambda o: o.number)[:1])
        wholes = sorted((o for o in above if o.side == "whole"), key=lambda o: o.number)
        if wholes:
            return tuple(wholes[:1])
        halves = [
            min((o for o in above if o.side == side), key=lambda o: o.number, default=None)
            for side in ("left", "right")
        ]
        return tuple(half for half in halves if half is not None)

    def below(self, layer: Layer) -> Layer | None:
        """The layer whose props carry this one, or None when it stands on the floor."""
        lower = [o for o in self.layers if o.number < layer.number and o.side in ("whole", layer.side)]
        return max(lower, key=lambda o: o.number, default=None)

    def base_mm(self, layer: Layer) -> float:
        """Height of the upper face of the layer's shelf above the kiln floor."""
        height = layer.shelf.thickness_mm
        below = self.below(layer)
        while below is not None:
            height += below.prop_mm + below.shelf.thickness_mm
            below = self.below(below)
        return height + self.chamber.floor_mm

    def room_mm(self, layer: Layer) -> float:
        """Free height for ware on a layer, clearances already taken off."""
        if self.above(layer):
            return layer.prop_mm - self.clearances.above_mm
        return self.chamber.height_mm - self.clearances.lid_mm - self.base_mm(layer)
