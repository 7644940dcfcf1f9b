"""Taking back an answer given at the kiln: it stays, marked so, and a second event undoes the first."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import Event, Person, UnloadAnswer

from .common import moment, must_be_staff, refuse
from .known_again import not_known_after_all
from .loads import hold_firing
from .pieces_events import hold_piece, repeated
from .unload import refuse_unless_unloading
from .unload_swap import swap_back, swapped_with
from .unload_take_back import take_back


@transaction.atomic
def undo_answer(*, answer: UnloadAnswer, by: Person, client_id: str, now: datetime | None = None) -> Event:
    """The piece is back in the kiln and its place open again. Sent twice is once.

    Refused once the firing is closed, while something later stands on it, or when the piece has gone into
    another load. An answer that came of a swap swaps the two back; one that came of knowing a found piece
    again makes it unknown again.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_firing(answer.placement.firing)
    piece = hold_piece(answer.placement.piece)
    answer = UnloadAnswer.objects.select_related(
        "placement__piece", "placement__firing", "event__piece", "event__firing", "shelf"
    ).get(pk=answer.pk)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.UNDONE, undoes_id=answer.event_id):
        return done
    if answer.undone_at is not None:
        refuse(
            "undone-already",
            say("The answer for {mark} has been undone already.", mark=piece.mark),
            about=piece.mark,
        )
    if answer.event.kind == Event.Kind.KNOWN:
        return not_known_after_all(event=answer.event, by=by, client_id=client_id, now=now)
    refuse_unless_unloading(firing)
    if other := swapped_with(answer):
        return swap_back(answer=answer, other=other, by=by, client_id=client_id, now=now)
    return take_back(answer=answer, piece=piece, by=by, client_id=client_id, now=now)
