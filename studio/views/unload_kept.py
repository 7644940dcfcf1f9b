"""A load as a phone keeps it: everything the unload page shows, as one value, so that no signal is needed.

Names are in it for the page that is open; the phone leaves them out of what it stores (``whose`` and ``by``).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from django.db.models import Q
from django.http import HttpRequest
from django.urls import reverse

from studio.domain.say import said_now, say
from studio.imaging import kilns_drawn, marks_drawn, pots
from studio.models import Firing, Shelf, Tag
from studio.queries import unload as queries
from studio.queries.loads import Plan, plan_of
from studio.queries.pieces import colour_of
from studio.queries.unload_state import state_of
from studio.templatetags.studio_format import cm, day, lower_first

from .load_drawn import drawn_load
from .scan_shelf import chosen_shelf
from .unload_words import glaze_words, shelves_for


def kept_load(
    request: HttpRequest,
    unloading: queries.Unload,
    now: datetime,
    *,
    plan: Plan | None = None,
    shelves: list[Shelf] | None = None,
) -> dict[str, object]:
    """The load of a firing: layers from the top with their maps, places, answers that stand, shelves.

    ``plan`` and ``shelves`` where the page has them at hand.
    """
    firing = unloading.firing
    drawn = drawn_load(plan or plan_of(firing, studio=request.studio))
    shelf = chosen_shelf(request)
    shelves = shelves_for(firing) if shelves is None else shelves
    tags = _tags_of([place.piece.pk for place in unloading.places], shelves)
    kept = {
        "unload": firing.number,
        "state": firing.state,
        "person": request.user.code,
        "now": now.isoformat(),
        "words": lower_first(firing),
        "kiln": str(firing.kiln),
        "layers": [
            {
                "name": row.name,
                "map": kilns_drawn.layer_map(_all_named(layer), label=row.name),
                "places": [place.piece.code for place in row.places],
            }
            for row, layer in zip(unloading.layers, drawn.layers, strict=True)
        ],
        "places": {place.piece.code: _place(place, tags) for place in unloading.places},
        "shelves": [_shelf(one, tags) for one in shelves],
        "shelf": shelf.code if shelf else "",
        "answers": {code: place for code, place in state_of(firing)["places"].items() if place["answered"]},
        "signs": {sign: marks_drawn.strokes(sign) for sign in marks_drawn.SIGNS},
        "urls": {
            "page": reverse("unload", args=[firing.number]),
            "load": reverse("unload-load", args=[firing.number]),
            "state": reverse("unload-state", args=[firing.number]),
            "deliver": reverse("unload-deliver", args=[firing.number]),
            "photo": reverse("unload-photo", args=[firing.number]),
            "reconcile": reverse("reconcile", args=[firing.number]),
            "firing": reverse("firing", args=[firing.number]),
        },
    }
    return said_now(kept)


def is_kept(firing: Firing) -> bool:
    """Whether a phone should hold this load: from the end of the fire until it is closed."""
    return firing.state in {Firing.State.COOLING, Firing.State.UNLOADING}


def _all_named(layer: kilns_drawn.DrawnLayer) -> kilns_drawn.DrawnLayer:
    """Every piece drawn with its mark, so that the page can show whichever it asks about; without a name."""
    return replace(
        layer,
        pieces=tuple(replace(piece, picked=True, maker="", label="", pinned=False) for piece in layer.pieces),
    )


def _place(place: queries.Place, tags: dict[str, str]) -> dict[str, object]:
    piece, photo = place.piece, place.before
    maker = piece.maker
    return {
        "mark": piece.mark,
        "tag": tags.get(piece.code, ""),
        "form": piece.get_form_display(),
        "size": say("{cm} tall", cm=cm(place.placement.height_mm)),
        "glazes": glaze_words(place),
        "photo": reverse("photo", args=[photo.code, "thumb"]) if photo else "",
        "taken": day(photo.taken_at) if photo else "",
        "drawn": ""
        if photo
        else pots.silhouette(
            form=piece.form,
            width_mm=piece.width_mm,
            height_mm=piece.height_mm,
            depth_mm=piece.depth_mm,
            colour=colour_of(piece),
            uid=f"pot-{piece.code}",
        ),
        "photos": len(place.after),
        "whose": maker.full_name
        if maker
        else say("The studio’s own")
        if piece.studios_own
        else say("Whose is it?"),
    }


def _shelf(shelf: Shelf, tags: dict[str, str]) -> dict[str, str]:
    return {"code": shelf.code, "name": shelf.name, "where": shelf.where, "tag": tags.get(shelf.code, "")}


def _tags_of(pieces: list[int], shelves: list[Shelf]) -> dict[str, str]:
    """What is printed on the slips and tags now, by the code of the piece or shelf: one query."""
    tags = Tag.objects.filter(
        Q(piece__in=pieces) | Q(shelf__in=[shelf.pk for shelf in shelves]), retired_at__isnull=True
    )
    rows = tags.values_list("code", "piece__code", "shelf__code")
    return {piece or shelf: code.upper() for code, piece, shelf in rows}
