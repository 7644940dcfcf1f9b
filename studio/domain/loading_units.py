"""What the planner puts down as one: a piece, or bisque ware nested in a piece or boxed rim to rim on it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .loading_shapes import Item
from .loading_value import Weights
from .packing_shapes import Footprint, Rectangle, Round

#: Rims that are boxed may differ by this much; common practice, no source.
RIM_MM = 5


@dataclass(frozen=True)
class Unit:
    """Pieces that share one place: the one on the shelf first, then (item, key it rests on, how)."""

    foot: Item
    upper: tuple[tuple[Item, str, str], ...] = ()
    value: float = 0.0

    @property
    def footprint(self) -> Footprint:
        return self.foot.footprint

    @property
    def items(self) -> tuple[Item, ...]:
        return (self.foot, *(item for item, _, _ in self.upper))

    @property
    def height_mm(self) -> float:
        top = highest = self.foot.height_mm
        lower = self.foot
        for item, _, how in self.upper:
            top = top - lower.hollow_depth_mm + item.height_mm if how == "nested" else top + item.height_mm
            highest, lower = max(highest, top), item
        return highest

    @property
    def mass_g(self) -> float:
        """Weights as given; what was not weighed is taken as half a gram for each millilitre of its box."""
        return sum(i.volume_mm3 / 2000 if i.mass_g is None else i.mass_g for i in self.items)

    def takes(self, item: Item) -> str | None:
        """How one more piece could rest in or on this unit: nested, boxed, or not at all."""
        if len(self.upper) >= 2:
            return None
        top = self.upper[-1][0] if self.upper else self.foot
        if self.upper and self.upper[-1][2] == "boxed":
            return None
        if nests(item, top):
            return "nested"
        return "boxed" if not self.upper and rims_meet(item, top) else None

    def plus(self, item: Item, how: str, value: float) -> Unit:
        top = self.upper[-1][0] if self.upper else self.foot
        # A boxed piece stands upside down: what is in it when it is upright does not count.
        return Unit(self.foot, (*self.upper, (item, top.key, how)), self.value + value)


def nests(inner: Item, outer: Item) -> bool:
    """Whether a piece goes into another without touching its walls."""
    room, foot = outer.hollow, inner.footprint
    if room is None:
        return False
    if isinstance(room, Round):
        return 2 * foot.reach_mm <= room.diameter_mm
    if isinstance(foot, Round):
        return foot.diameter_mm <= min(room.width_mm, room.depth_mm)
    return any(f.width_mm <= room.width_mm and f.depth_mm <= room.depth_mm for f in (foot, foot.turned()))


def rims_meet(upper: Item, lower: Item) -> bool:
    """Whether one piece can stand upside down on the other's rim."""
    if not (upper.rim_open and lower.rim_open) or type(upper.footprint) is not type(lower.footprint):
        return False
    pairs = zip(_lengths(upper.footprint), _lengths(lower.footprint), strict=True)
    return all(abs(a - b) <= RIM_MM for a, b in pairs)


def _lengths(footprint: Footprint) -> tuple[float, ...]:
    if isinstance(footprint, Rectangle):
        return footprint.width_mm, footprint.depth_mm
    return (footprint.diameter_mm,)


def units_of(
    items: Sequence[Item],
    weights: Weights,
    *,
    nest: bool = False,
    box: bool = False,
    room_mm: float = math.inf,
) -> list[Unit]:
    """The pieces as units, widest first; stacked as far as ``nest`` and ``box`` say, no unit higher than the
    room."""
    order = sorted(items, key=lambda i: (-i.footprint.area_mm2, i.key))
    units: list[Unit] = []
    for item in order:
        alone = Unit(item, (), weights.of(item))
        best, best_rise = None, math.inf
        if nest or box:
            for k, unit in enumerate(units):
                how = unit.takes(item)
                if how is None or (how == "nested" and not nest) or (how == "boxed" and not box):
                    continue
                taller = unit.plus(item, how, alone.value)
                rise = taller.height_mm - unit.height_mm
                if taller.height_mm <= room_mm and rise < min(best_rise, item.height_mm + 1):
                    best, best_rise = (k, taller), rise
        if best is None:
            units.append(alone)
        else:
            units[best[0]] = best[1]
    return units
