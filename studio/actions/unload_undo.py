"""Taking back an answer given at the kiln: it stays, marked so, and a second event undoes the first."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.models import Event, FinishingJob, Flaw, Person, Piece, Placement, Tag, UnloadAnswer

from . import notices_breakage
from .common import moment, must_be_staff, refuse
from .loads import hold_firing
from .pieces_events import check_undoable, hold_piece, load_held_by, refuse_in_load, repeated, reverse
from .unload import refuse_unless_unloading


@transaction.atomic
def undo_answer(*, answer: UnloadAnswer, by: Person, client_id: str, now: datetime | None = None) -> Event:
    """The piece is back in the kiln and its place open again. Sent twice is once.

    Refused once the firing is closed, while something later stands on it, or when the piece has gone into
    another load. In order: the second event; the answer is marked undone and its flaws and open jobs
    withdrawn; the place holds its piece again. A piece that was found in the kiln goes back to where it was
    by the books.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_firing(answer.placement.firing)
    piece = hold_piece(answer.placement.piece)
    answer = UnloadAnswer.objects.select_related("placement", "event__piece").get(pk=answer.pk)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.UNDONE, undoes_id=answer.event_id):
        return done
    if answer.undone_at is not None:
        refuse("undone-already", f"The answer for {piece.mark} has been undone already.", about=piece.mark)
    refuse_unless_unloading(firing)
    check_undoable(answer.event)
    if held := load_held_by(piece):
        refuse_in_load(piece, held)

    undo = reverse(event=answer.event, piece=piece, by=by, client_id=client_id, now=now)
    UnloadAnswer.objects.filter(pk=answer.pk).update(undone_at=now)
    Flaw.objects.filter(answer=answer).update(withdrawn_at=now)
    FinishingJob.objects.filter(answer=answer, done_at__isnull=True).update(withdrawn_at=now)
    if answer.event.kind == Event.Kind.FOUND:
        _put_back_found(answer, piece, by=by, client_id=client_id, now=now)
    else:
        Placement.objects.filter(pk=answer.placement_id).update(holds_piece=piece)
    notices_breakage.follow_flaw(piece=piece, now=now)
    return undo


def _put_back_found(answer: UnloadAnswer, piece: Piece, *, by: Person, client_id: str, now: datetime) -> None:
    Placement.objects.filter(pk=answer.placement_id).update(taken_out_at=now)
    before = answer.event.before
    if before.get("moved_from"):
        # Only where that load is still there to take it back.
        elsewhere = Placement.objects.filter(pk=before["moved_from"]).select_related("firing").first()
        if elsewhere and elsewhere.firing.state not in {"closed", "cancelled"}:
            Placement.objects.filter(pk=elsewhere.pk).update(taken_out_at=None, holds_piece=piece)
    if before.get("entered"):
        made = Event.objects.select_related("piece").get(client_id=before["entered"])
        reverse(event=made, piece=piece, by=by, client_id=f"{client_id}:entry", now=now)
        Tag.objects.filter(piece=piece, retired_at__isnull=True).update(retired_at=now)
