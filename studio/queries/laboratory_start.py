"""What a report's form can begin with: a pot like those that were tested."""

from __future__ import annotations

from django.db.models import QuerySet

from studio.domain.stages import FiringKind
from studio.models import Event, LabTest, Piece

_WARE = {
    Piece.Form.MUG: LabTest.Ware.CUP,
    Piece.Form.JUG: LabTest.Ware.PITCHER,
    Piece.Form.JAR: LabTest.Ware.STORAGE,
}


def start_from_piece(pieces: QuerySet[Piece], code: str) -> dict[str, object]:
    """Glazes inside (or on the rim), their batches, clay and glaze firing, by the names of form fields."""
    piece = pieces.select_related("clay").filter(code=code).first() if code else None
    if piece is None:
        return {}
    coats = [
        coat
        for coat in piece.glazes_on.select_related("glaze", "batch").order_by("surface", "order")
        if coat.glaze and coat.glaze.retired_at is None
    ]
    inside = [coat for coat in coats if coat.surface == "inside"] or [
        coat for coat in coats if coat.surface == "rim"
    ]
    came_out = (
        Event.objects.filter(piece=piece, undone_by__isnull=True, firing__kind=FiringKind.GLAZE)
        .filter(kind__in=[Event.Kind.UNLOADED, Event.Kind.FOUND, Event.Kind.KNOWN])
        .select_related("firing")
        .order_by("pk")
        .first()
    )
    start: dict[str, object] = {
        f"glaze_{number}": coat.glaze.code for number, coat in enumerate(inside[:3], start=1)
    }
    start |= {
        "batches": [coat.batch.code for coat in inside[:3] if coat.batch],
        "clay": piece.clay.code,
        "ware": _WARE.get(Piece.Form(piece.form), LabTest.Ware.OTHER).value,
    }
    if came_out:
        start["firing"] = came_out.firing.number
    return start
