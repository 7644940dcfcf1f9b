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
            higher = furnisher.useful_heights(tallest[-1:])[:1]
            layers = furnisher.layers(Build((*props, *higher))) if higher else None
            if layers is None or _top_room(bare, layers) < unit.height_mm:
                continue
            props += higher
        filling = Filling(grid)
        if _stand(filling, unit):
            fillings.append(filling)
            tallest.append(unit.height_mm)
        elif props:
            props.pop()
    low_first = [height for t in tallest[1:] for height in furnisher.useful_heights([t])[:1]]
    found = [Build(tuple(sorted(low_first))), Build(tuple(props))]
    return [build for build in dict.fromkeys(found) if furnisher.layers(build) is not None]


def _stand(filling: Filling, unit: Unit) -> bool:
    for size in sizes_of(unit.footprint):
        bits = filling.free(size, filling.grid.inside(size))
        if bits:
            filling.standing.append((len(filling.standing), size, pick(bits, (), False)))
            return True
    return False


def _top_room(bare: Load, layers: tuple[Layer, ...]) -> float:
    load = Load(bare.chamber, layers, (), bare.stock, bare.clearances)
    return load.room_mm(layers[-1])
