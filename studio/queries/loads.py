"""A load as the packing rules see it, and how full it is.

`plan_of` turns a firing's layers and places into the domain's shapes. Whoever plans a load by machine starts
from the same: `plan_of(firing)` and the items of `waiting_for`, and ends with `actions.loads.load_piece`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import ceil, floor

from studio.domain.kiln_measures import Thermocouple
from studio.domain.loading import (
    Chamber,
    Clearances,
    Item,
    Layer,
    Load,
    Position,
    Shelf,
    Stock,
    edge_mm,
    kept_clear_on,
    spot,
)
from studio.domain.packing import Board, Footprint, Outline, Placed, Rectangle, Round
from studio.domain.props import heights_possible, stacks_for
from studio.domain.say import say
from studio.domain.stages import FiringKind
from studio.models import Firing, Kiln, Placement, Studio
from studio.models import Layer as LayerRow

from .loads_sizes import Size
from .usual_loads import usual_load_mm3

#: A place is written down in whole millimetres: a piece moved to the nearest one is moved by less than this.
_ROUNDING_MM = 1.5


@dataclass(frozen=True, slots=True)
class Plan:
    """A firing's load. ``items`` are its pieces by mark, ``placements`` its places, bottom layer first."""

    firing: Firing
    load: Load
    items: dict[str, Item]
    placements: tuple[Placement, ...]
    layers: tuple[LayerRow, ...]

    def layer(self, number: int) -> Layer:
        layer = self.load.layer(number)
        assert layer is not None
        return layer

    def with_place(self, item: Item, *, layer: int, place: Placed) -> Plan:
        """The same plan with one more piece in it, or with that piece standing elsewhere."""
        others = tuple(position for position in self.load.positions if position.key != item.key)
        load = replace(self.load, positions=(*others, Position(item.key, layer, place)))
        return replace(self, load=load, items={**self.items, item.key: item})

    def without(self, mark: str) -> Plan:
        """The same plan without that piece."""
        kept = tuple(position for position in self.load.positions if position.key != mark)
        return replace(
            self,
            load=replace(self.load, positions=kept),
            items={key: item for key, item in self.items.items() if key != mark},
        )

    def free_place(self, item: Item, *, layer: int) -> Placed | None:
        """A free place on a layer in whole millimetres, or None when there is none."""
        return _in_whole_mm(load=self.load, items=self.items, item=item, layer=self.layer(layer))

    def room_mm(self, layer: int) -> int:
        """Height of the tallest piece that may stand on a layer."""
        return max(0, int(self.load.room_mm(self.layer(layer))))


def plan_of(firing: Firing, *, studio: Studio | None = None, heights_mm: Iterable[int] | None = None) -> Plan:
    """The load of a firing. ``heights_mm`` tries other props: one height a layer, bottom first.

    Query count does not depend on how much is in it.
    """
    kiln = firing.kiln
    studio = studio or Studio.the()
    rows = tuple(firing.layers.order_by("number"))
    heights = [row.prop_mm for row in rows] if heights_mm is None else list(heights_mm)
    stock = prop_stock(kiln)
    # Heights that the stock can't make stay as they are, so that the checker names what is missing.
    stacks = stacks_for(heights_mm=heights, stock=stock) or [
        (height,) if height else () for height in heights
    ]
    shelf = kiln_shelf(kiln)
    placements = tuple(standing_places(firing))
    load = Load(
        chamber=chamber_of(kiln),
        layers=tuple(Layer(number, shelf, stack) for number, stack in enumerate(stacks, start=1)),
        positions=tuple(
            Position(place.piece.mark, place.layer.number, Placed(place.x_mm, place.y_mm, place.turned))
            for place in placements
        ),
        stock=Stock(props=stock, shelves={shelf: shelves_in_stock(kiln)}),
        clearances=clearances_for(kiln, FiringKind(firing.kind), studio),
        bisque=firing.kind == FiringKind.BISQUE,
    )
    items = {place.piece.mark: item_at(place) for place in placements}
    return Plan(firing, load, items, placements, rows)


