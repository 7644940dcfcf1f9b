"""Undoing what was done to a piece: always a second event, never a change of the first."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import Event, FinishingJob, Firing, Person, Piece, Tag, UnloadAnswer

from .common import moment, refuse
from .known_again import not_known_after_all
from .pieces_change import put_columns_back
from .pieces_events import (
    check_undoable,
    hold_piece,
    load_held_by,
    refuse_in_load,
    repeated,
    reverse,
)
from .pieces_glaze import put_glazes_back
from .unload_undo import undo_answer

Kind = Event.Kind

#: Answers at a kiln: undone with what else the firing knows of the piece.
_ANSWERS = frozenset({Kind.UNLOADED, Kind.FOUND})
#: After these a piece may have been planned into a load, which would not fit any more.
_LOAD_DEPENDS_ON = frozenset({Kind.MADE, Kind.MOVED, Kind.GLAZES, Kind.RESIZED, Kind.REPLANNED, Kind.REFIRE})


@transaction.atomic
def undo(*, event: Event, by: Person, client_id: str, note: str = "", now: datetime | None = None) -> Event:
    """Put a piece back to what it was before this event; what came after it must be undone first.

    Stage, shelf and maker go back, and whatever else the event changed: sizes, route, glazes, jobs. Undoing
    the entry of a piece withdraws it and its slip. In order: what the event changed is put back, the second
    event is written, and notices follow. Where a notice had gone that is now untrue, the pages offer a
    correction: see `studio.queries.notices.correction_offered`. The tutor and helpers undo everything,
    others what they did. An answer at unload is undone with its flaws and jobs while the kiln is being
    unloaded; the lighting of a kiln only for all its pieces together, on the page of the firing.
    """
    now = moment(now)
    if event.kind in _ANSWERS:
        answer = UnloadAnswer.objects.select_related("placement__firing", "placement__piece").get(event=event)
        return undo_answer(answer=answer, by=by, client_id=client_id, now=now)
    if event.kind in {Kind.KNOWN, Kind.MERGED}:
        return not_known_after_all(event=event, by=by, client_id=client_id, now=now)
    piece = hold_piece(event.piece)
    event = Event.objects.select_related("piece", "firing", "from_shelf", "from_maker").get(pk=event.pk)
    if not by.is_staff_member and event.by_id != by.pk:
        refuse("not-yours", say("You can undo what you did yourself. Ask the tutor for the rest."))
    if done := repeated(client_id, piece=piece, kind=Kind.UNDONE, undoes_id=event.pk):
        return done
    check_undoable(event)
    if event.kind == Kind.LIT:
        words = say(
            "This belongs to firing {number}. Undo it on the page of that firing.", number=event.firing.number
        )
        refuse("undo-in-firing", words, about=piece.mark)
    if event.kind in _LOAD_DEPENDS_ON and (placement := load_held_by(piece)):
        refuse_in_load(piece, placement)
    if put_back := _PUT_BACK.get(event.kind):
        put_back(piece, event, now)
    return reverse(event=event, piece=piece, by=by, client_id=client_id, now=now, note=note)


def last_undoable(piece: Piece) -> Event | None:
    """The event that an Undo button of this piece would undo now, or None."""
    event = (
        Event.objects.filter(piece=piece, undone_by__isnull=True)
        .exclude(kind=Kind.UNDONE)
        .select_related("piece", "firing", "by")
        .order_by("-pk")
        .first()
    )
    if event is None or event.kind == Kind.LIT:
        return None
    answered_there = event.kind in _ANSWERS or (event.kind == Kind.KNOWN and event.before["unloading"])
    if answered_there and event.firing.state != Firing.State.UNLOADING:
        return None
    return event


def answered_in_closed(piece: Piece) -> Firing | None:
    """The closed firing whose answer is the last that stands of this piece: to be reopened for an undo."""
    event = (
        Event.objects.filter(piece=piece, undone_by__isnull=True)
        .exclude(kind=Kind.UNDONE)
        .select_related("firing")
        .order_by("-pk")
        .first()
    )
    if event is None or event.kind not in _ANSWERS or event.firing.state != Firing.State.CLOSED:
        return None
    return event.firing


def _withdraw_entry(piece: Piece, event: Event, now: datetime) -> None:
    Tag.objects.filter(piece=piece, retired_at__isnull=True).update(retired_at=now)


def _columns(piece: Piece, event: Event, now: datetime) -> None:
    put_columns_back(piece, event.before.get("columns", {}))


def _glazes(piece: Piece, event: Event, now: datetime) -> None:
    put_glazes_back(piece, event.before.get("glazes", []))


def _job_asked(piece: Piece, event: Event, now: datetime) -> None:
    FinishingJob.objects.filter(code=event.before["job"], piece=piece).update(withdrawn_at=now)


def _job_done(piece: Piece, event: Event, now: datetime) -> None:
    FinishingJob.objects.filter(code=event.before["job"], piece=piece).update(done_at=None, done_by=None)


def _refire(piece: Piece, event: Event, now: datetime) -> None:
    FinishingJob.objects.filter(code__in=event.before.get("jobs", []), piece=piece).update(withdrawn_at=None)


#: What an event changed besides stage, shelf and maker.
_PUT_BACK: dict[str, Callable[[Piece, Event, datetime], None]] = {
    Kind.MADE: _withdraw_entry,
    Kind.RESIZED: _columns,
    Kind.REPLANNED: _columns,
    Kind.GIVEN: _columns,
    Kind.GLAZES: _glazes,
    Kind.JOB_ASKED: _job_asked,
    Kind.JOB_DONE: _job_done,
    Kind.REFIRE: _refire,
}
