"""First fit by falling height: the plain way to load, which the search starts from and so is never worse
than."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from .loading_fill import Ground, positions_of
from .loading_layers import Build, Furnisher
from .loading_room import edge_mm, kept_clear_on
from .loading_shapes import Layer, Load, Position
from .loading_units import Unit
from .packing_grid import Filling, pick, sizes_of
from .packing_shapes import Board, Footprint, Placed, Round
from .packing_spot import first_spot


def first_fit_builds(
    *, bare: Load, furnisher: Furnisher, units: Sequence[Unit], ground: Ground
) -> list[Build]:
    """Builds that take the units highest first, each on the first layer with room, else on a new one.

    Two orders of the same layers: low ones below high ones, and as they were opened, highest below. Props and
    thermocouple are left out of account: whoever fills the builds looks at those.
    """
    if not furnisher.whole_shelves:
        return []
    shelf = furnisher.whole_shelves[0]
    layer = Layer(1, shelf)
    grid = ground.grid(shelf.outline, edge_mm(bare, layer), bare.clearances.ware_mm)
    fillings: list[Filling] = []
    tallest: list[float] = []
    props: list[float] = []
    for unit in sorted(units, key=lambda u: (-u.height_mm, u.foot.key)):
        if any(_stand(filling, unit) for filling in fillings):
            continue
        if fillings:
            height = _shortest(bare, furnisher, props, tallest[-1], unit.height_mm)
            if height is None:
                continue
            props.append(height)
        filling = Filling(grid)
        if _stand(filling, unit):
            fillings.append(filling)
            tallest.append(unit.height_mm)
        elif props:
            props.pop()
    low_first: list[float] = []
    for height in reversed(tallest[1:]):
        found = _shortest(bare, furnisher, low_first, height, 1)
        low_first += [] if found is None else [found]
    builds = [Build(tuple(low_first)), Build(tuple(props))]
    return [build for build in dict.fromkeys(builds) if furnisher.layers(build) is not None]


def _stand(filling: Filling, unit: Unit) -> bool:
    for size in sizes_of(unit.footprint):
        bits = filling.free(size, filling.grid.inside(size))
        if bits:
            filling.standing.append((len(filling.standing), size, pick(bits, (), False)))
            return True
    return False


def _shortest(
    bare: Load, furnisher: Furnisher, props: Sequence[float], tallest_mm: float, next_mm: float
) -> float | None:
    """The shortest props in stock over ware of one height that leave the layer above room for the next."""
    for height in furnisher.heights:
        if height < tallest_mm + bare.clearances.above_mm:
            continue
        layers = furnisher.layers(Build((*props, height)))
        if layers is not None:
            load = Load(bare.chamber, layers, (), bare.stock, bare.clearances)
            return height if load.room_mm(layers[-1]) >= next_mm else None
    return None


#: Rounding to whole millimetres may bring two pieces 1.4 mm nearer: room is sought for a piece so much wider.
ROUNDING_MM = 1.5


def first_fit_load(*, bare: Load, furnisher: Furnisher, units: Sequence[Unit]) -> Load:
    """The load that the plain way ends with, each piece as far out on its shelf as it can stand."""
    load = replace(bare, layers=furnisher.layers(Build()) or ())
    boards = [_board(load, layer) for layer in load.layers]
    tallest = [0.0]
    props: list[float] = []
    positions: list[Position] = []
    for unit in sorted(units, key=lambda u: (-u.height_mm, u.foot.key)):
        place, k = _first_place(load, boards, unit)
        if place is None and load.layers and tallest[-1]:
            height = _shortest(bare, furnisher, props, tallest[-1], unit.height_mm)
            if height is None:
                continue
            layers = furnisher.layers(Build((*props, height)))
            assert layers is not None
            higher = replace(bare, layers=layers)
            coming = _board(higher, layers[-1])
            place, k = _first_place(higher, [coming], unit)[0], len(boards)
            if place is not None:
                load, boards, props = higher, [*boards, coming], [*props, height]
                tallest.append(0.0)
        if place is not None:
            boards[k].add(unit.footprint, place)
            tallest[k] = max(tallest[k], unit.height_mm)
            positions += positions_of(unit, load.layers[k].number, place)
    return replace(load, positions=tuple(positions))


def _board(load: Load, layer: Layer) -> Board:
    return Board(layer.shelf.outline, gap_mm=load.clearances.ware_mm, edge_mm=edge_mm(load, layer))


def _first_place(load: Load, boards: Sequence[Board], unit: Unit) -> tuple[Placed | None, int]:
    """The first of the boards, which are the load's last layers, with a place in whole millimetres."""
    for k, board in enumerate(boards):
        layer = load.layers[len(load.layers) - len(boards) + k]
        if unit.height_mm > load.room_mm(layer):
            continue
        discs = kept_clear_on(load, layer, height_mm=unit.height_mm)
        if not layer.props_mm:
            # Props may yet come to stand here.
            alone = replace(load.chamber, kept_clear=())
            carried = (replace(layer, number=1, props_mm=(1,)), replace(layer, number=2))
            discs += kept_clear_on(replace(load, chamber=alone, layers=carried), carried[0], height_mm=1)
        board.kept_clear = [(d.x_mm, d.y_mm, d.radius_mm) for d in discs]
        place = first_spot(board, _wider(unit.footprint))
        if place is not None:
            return Placed(round(place.x_mm), round(place.y_mm), place.turned), k
    return None, 0


def _wider(footprint: Footprint) -> Footprint:
    if isinstance(footprint, Round):
        return Round(footprint.diameter_mm + ROUNDING_MM)
    return replace(
        footprint, width_mm=footprint.width_mm + ROUNDING_MM, depth_mm=footprint.depth_mm + ROUNDING_MM
    )
