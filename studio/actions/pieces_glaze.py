"""Writing down which glaze is on which surface of a piece."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from studio.domain.stages import Stage, move_problems
from studio.models import Event, Glaze, GlazeOnPiece, Person, Piece
from studio.queries.piece_facts import facts_of

from .common import answers_for, clean_choice, clean_text, clean_whole, moment, refuse
from .glaze_shelf import batch_in_use
from .pieces_events import hold_piece, record, refuse_ended, repeated

MOST_COATS = 9
MOST_ROWS = 30


@dataclass(frozen=True, slots=True)
class Coat:
    """A glaze on one surface; ``glaze`` None: bare on purpose. ``order`` 1 is on the clay, 2 over it."""

    surface: str
    glaze: Glaze | None
    coats: int = 1
    method: str = GlazeOnPiece.Method.DIPPED
    order: int = 1
    notes: str = ""


@transaction.atomic
def note_glazes(
    *,
    piece: Piece,
    coats: Iterable[Coat],
    by: Person,
    client_id: str,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Event:
    """Put this list in the place of what was noted before, which the event keeps.

    A bisqued piece, or a bone dry one that is single fired, becomes glazed by the same event once something
    is glazed on it. A member notes the glazes of their own pieces.
    """
    now = moment(now)
    piece = hold_piece(piece)
    if not answers_for(by, piece.maker):
        refuse("not-yours", "You can note the glazes of your own pieces.")
    if done := repeated(client_id, piece=piece, kind=Event.Kind.GLAZES):
        return done
    refuse_ended(piece)
    before = glazes_as_noted(piece)
    had = {row["glaze"] for row in before}
    rows = [_clean(coat, had) for coat in coats]
    if len(rows) > MOST_ROWS:
        refuse(
            "too-many", f"A piece has room for {MOST_ROWS} lines of glaze. Leave some out.", about=piece.mark
        )
    places = [(row.surface, row.order) for row in rows]
    if len(set(places)) < len(places):
        refuse(
            "order-twice",
            "Two glazes on one surface have the same place. Number them 1, 2, 3 from the clay up.",
        )
    _write(piece, rows, at=now)
    becomes = None
    facts = facts_of(piece)
    if facts.surfaces_glazed and facts.stage in {Stage.BISQUED, Stage.BONE_DRY}:
        becomes = None if move_problems(facts, Stage.GLAZED) else Stage.GLAZED
    return record(
        piece=piece,
        kind=Event.Kind.GLAZES,
        by=by,
        client_id=client_id,
        now=now,
        to=becomes,
        before={"glazes": before},
        at=at,
    )


def glazes_as_noted(piece: Piece) -> list[dict[str, object]]:
    """The list as it stands, in the shape that an event keeps: glazes by primary key, times as ISO 8601."""
    rows = GlazeOnPiece.objects.filter(piece=piece).order_by("surface", "order")
    return [
        {
            "surface": row.surface,
            "order": row.order,
            "glaze": row.glaze_id,
            "batch": row.batch_id,
            "coats": row.coats,
            "method": row.method,
            "notes": row.notes,
            "put_on_at": row.put_on_at.isoformat(),
        }
        for row in rows
    ]


def put_glazes_back(piece: Piece, noted: list[dict[str, object]]) -> None:
    """Make the list what `glazes_as_noted` gave before."""
    rows = [
        GlazeOnPiece(
            surface=row["surface"],
            order=row["order"],
            glaze_id=row["glaze"],
            batch_id=row.get("batch"),
            coats=row["coats"],
            method=row["method"],
            notes=row["notes"],
            put_on_at=datetime.fromisoformat(row["put_on_at"]),
        )
        for row in noted
    ]
    _write(piece, rows, at=None)


def _clean(coat: Coat, had: set[object]) -> GlazeOnPiece:
    if coat.glaze is not None and coat.glaze.retired_at is not None and coat.glaze.pk not in had:
        refuse("glaze-retired", f"{coat.glaze.name} is not in use any more. Choose another glaze.")
    return GlazeOnPiece(
        surface=clean_choice(coat.surface, GlazeOnPiece.Surface.values, label="surface"),
        order=clean_whole(coat.order, label="place in order", least=1, most=MOST_COATS),
        glaze=coat.glaze,
        coats=clean_whole(coat.coats, label="number of coats", least=1, most=MOST_COATS),
        method=clean_choice(coat.method, GlazeOnPiece.Method.values, label="way it was put on"),
        notes=clean_text(coat.notes, label="note on the glaze", longest=200),
    )


def _write(piece: Piece, rows: list[GlazeOnPiece], *, at: datetime | None) -> None:
    GlazeOnPiece.objects.filter(piece=piece).delete()
    for row in rows:
        row.piece = piece
        row.put_on_at = at or row.put_on_at
        if at is not None and row.glaze is not None and row.batch is None:
            row.batch = batch_in_use(row.glaze)
    GlazeOnPiece.objects.bulk_create(rows)
