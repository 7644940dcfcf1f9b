"""What a plan of a load says: the load itself, how full it is, what it is worth at most, what stays out and
why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from .loading_builds import grown_area, grown_shelf_area
from .loading_layers import Furnisher, build_of
from .loading_shapes import Item, Layer, Load
from .loading_units import nests, rims_meet
from .loading_value import Weights
from .packing_shapes import Board, Disc
from .packing_spot import first_spot
from .problems import Problem
from .say import figure, say


@dataclass(frozen=True, slots=True)
class LeftOut(Problem):
    """Why a piece (``about``) is not in the load, and what would help."""

    would_help: str = ""

    @property
    def key(self) -> str:
        return self.about


@dataclass(frozen=True, slots=True)
class LayerFill:
    """How full a layer is: shares of its shelf's area and of the room above it, 0 to 1."""

    number: int
    pieces: int
    area_share: float
    volume_share: float
    tallest_mm: float
    mass_g: float


@dataclass(frozen=True, slots=True)
class Plan:
    """A legal load, and what is to be known about it.

    ``cone`` is the cone it is for. ``value`` are its points, ``value_bound`` points that no load of these
    pieces in this kiln can pass. ``volume_share`` is of the chamber between floor and lid clearance.
    """

    load: Load
    cone: str
    left_out: tuple[LeftOut, ...]
    value: float
    value_bound: float
    layers: tuple[LayerFill, ...]
    area_share: float
    volume_share: float

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(position.key for position in self.load.positions)


def fills(load: Load, items: Mapping[str, Item]) -> tuple[LayerFill, ...]:
    """How full each layer is. Ware that is nested or boxed takes no area of its own."""
    found = []
    for layer in load.layers:
        on_it = [p for p in load.positions if p.layer == layer.number]
        area = sum(items[p.key].footprint.area_mm2 for p in on_it if p.rests_on is None)
        volume = sum(items[p.key].volume_mm3 for p in on_it)
        shelf = layer.shelf.outline.area_mm2
        room = shelf * max(load.room_mm(layer), 1e-9)
        tallest = max((items[p.key].height_mm for p in on_it), default=0.0)
        mass = sum(_mass(items[p.key]) for p in on_it)
        found.append(LayerFill(layer.number, len(on_it), area / shelf, volume / room, tallest, mass))
    return tuple(found)


def _mass(item: Item) -> float:
    return item.volume_mm3 / 2000 if item.mass_g is None else item.mass_g


def volume_share(load: Load, items: Mapping[str, Item]) -> float:
    """Volume of the boxes and cylinders round the ware, of the chamber between floor and lid clearance."""
    chamber = load.chamber
    height = chamber.height_mm - chamber.floor_mm - load.clearances.lid_mm
    volume = sum(items[p.key].volume_mm3 for p in load.positions)
    return volume / (chamber.outline.area_mm2 * height) if height > 0 else 0.0


def area_share(load: Load, items: Mapping[str, Item]) -> float:
    shelves = sum(layer.shelf.outline.area_mm2 for layer in load.layers)
    area = sum(items[p.key].footprint.area_mm2 for p in load.positions if p.rests_on is None)
    return area / shelves if shelves else 0.0


def value_bound(
    *,
    items: Sequence[Item],
    furnisher: Furnisher,
    weights: Weights,
    stacked: bool,
    layers: Sequence[Layer] = (),
) -> float:
    """Points that no load can pass.

    Each piece takes its footprint, grown by half the gap, times its height with clearance and shelf, out of
    the grown shelf area times the height of the chamber; and its footprint alone out of all shelves in stock.
    The best that could be had of either, with pieces cut at will (fractional knapsack). Ware that could be
    nested or boxed takes nothing.
    """
    chamber, clearances = furnisher.chamber, furnisher.clearances
    gap = clearances.ware_mm
    shelves = [layer.shelf for layer in layers]
    if not shelves:
        shelves = [s for s, n in furnisher.stock.shelves.items() for _ in range(n)]
    if not shelves:
        return 0.0
    thin = min(shelf.thickness_mm for shelf in shelves)
    # A layer cannot hold more than the chamber is wide; halves lie two to a level.
    widest = max(grown_shelf_area(s.outline, gap) * (2 if s.half else 1) for s in shelves)
    height = chamber.height_mm - chamber.floor_mm - clearances.lid_mm + clearances.above_mm
    all_area = sum(grown_shelf_area(s.outline, gap) for s in shelves)
    by_volume, by_area = [], []
    for item in items:
        area = grown_area(item.footprint, gap)
        if stacked and any(o is not item and (nests(item, o) or rims_meet(item, o)) for o in items):
            area = 0.0
        by_volume.append((area * (item.height_mm + clearances.above_mm + thin), weights.of(item)))
        by_area.append((area, weights.of(item)))
    return min(_knapsack(by_volume, widest * height), _knapsack(by_area, all_area))


