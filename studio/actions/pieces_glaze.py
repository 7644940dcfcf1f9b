"""Writing down which glaze is on which surface of a piece."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from studio.domain.say import later, say
from studio.domain.stages import GREENWARE, STAGE_WORDS, Stage, move_problems
from studio.models import Combination, Event, Glaze, GlazeOnPiece, Person, Piece
from studio.queries.piece_facts import facts_of

from .common import answers_for, clean_choice, clean_text, clean_whole, moment, refuse
from .glaze_shelf import batch_in_use
from .pieces_events import hold_piece, record, refuse_ended, repeated

MOST_COATS = 9
MOST_ROWS = 30
#: While a piece is at one of these its maker writes down its glazes. What came out of the fire is no plan any
#: more but a record that others go by: from then on only staff put it right.
MAKERS_MAY_NOTE = GREENWARE | {Stage.BISQUE_FIRING, Stage.BISQUED, Stage.GLAZED}


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
    only_planned: bool = False,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Event:
    """Put this list in the place of what was noted before, which the event keeps.

    A bisqued piece, or a bone dry one that is single fired, becomes glazed by the same event once something
    is glazed on it, unless it is ``only_planned``. A member notes the glazes of their own pieces before the
    firing. Their word moves the piece on as staff's does: whoever dipped it knows best that it is dipped, all
    that comes of it is a place on the list of what waits for the kiln, staff see it with what the glaze is
    likely to do before they load it, and either of them can undo it.
    """
    now = moment(now)
    piece = hold_piece(piece)
    if not answers_for(by, piece.maker):
        refuse("not-yours", say("You can note the glazes of your own pieces."))
    if done := repeated(client_id, piece=piece, kind=Event.Kind.GLAZES):
        return done
    refuse_ended(piece)
    if why := why_not_note(piece, by):
        refuse("after-firing", why, about=piece.mark)
    before = glazes_as_noted(piece)
    had = {row["glaze"] for row in before}
    rows = [_clean(coat, had) for coat in coats]
    if len(rows) > MOST_ROWS:
        refuse(
            "too-many",
            say("A piece has room for {most_rows} lines of glaze. Leave some out.", most_rows=MOST_ROWS),
            about=piece.mark,
        )
    places = [(row.surface, row.order) for row in rows]
    if len(set(places)) < len(places):
        refuse(
            "order-twice",
            say("Two glazes on one surface have the same place. Number them 1, 2, 3 from the clay up."),
        )
    _write(piece, rows, at=now)
    becomes = None
    facts = facts_of(piece)
    if facts.surfaces_glazed and not only_planned and facts.stage in {Stage.BISQUED, Stage.BONE_DRY}:
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


def why_not_note(piece: Piece, by: Person) -> str:
    """Why this person may not write down the glazes of a piece they answer for; empty when they may."""
    stage = Stage(piece.stage)
    if by.is_staff_member or stage in MAKERS_MAY_NOTE:
        return ""
    words = STAGE_WORDS[stage].lower()
    return say(
        "{mark} is {words}: its glazes are on record now. Tell the tutor if something is "
        "wrong, and write in your diary what you would do next time.",
        mark=piece.mark,
        words=words,
    )


def repeat_glazes(
    *, piece: Piece, like: Piece, by: Person, client_id: str, now: datetime | None = None
) -> Event:
    """Note what is on another piece for this one too: surfaces, order, coats and ways, but not its notes."""
    rows = like.glazes_on.select_related("glaze").order_by("surface", "order")
    coats = [Coat(row.surface, row.glaze, row.coats, row.method, row.order) for row in rows]
    if not any(coat.glaze for coat in coats):
        refuse(
            "nothing-on-it",
            say("Nothing is noted on {mark}. Choose another piece.", mark=like.mark),
            about=like.mark,
        )
    return note_glazes(piece=piece, coats=coats, by=by, client_id=client_id, now=now)


def repeat_combination(
    *,
    piece: Piece,
    combination: Combination,
    surfaces: Iterable[str],
    by: Person,
    client_id: str,
    now: datetime | None = None,
) -> Event:
    """Note a known combination on these surfaces; what is noted on others stays.

    The coats of each glaze and the way it is put on are those noted last with it.
    """
    wanted = [clean_choice(each, GlazeOnPiece.Surface.values, label=later("surface")) for each in surfaces]
    kept = piece.glazes_on.select_related("glaze").exclude(surface__in=wanted)
    coats = [Coat(row.surface, row.glaze, row.coats, row.method, row.order, row.notes) for row in kept]
    layers = list(combination.layers.select_related("glaze").order_by("order"))
    usual = {
        layer.glaze_id: GlazeOnPiece.objects.filter(glaze=layer.glaze).order_by("-put_on_at", "-pk").first()
        for layer in layers
    }
    for surface in wanted:
        for layer in layers:
            last = usual[layer.glaze_id]
            how = (last.coats, last.method) if last else (1, GlazeOnPiece.Method.DIPPED)
            coats.append(Coat(surface, layer.glaze, *how, order=layer.order))
    return note_glazes(piece=piece, coats=coats, by=by, client_id=client_id, now=now)


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
        refuse(
            "glaze-retired", say("{name} is not in use any more. Choose another glaze.", name=coat.glaze.name)
        )
    return GlazeOnPiece(
        surface=clean_choice(coat.surface, GlazeOnPiece.Surface.values, label=later("surface")),
        order=clean_whole(coat.order, label=say("place in order"), least=1, most=MOST_COATS),
        glaze=coat.glaze,
        coats=clean_whole(coat.coats, label=say("number of coats"), least=1, most=MOST_COATS),
        method=clean_choice(coat.method, GlazeOnPiece.Method.values, label=say("way it was put on")),
        notes=clean_text(coat.notes, label=say("note on the glaze"), longest=200),
    )


def _write(piece: Piece, rows: list[GlazeOnPiece], *, at: datetime | None) -> None:
    GlazeOnPiece.objects.filter(piece=piece).delete()
    for row in rows:
        row.piece = piece
        row.put_on_at = at or row.put_on_at
        if at is not None and row.glaze is not None and row.batch is None:
            row.batch = batch_in_use(row.glaze)
    GlazeOnPiece.objects.bulk_create(rows)
