"""Words and choices that the unload page and the load kept on a phone share."""

from __future__ import annotations

from studio.domain.say import listed, midway, say
from studio.domain.stages import FiringKind
from studio.models import Firing, GlazeOnPiece, Shelf
from studio.queries.unload import Place

_SURFACE_ORDER = [surface.value for surface in GlazeOnPiece.Surface]


def shelves_for(firing: Firing) -> list[Shelf]:
    """All shelves in use, those first on which ware from such a firing usually goes."""
    usual = ["to-glaze", "finishing"] if firing.kind == FiringKind.BISQUE else ["ready", "finishing"]
    shelves = Shelf.objects.filter(retired_at__isnull=True)
    return sorted(shelves, key=lambda one: usual.index(one.purpose) if one.purpose in usual else len(usual))


def glaze_words(place: Place) -> str:
    """``Tin Lustre outside and rim, Chalk Satin inside``; a bare foot goes without saying."""
    surfaces: dict[str, list[str]] = {}
    coats = sorted(
        place.piece.glazes_on.all(), key=lambda coat: (_SURFACE_ORDER.index(coat.surface), coat.order)
    )
    for coat in coats:
        if coat.glaze is None and coat.surface == GlazeOnPiece.Surface.FOOT:
            continue
        name = coat.glaze.name if coat.glaze else say("bare")
        surfaces.setdefault(name, []).append(midway(coat.get_surface_display()))
    return ", ".join(f"{name} {listed(list(dict.fromkeys(where)))}" for name, where in surfaces.items())