def standing_places(firing: Firing) -> Iterable[Placement]:
    """The places that count, bottom layer first."""
    return (
        firing.placements.filter(taken_out_at__isnull=True)
        .select_related("layer", "piece", "piece__maker", "piece__clay")
        .order_by("layer__number", "pk")
    )


def item_at(place: Placement) -> Item:
    """A placed piece as it stands in the kiln, on its stand."""
    size = Size(place.is_round, place.width_mm, place.depth_mm, place.height_mm)
    return item_for(place.piece.mark, size, stand_mm=place.stand_mm)


def item_for(mark: str, size: Size, *, stand_mm: int = 0) -> Item:
    """A piece for the packing. Cone and dryness are looked at by the rules of loading, not by the packing."""
    return Item(mark, size.footprint(stand_mm=stand_mm), size.height_mm + stand_mm)


def chamber_of(kiln: Kiln) -> Chamber:
    """The kiln's inside. Of a many-sided one the circle that touches its walls is taken, to be safe."""
    outline: Outline
    if kiln.shape == Kiln.Shape.RECTANGLE:
        outline = Rectangle(kiln.width_mm, kiln.depth_mm)
    else:
        outline = Round(min(kiln.width_mm, kiln.depth_mm))
    probe = thermocouple_of(kiln)
    return Chamber(
        outline=outline,
        height_mm=kiln.height_mm,
        floor_mm=kiln.floor_gap_mm,
        kept_clear=probe.kept_clear(outline) if probe else (),
        prop_side_mm=kiln.prop_side_mm,
    )


def thermocouple_of(kiln: Kiln) -> Thermocouple | None:
    """Where the kiln's thermocouple is, or None when nobody has entered it."""
    if kiln.thermocouple_clock is None or kiln.thermocouple_height_mm is None:
        return None
    return Thermocouple(
        clock=kiln.thermocouple_clock,
        height_mm=kiln.thermocouple_height_mm,
        reach_mm=kiln.thermocouple_reach_mm,
        clear_mm=kiln.thermocouple_clear_mm,
    )


def kiln_shelf(kiln: Kiln) -> Shelf:
    """Its kiln shelf: round where the kiln is not rectangular and the shelf as deep as wide."""
    outline: Outline
    if kiln.shape != Kiln.Shape.RECTANGLE and kiln.shelf_width_mm == kiln.shelf_depth_mm:
        outline = Round(kiln.shelf_width_mm)
    else:
        outline = Rectangle(kiln.shelf_width_mm, kiln.shelf_depth_mm)
    return Shelf(outline, kiln.shelf_thickness_mm)


def shelves_in_stock(kiln: Kiln) -> int:
    """How many layers its kiln shelves make: two halves lie side by side for one."""
    return kiln.whole_shelves + kiln.half_shelves // 2


def prop_stock(kiln: Kiln) -> dict[int, int]:
    """Count of props by length in mm."""
    return {prop.length_mm: prop.count for prop in kiln.props.all()}


def prop_heights(kiln: Kiln) -> list[int]:
    """Layer heights in mm that the kiln's props can make, for a page to offer."""
    return heights_possible(prop_stock(kiln))


def clearances_for(kiln: Kiln, kind: FiringKind, studio: Studio) -> Clearances:
    """Bisque ware may touch its neighbours and the wall; glazed ware keeps its distance."""
    apart = 0 if kind == FiringKind.BISQUE else studio.clearance_mm
    return Clearances(ware_mm=apart, wall_mm=apart, above_mm=studio.headroom_mm, lid_mm=kiln.lid_gap_mm)


def empty_plan(kiln: Kiln, kind: FiringKind, studio: Studio) -> Load:
    """The kiln with one bare layer, to see whether a piece fits into it at all."""
    shelf = kiln_shelf(kiln)
    return Load(
        chamber=chamber_of(kiln),
        layers=(Layer(1, shelf),),
        positions=(),
        stock=Stock(shelves={shelf: 1}),
        clearances=clearances_for(kiln, kind, studio),
    )


