"""A load as the drawings want it: chamber, layers from the top down, pieces with form and colour."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from django.db.models import prefetch_related_objects

from studio.domain.loading_room import prop_places
from studio.domain.say import midway
from studio.imaging.kilns_clear import DrawnClear
from studio.imaging.kilns_drawn import DrawnChamber, DrawnLayer, DrawnPiece, DrawnShelf
from studio.models import Kiln, Placement
from studio.queries.loads import Plan, chamber_of, layer_name
from studio.queries.pieces import colour_of
from studio.templatetags.studio_format import slip_name


@dataclass(frozen=True)
class DrawnLoad:
    """Layers from the top down, as a load is unpacked."""

    chamber: DrawnChamber
    layers: tuple[DrawnLayer, ...]


def drawn_chamber(kiln: Kiln) -> DrawnChamber:
    clear = tuple(
        DrawnClear(zone.x_mm, zone.y_mm, zone.radius_mm, zone.from_mm, zone.to_mm)
        for zone in chamber_of(kiln).kept_clear
    )
    return DrawnChamber(
        kiln.shape,
        kiln.width_mm,
        kiln.depth_mm,
        kiln.height_mm,
        sides=kiln.sides,
        opens=kiln.opens,
        kept_clear=clear,
    )


def drawn_shelf(kiln: Kiln) -> DrawnShelf:
    shape = "rectangle" if kiln.shape == Kiln.Shape.RECTANGLE else "round"
    return DrawnShelf(shape, kiln.shelf_width_mm, kiln.shelf_depth_mm, thickness_mm=kiln.shelf_thickness_mm)


def drawn_load(
    plan: Plan,
    *,
    href: Callable[[Placement], str | None] = lambda place: None,
    picked: int | None = None,
    gone: Collection[int] = (),
) -> DrawnLoad:
    """The load with each piece at its place. ``picked`` and ``gone`` name placements by primary key."""
    prefetch_related_objects([place.piece for place in plan.placements], "glazes_on__glaze")
    kiln = plan.firing.kiln
    shelf = drawn_shelf(kiln)
    count = len(plan.layers)
    layers = []
    for row in reversed(plan.layers):
        pieces = tuple(
            drawn_piece(place, href=href(place), picked=place.pk == picked, gone=place.pk in gone)
            for place in plan.placements
            if place.layer_id == row.pk
        )
        here = plan.layer(row.number)
        props = {place for above in plan.load.above(here) for place in prop_places(plan.load.chamber, above)}
        layers.append(
            DrawnLayer(
                name=layer_name(row.number, count),
                shelf=shelf,
                pieces=pieces,
                props=tuple(sorted(props)),
                prop_mm=row.prop_mm or None,
                number=count - row.number + 1,
            )
        )
    return DrawnLoad(drawn_chamber(kiln), tuple(layers))


def drawn_piece(
    place: Placement, *, href: str | None = None, picked: bool = False, gone: bool = False
) -> DrawnPiece:
    piece = place.piece
    maker = slip_name(piece.maker) if piece.maker else "studio" if piece.studios_own else "whose?"
    return DrawnPiece(
        mark=piece.mark,
        x_mm=place.x_mm,
        y_mm=place.y_mm,
        width_mm=place.width_mm,
        depth_mm=place.depth_mm,
        round=place.is_round,
        turned=place.turned,
        picked=picked,
        gone=gone,
        form=piece.form,
        height_mm=place.height_mm + place.stand_mm,
        colour=colour_of(piece),
        href=href,
        label=f"{midway(piece.get_form_display())}, {maker}",
        maker=maker,
        pinned=place.pinned,
    )
