"""First fit by falling height: the plain way to load, which the search starts from and so is never worse
than."""

from __future__ import annotations

from collections.abc import Sequence

from .loading_fill import Ground
from .loading_layers import Build, Furnisher
from .loading_room import edge_mm
from .loading_shapes import Layer, Load
from .loading_units import Unit
from .packing_grid import Filling, pick, sizes_of


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
