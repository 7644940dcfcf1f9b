"""A load as its sheet tells it to whoever stands at the kiln: from the bottom, with pictures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from studio.domain.lengths import length_words
from studio.domain.say import say
from studio.models import Photo, Placement

from .loads import LayerFill, Plan


@dataclass(frozen=True, slots=True)
class SheetPiece:
    """A piece on the sheet: ``where`` in words, the latest photo or None, the stand it needs in mm or 0."""

    place: Placement
    where: str
    photo: Photo | None


@dataclass(frozen=True, slots=True)
class SheetLayer:
    """A layer on the sheet; ``stack_mm`` are the lengths of one stack of its props, longest first."""

    fill: LayerFill
    pieces: tuple[SheetPiece, ...]
    stack_mm: tuple[int, ...]


def sheet_layers(plan: Plan, fills: Iterable[LayerFill]) -> list[SheetLayer]:
    """Layers from the bottom up; pieces from the back to the front, left to right. One query."""
    photos = _latest_photos(plan)
    layers = []
    for fill in sorted(fills, key=lambda fill: fill.row.number):
        places = [place for place in plan.placements if place.layer_id == fill.row.pk]
        pieces = tuple(
            SheetPiece(place, where_words(place.x_mm, place.y_mm), photos.get(place.piece_id))
            for place in sorted(places, key=lambda place: (-place.y_mm, place.x_mm))
        )
        stack = tuple(int(length) for length in plan.layer(fill.row.number).props_mm)
        layers.append(SheetLayer(fill, pieces, stack))
    return layers


def where_words(x_mm: int, y_mm: int) -> str:
    """``12 cm left, 4.5 cm back`` from the middle of the kiln shelf; the door or the front edge is front."""
    across = (
        (
            say("{length_words} right", length_words=length_words(abs(x_mm)))
            if x_mm > 0
            else say("{length_words} left", length_words=length_words(abs(x_mm)))
        )
        if x_mm
        else ""
    )
    along = (
        (
            say("{length_words} back", length_words=length_words(abs(y_mm)))
            if y_mm > 0
            else say("{length_words} front", length_words=length_words(abs(y_mm)))
        )
        if y_mm
        else ""
    )
    return ", ".join(filter(None, (across, along))) or say("in the middle")


def props_to_fetch(plan: Plan) -> list[tuple[int, int]]:
    """``[(length_mm, how many), …]`` for the whole load, three stacks to a layer."""
    counts: Counter[int] = Counter()
    for layer in plan.load.layers:
        for length in layer.props_mm:
            counts[int(length)] += 3
    return sorted(counts.items())


def stands_to_fetch(plan: Plan) -> list[tuple[int, list[str]]]:
    """``[(height_mm, marks of the pieces on such a stand), …]``, lowest first."""
    marks: dict[int, list[str]] = {}
    for place in plan.placements:
        if place.stand_mm:
            marks.setdefault(place.stand_mm, []).append(place.piece.mark)
    return sorted(marks.items())


def _latest_photos(plan: Plan) -> dict[int, Photo]:
    rows = Photo.objects.filter(piece__in=[place.piece_id for place in plan.placements])
    return {photo.piece_id: photo for photo in rows.order_by("taken_at", "pk")}
