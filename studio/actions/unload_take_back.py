"""The core of taking an answer back, for an undo, and for two answers that change places."""

from __future__ import annotations

from datetime import datetime

from studio.domain.say import say
from studio.models import Event, FinishingJob, Flaw, Person, Piece, Placement, Tag, UnloadAnswer

from . import notices_breakage
from .common import refuse
from .pieces_events import check_undoable, load_held_by, refuse_in_load, reverse


def take_back(
    *, answer: UnloadAnswer, piece: Piece, by: Person, client_id: str, now: datetime, note: str = ""
) -> Event:
    """Take one answer back; the caller holds firing and piece and has asked whether it may.

    In order: the second event; the answer is marked undone and its flaws and open jobs withdrawn; the place
    holds its piece again. A piece that was found in the kiln goes back to where it was by the books.
    """
    check_undoable(answer.event)
    if held := load_held_by(piece):
        refuse_in_load(piece, held)
    undo = reverse(event=answer.event, piece=piece, by=by, client_id=client_id, now=now, note=note)
    mark_undone(answer, now)
    if answer.event.kind == Event.Kind.FOUND:
        _put_back_found(answer, piece, by=by, client_id=client_id, now=now)
    else:
        Placement.objects.filter(pk=answer.placement_id).update(holds_piece=piece)
    notices_breakage.follow_flaw(piece=piece, now=now)
    return undo


def mark_undone(answer: UnloadAnswer, now: datetime) -> None:
    """The answer stays, marked so; its flaws and open jobs do not count any more."""
    if answer.undone_at is not None:
        mark = answer.placement.piece.mark
        refuse("undone-already", say("The answer for {mark} has been undone already.", mark=mark), about=mark)
    UnloadAnswer.objects.filter(pk=answer.pk).update(undone_at=now)
    Flaw.objects.filter(answer=answer).update(withdrawn_at=now)
    FinishingJob.objects.filter(answer=answer, done_at__isnull=True).update(withdrawn_at=now)


def count_again(answer: UnloadAnswer) -> None:
    """The answer counts once more, with its flaws and jobs."""
    UnloadAnswer.objects.filter(pk=answer.pk).update(undone_at=None)
    Flaw.objects.filter(answer=answer).update(withdrawn_at=None)
    FinishingJob.objects.filter(answer=answer).update(withdrawn_at=None)


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