def _knapsack(pieces: Sequence[tuple[float, float]], room: float) -> float:
    total = 0.0
    for size, value in sorted(pieces, key=lambda p: p[0] / p[1] if p[1] else float("inf")):
        if size <= room:
            room -= size
            total += value
        else:
            return total + value * room / size
    return total


class Reasons:
    """Says why a piece stays out of a load."""

    def __init__(self, furnisher: Furnisher, tallest_mm: float, alone: Load | None) -> None:
        self.furnisher, self.tallest_mm, self.alone = furnisher, tallest_mm, alone

    def left_out(self, item: Item, load: Load, items: Mapping[str, Item]) -> LeftOut:
        key, height = item.key, item.height_mm
        rooms = {layer.number: load.room_mm(layer) for layer in load.layers}
        if not any(height <= room for room in rooms.values()):
            props = self.furnisher.useful_heights([height])
            help_ = (
                say("Props of {props} mm on a layer would give it room.", props=figure(props[0], "g"))
                if props
                else say("The top layer would do.")
            )
            short = height - max(rooms.values(), default=0.0)
            message = say(
                "{key} is {height} mm tall, {short} mm too tall for this load's highest layer.",
                key=key,
                height=figure(height, "g"),
                short=figure(short, "g"),
            )
            return LeftOut("no-high-layer", message, about=key, would_help=help_)
        missing = self._missing(item, load, items)
        if missing is not None:
            return missing
        tall = [str(n) for n, room in sorted(rooms.items()) if height <= room]
        where = (
            say("layer {tall}", tall=tall[0])
            if len(tall) == 1
            else say("layers {tall}", tall=", ".join(tall))
        )
        message = say(
            "{key} found no room on {where}, beside ware that counts for more.", key=key, where=where
        )
        return LeftOut(
            "no-room",
            message,
            about=key,
            would_help=say("Plan it into the next load, or pin it in this one."),
        )

    def _missing(self, item: Item, load: Load, items: Mapping[str, Item]) -> LeftOut | None:
        """Room for one more layer that only wants a shelf or props."""
        tops = [layer for layer in load.layers if not load.above(layer)]
        for top in tops:
            on_it = [items[p.key].height_mm for p in load.positions if p.layer == top.number]
            spare = load.room_mm(top) - max(on_it, default=0.0) - load.clearances.above_mm
            spare -= top.shelf.thickness_mm
            if spare < item.height_mm or top.side != "whole":
                continue
            if len(load.layers) >= self.furnisher.most_layers:
                message = say(
                    "{key} would have room on one more layer, and there is no kiln shelf left for it.",
                    key=item.key,
                )
                return LeftOut(
                    "no-shelf", message, about=item.key, would_help=say("One more kiln shelf would help.")
                )
            need = max(on_it, default=0.0) + load.clearances.above_mm
            build = build_of(load.layers)
            could = [h for h in self.furnisher.heights if need <= h <= need + spare - item.height_mm]
            if any(self.furnisher.layers(replace(build, whole=(*build.whole, h))) for h in could):
                return None
            message = say(
                "{key} would have room on one more layer, and there are no props left for it.", key=item.key
            )
            return LeftOut(
                "no-props",
                message,
                about=item.key,
                would_help=say(
                    "Three props of {need} to {need_2} mm would help.",
                    need=figure(need, "g"),
                    need_2=figure(need + spare - item.height_mm, "g"),
                ),
            )
        return None

    def never(self, item: Item) -> LeftOut | None:
        """Why a piece cannot go into this kiln at all."""
        if self.alone is None or not self.alone.layers:
            message = say("{key} stays out: this kiln has no shelf that could be set up.", key=item.key)
            return LeftOut(
                "no-shelf", message, about=item.key, would_help=say("Enter the kiln shelves in stock.")
            )
        if item.height_mm > self.tallest_mm:
            short = item.height_mm - self.tallest_mm
            message = say(
                "{key} is {height_mm} mm tall, {short} mm too tall for this kiln, which takes "
                "{tallest_mm} mm.",
                key=item.key,
                height_mm=figure(item.height_mm, "g"),
                short=figure(short, "g"),
                tallest_mm=figure(self.tallest_mm, "g"),
            )
            return LeftOut("too-tall", message, about=item.key, would_help=say("A taller kiln would help."))
        return None


def fits_alone(item: Item, *, boards: Iterable[tuple[Board, Sequence[Disc]]]) -> bool:
    """Whether a footprint has room on any of the empty shelves."""
    for board, discs in boards:
        board.kept_clear = [(d.x_mm, d.y_mm, d.radius_mm) for d in discs]
        if first_spot(board, item.footprint) is not None:
            return True
    return False
