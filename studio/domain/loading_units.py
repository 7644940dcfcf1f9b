"""What the planner puts down as one: a piece, or bisque ware nested in a piece or boxed rim to rim on it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .loading_shapes import Item
from .loading_value import Weights
from .packing_shapes import Footprint, Placed, Rectangle, Round

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
        tops = {self.foot.key: self.foot.height_mm}
        depths = {item.key: item.hollow_depth_mm for item in self.items}
        for item, on, how in self.upper:
            tops[item.key] = tops[on] - (depths[on] if how == "nested" else 0) + item.height_mm
        return max(tops.values())

    @property
    def mass_g(self) -> float:
        """Weights as given; what was not weighed is taken as half a gram for each millilitre of its box."""
        return sum(i.volume_mm3 / 2000 if i.mass_g is None else i.mass_g for i in self.items)

    def takes(self, item: Item) -> str | None:
        """How one more piece could rest in or on this unit: nested, boxed, or not at all."""
        if len(self.upper) >= 2 or any(how == "boxed" for _, _, how in self.upper):
            return None
        if nests(item, self.upper[-1][0] if self.upper else self.foot):
            return "nested"
        # What is inside must not stand above the rim that carries the other piece.
        level = self.height_mm <= self.foot.height_mm
        return "boxed" if level and rims_meet(item, self.foot) and _no_wider(item, self.foot) else None

    def plus(self, item: Item, how: str, value: float) -> Unit:
        top = self.upper[-1][0] if self.upper and how == "nested" else self.foot
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


def place_on(item: Item, how: str, lower: Item, place: Placed) -> Placed:
    """Where an upper piece stands: in the same spot, and turned so that it goes into or onto the lower
    one."""
    foot, room = item.footprint, lower.hollow
    if how == "boxed" or not isinstance(foot, Rectangle) or not isinstance(room, Rectangle):
        return place
    straight = foot.width_mm <= room.width_mm and foot.depth_mm <= room.depth_mm
    return place if straight else Placed(place.x_mm, place.y_mm, not place.turned)


def rims_meet(upper: Item, lower: Item) -> bool:
    """Whether one piece can stand upside down on the other's rim."""
    if not (upper.rim_open and lower.rim_open) or type(upper.footprint) is not type(lower.footprint):
        return False
    pairs = zip(_lengths(upper.footprint), _lengths(lower.footprint), strict=True)
    return all(abs(a - b) <= RIM_MM for a, b in pairs)


def _no_wider(upper: Item, lower: Item) -> bool:
    """Whether the upper piece stays within the outline that the lower one was given room for."""
    pairs = zip(_lengths(upper.footprint), _lengths(lower.footprint), strict=True)
    return all(a <= b for a, b in pairs)


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
    room.

    First each piece goes into the one it makes least higher; then rims of one size are boxed, and what was in
    the upper one comes out again, for it stands upside down.
    """
    order = sorted(items, key=lambda i: (-i.footprint.area_mm2, i.key))
    units: list[Unit] = []
    for item in order:
        alone = Unit(item, (), weights.of(item))
        best: tuple[float, int, Unit] | None = None
        for k, unit in enumerate(units if nest else ()):
            if unit.takes(item) != "nested":
                continue
            taller = unit.plus(item, "nested", alone.value)
            rise = taller.height_mm - unit.height_mm
            if taller.height_mm <= room_mm and rise < item.height_mm and (best is None or rise < best[0]):
                best = rise, k, taller
        if best is None:
            units.append(alone)
        else:
            units[best[1]] = best[2]
    return _boxed(units, weights, room_mm) if box else units


def _boxed(units: list[Unit], weights: Weights, room_mm: float) -> list[Unit]:
    done: list[Unit] = []
    waiting = list(units)
    while waiting:
        lower = waiting.pop(0)
        for k, upper in enumerate(waiting):
            if lower.takes(upper.foot) != "boxed":
                continue
            taller = lower.plus(upper.foot, "boxed", weights.of(upper.foot))
            if taller.height_mm <= room_mm:
                del waiting[k]
                waiting += [Unit(item, (), weights.of(item)) for item, _, _ in upper.upper]
                lower = taller
                break
        done.append(lower)
    return done
