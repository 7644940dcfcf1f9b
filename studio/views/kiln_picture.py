"""A kiln to scale, with shelves, props and the room round its thermocouple: saved, or as it is typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from studio.domain.kiln_measures import Built, layer_heights, remarks
from studio.domain.problems import DomainError
from studio.domain.say import say
from studio.imaging.kilns_drawn import DrawnChamber, DrawnLayer, three_props
from studio.models import Kiln
from studio.queries.loads import chamber_of, thermocouple_of

from .load_drawn import drawn_chamber, drawn_shelf


@dataclass(frozen=True, slots=True)
class KilnPicture:
    """What the drawings take, layers from the top down, with what looks odd; ``halves`` is a layer of two
    half shelves, None where there are none. ``trouble`` is said in place of the picture."""

    chamber: DrawnChamber | None = None
    layers: tuple[DrawnLayer, ...] = ()
    halves: DrawnLayer | None = None
    floor_gap_mm: int = 25
    lid_gap_mm: int = 25
    litres: int = 0
    at_wall_mm: float = 0
    remarks: tuple[str, ...] = ()
    trouble: str = ""


def picture_of(kiln: Kiln, props: Mapping[int, int] | None) -> KilnPicture:
    """The kiln as it would stand with as many layers as its shelves and props give."""
    if kiln.shape != Kiln.Shape.RECTANGLE and kiln.width_mm != kiln.depth_mm:
        return KilnPicture(
            trouble=say("A round or many-sided kiln is as deep as it is wide. Write its width twice.")
        )
    if kiln.shelf_width_mm > kiln.width_mm or kiln.shelf_depth_mm > kiln.depth_mm:
        return KilnPicture(trouble=say("The kiln shelf is larger than the kiln. Check both sizes."))
    try:
        chamber_of(kiln)
    except DomainError as error:
        return KilnPicture(trouble=error.message)
    built = Built(
        shape=kiln.shape,
        width_mm=kiln.width_mm,
        depth_mm=kiln.depth_mm,
        height_mm=kiln.height_mm,
        shelf_width_mm=kiln.shelf_width_mm,
        shelf_depth_mm=kiln.shelf_depth_mm,
        shelf_thickness_mm=kiln.shelf_thickness_mm,
        floor_gap_mm=kiln.floor_gap_mm,
        lid_gap_mm=kiln.lid_gap_mm,
        whole_shelves=kiln.whole_shelves,
        half_shelves=kiln.half_shelves,
        power_kw=kiln.power_kw,
        props=props,
        thermocouple=thermocouple_of(kiln),
    )
    if built.free_mm <= 0:
        return KilnPicture(trouble=say("The gaps and one kiln shelf fill the whole height. Check the sizes."))
    shelf = drawn_shelf(kiln)
    heights = layer_heights(built)
    layers = []
    for number, height in enumerate(heights, start=1):
        halves = number > kiln.whole_shelves and kiln.half_shelves > 1
        layers.append(
            DrawnLayer(
                name=say("Layer {number}", number=number),
                shelf=replace(shelf, halves="two") if halves else shelf,
                props=three_props(shelf) if height else (),
                prop_mm=height or None,
                number=len(heights) - number + 1,
            )
        )
    return KilnPicture(
        chamber=drawn_chamber(kiln),
        layers=tuple(reversed(layers)),
        halves=DrawnLayer(say("Two half shelves"), replace(shelf, halves="two"))
        if kiln.half_shelves > 1
        else None,
        floor_gap_mm=kiln.floor_gap_mm,
        lid_gap_mm=kiln.lid_gap_mm,
        litres=round(built.litres),
        at_wall_mm=min(kiln.width_mm - kiln.shelf_width_mm, kiln.depth_mm - kiln.shelf_depth_mm) / 2,
        remarks=tuple(remarks(built)),
    )