@dataclass(frozen=True, slots=True)
class LayerFill:
    """How full a layer is. ``name`` is Top, Bottom or its number from the top, as people say it."""

    row: LayerRow
    name: str
    pieces: int
    area_share: float
    room_mm: int
    tallest_mm: int


@dataclass(frozen=True, slots=True)
class Fill:
    """How full a load is: per layer from the top, and in all. Volumes are of the boxes round the pieces."""

    layers: tuple[LayerFill, ...]
    pieces: int
    volume_mm3: int
    chamber_mm3: int
    #: Mean of the kiln's latest closed loads of this kind; None before the first.
    usual_mm3: float | None

    @property
    def of_usual(self) -> float | None:
        return self.volume_mm3 / self.usual_mm3 if self.usual_mm3 else None


def fill_of(plan: Plan) -> Fill:
    """How full a load is by shelf area and by volume, against the kiln's usual load of this kind."""
    rows = []
    count = len(plan.layers)
    for row, layer in zip(plan.layers, plan.load.layers, strict=True):
        on_it = [plan.items[p.key] for p in plan.load.positions if p.layer == layer.number]
        rows.append(
            LayerFill(
                row=row,
                name=layer_name(row.number, count),
                pieces=len(on_it),
                area_share=sum(item.footprint.area_mm2 for item in on_it) / layer.shelf.outline.area_mm2,
                room_mm=plan.room_mm(row.number),
                tallest_mm=int(max((item.height_mm for item in on_it), default=0)),
            )
        )
    return Fill(
        layers=tuple(reversed(rows)),
        pieces=len(plan.placements),
        volume_mm3=sum(place.width_mm * place.depth_mm * place.height_mm for place in plan.placements),
        chamber_mm3=chamber_mm3(plan.firing.kiln),
        usual_mm3=usual_load_mm3(plan.firing.kiln, kind=plan.firing.kind, besides=plan.firing),
    )


def chamber_mm3(kiln: Kiln) -> int:
    """Room for ware: the kiln shelf's area times the height that is not kept clear at floor and lid."""
    height = max(0, kiln.height_mm - kiln.floor_gap_mm - kiln.lid_gap_mm)
    return int(kiln_shelf(kiln).outline.area_mm2) * height


def layer_name(number: int, count: int) -> str:
    """``Top shelf``, ``Shelf 2``, ``Bottom shelf``: counted from the top, as a load is unpacked."""
    if number == count:
        return say("Top shelf")
    return say("Bottom shelf") if number == 1 else say("Shelf {count}", count=count - number + 1)


def place_seen(place: Placement) -> str:
    """Where a page shows a piece, to tell later whether it has been moved: layer, x, y, turned, stand."""
    return f"{place.layer.number}.{place.x_mm}.{place.y_mm}.{int(place.turned)}.{place.stand_mm}"


def _in_whole_mm(*, load: Load, items: dict[str, Item], item: Item, layer: Layer) -> Placed | None:
    """`spot` in whole millimetres: found for a piece grown by what the rounding can move it.

    Where only the very place will do, the whole millimetres round about it are tried.
    """
    foot = item.footprint
    if isinstance(foot, Round):
        grown: Footprint = Round(foot.diameter_mm + _ROUNDING_MM)
    else:
        grown = Rectangle(foot.width_mm + _ROUNDING_MM, foot.depth_mm + _ROUNDING_MM)
    place = spot(load=load, items=items, item=replace(item, footprint=grown), layer=layer)
    if place is not None:
        return Placed(round(place.x_mm), round(place.y_mm), place.turned)
    place = spot(load=load, items=items, item=item, layer=layer)
    if place is None:
        return None
    board = Board(
        layer.shelf.outline,
        gap_mm=load.clearances.ware_mm,
        edge_mm=edge_mm(load, layer),
        kept_clear=kept_clear_on(load, layer, height_mm=item.height_mm),
        placed=[(items[p.key].footprint, p.place) for p in load.positions if p.layer == layer.number],
    )
    for x in (floor(place.x_mm), ceil(place.x_mm)):
        for y in (floor(place.y_mm), ceil(place.y_mm)):
            near = Placed(x, y, place.turned)
            if board.fits(foot, near):
                return near
    return None
