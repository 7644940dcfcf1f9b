"""Two pieces that were answered in each other's place: everything they caused changes places, by one act.

Nothing is rewritten: what stands is taken back by second events, and said anew of the other piece.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Case, F, IntegerField, Value, When

from studio.domain.say import midway, say
from studio.domain.stages import ENDED, Stage
from studio.models import (
    Event,
    FinishingJob,
    Firing,
    Person,
    Photo,
    Piece,
    Placement,
    Shelf,
    UnloadAnswer,
)

from .common import clean_client_id, moment, must_be_staff, refuse
from .loads import hold_firing
from .pieces_events import hold_pieces, record, reverse
from .pieces_jobs import finish_job
from .unload import Seen, SeenFlaw, refuse_unless_unloading, stage_after, standing_answer, write_answer
from .unload_take_back import take_back

#: What may have followed an answer and goes with it to the other piece.
_FOLLOWS = frozenset({Event.Kind.SHELVED, Event.Kind.JOB_DONE})


@dataclass(frozen=True, slots=True)
class _Half:
    """One of the two: its place and answer, where it stands by now, and who has done which of its jobs."""

    placement: Placement
    piece: Piece
    answer: UnloadAnswer
    later: tuple[Event, ...]
    shelf: Shelf | None
    done: dict[str, Event]

    @property
    def seen(self) -> Seen:
        flaws = tuple(SeenFlaw(flaw.kind, flaw.surface, flaw.severity) for flaw in self.answer.flaws.all())
        jobs = tuple(job.kind for job in self.answer.jobs.all())
        answer = self.answer
        return Seen(answer.outcome, flaws, jobs, answer.loss_cause, answer.note, answer.shelf)


@transaction.atomic
def swap_answers(
    *, first: Placement, second: Placement, by: Person, client_id: str, now: datetime | None = None
) -> tuple[UnloadAnswer, UnloadAnswer]:
    """Say of each of two pieces what was said of the other: outcome, flaws, jobs, shelf, photos.

    Sent twice is once. Refused when one of them has no answer, was not in the load, or has gone on since in a
    way that the other can't follow. Undo is `undo_answer` of either, which swaps them back.
    """
    must_be_staff(by)
    now, client_id = moment(now), clean_client_id(client_id)
    firing = hold_firing(first.firing)
    if second.firing_id != firing.pk or first.pk == second.pk:
        refuse("which-pieces", say("Choose two pieces of one load."))
    before = UnloadAnswer.objects.filter(client_id__in=[f"{client_id}:1", f"{client_id}:2"]).order_by("pk")
    if done := list(before):
        if {answer.placement_id for answer in done} != {first.pk, second.pk}:
            refuse("page-used", say("This page has been sent before, for something else. Load it again."))
        return done[0], done[1]
    refuse_unless_unloading(firing)
    pieces = hold_pieces([first.piece, second.piece])
    halves = [_half(place, piece) for place, piece in zip((first, second), pieces, strict=True)]
    return _exchange(firing, halves, by=by, client_id=client_id, now=now, swapped=True)


def swapped_with(answer: UnloadAnswer) -> UnloadAnswer | None:
    """The standing answer this one was swapped with, or None: that there is one makes an undo swap back."""
    swap = answer.event.before.get("swapped")
    if not swap:
        return None
    other = (
        UnloadAnswer.objects.filter(event__client_id=swap["other"], undone_at__isnull=True)
        .select_related("placement__piece", "placement__firing", "event", "by", "shelf")
        .first()
    )
    return other


def swap_back(
    *, answer: UnloadAnswer, other: UnloadAnswer, by: Person, client_id: str, now: datetime
) -> Event:
    """Undo a swap from either of its halves; the caller holds the firing. Returns the undo of ``answer``."""
    places = [answer.placement, other.placement]
    pieces = hold_pieces([place.piece for place in places])
    halves = [_half(place, piece) for place, piece in zip(places, pieces, strict=True)]
    _exchange(answer.placement.firing, halves, by=by, client_id=client_id, now=now, swapped=False)
    return Event.objects.get(undoes=answer.event)


def _half(placement: Placement, piece: Piece) -> _Half:
    mark = piece.mark
    answer = standing_answer(placement)
    if answer is None:
        refuse("no-answer", say("{mark} has no answer yet. Answer it first.", mark=mark), about=mark)
    answer = (
        UnloadAnswer.objects.select_related("event__piece", "placement__piece", "placement__firing", "shelf")
        .prefetch_related("flaws", "jobs")
        .get(pk=answer.pk)
    )
    if answer.event.kind != Event.Kind.UNLOADED:
        refuse(
            "found-here",
            say(
                "{mark} was found here and is not of the load. Undo it, then take it in again as it "
                "should be.",
                mark=mark,
            ),
            about=mark,
        )
    later = list(
        Event.objects.filter(piece=piece, pk__gt=answer.event_id, undone_by__isnull=True)
        .exclude(kind=Event.Kind.UNDONE)
        .select_related("piece", "from_shelf", "from_maker", "by")
        .order_by("-pk")
    )
    jobs = {job.code: job.kind for job in answer.jobs.all()}
    for event in later:
        if event.kind not in _FOLLOWS or (
            event.kind == Event.Kind.JOB_DONE and event.before["job"] not in jobs
        ):
            words = midway(event.get_kind_display())
            refuse(
                "later-stands",
                say("Something came after this. Undo “{words}” of {mark} first.", words=words, mark=mark),
                about=mark,
            )
    done = {
        jobs[event.before["job"]]: event for event in reversed(later) if event.kind == Event.Kind.JOB_DONE
    }
    return _Half(placement, piece, answer, tuple(later), piece.shelf, done)


def _exchange(
    firing: Firing, halves: list[_Half], *, by: Person, client_id: str, now: datetime, swapped: bool
) -> tuple[UnloadAnswer, UnloadAnswer]:
    for half, tag in zip(halves, ("u", "v"), strict=True):
        for count, event in enumerate(half.later):
            if event.kind == Event.Kind.JOB_DONE:
                FinishingJob.objects.filter(code=event.before["job"]).update(done_at=None, done_by=None)
            reverse(
                event=event,
                piece=half.piece,
                by=by,
                client_id=f"{client_id}:{tag}{count}",
                now=now,
                note="Swapped",
            )
        undo_id = client_id if tag == "u" and not swapped else f"{client_id}:{tag}"
        take_back(
            answer=half.answer, piece=half.piece, by=by, client_id=undo_id, now=now, note=say("Swapped")
        )
    _swap_photos(firing, halves)
    made = []
    for number, (half, other) in enumerate(zip(halves, reversed(halves), strict=True), start=1):
        made.append(_say(firing, half, other, number=number, by=by, base=client_id, now=now, swapped=swapped))
    return made[0], made[1]


def _say(
    firing: Firing,
    half: _Half,
    other: _Half,
    *,
    number: int,
    by: Person,
    base: str,
    now: datetime,
    swapped: bool,
) -> UnloadAnswer:
    """Say of this half's piece what had been said of the other's, and what followed it."""
    piece, seen = half.piece, other.seen
    swap = {"swapped": {"other": f"{base}:{3 - number}", "mark": other.piece.mark}} if swapped else {}
    event = record(
        piece=piece,
        kind=Event.Kind.UNLOADED,
        by=by,
        client_id=f"{base}:{number}",
        now=now,
        at=other.answer.at,
        to=stage_after(piece, firing, seen),
        shelf=seen.shelf,
        firing=firing,
        note=seen.words,
        before=swap,
    )
    Placement.objects.filter(pk=half.placement.pk).update(holds_piece=None)
    answer = write_answer(half.placement, seen, event)
    for count, (kind, done) in enumerate(other.done.items()):
        job = answer.jobs.get(kind=kind)
        finish_job(job=job, by=done.by or by, client_id=f"{base}:{number}:j{count}", at=done.at, now=now)
        piece.refresh_from_db()
    if Stage(piece.stage) not in ENDED and piece.shelf_id != (other.shelf.pk if other.shelf else None):
        record(
            piece=piece,
            kind=Event.Kind.SHELVED,
            by=by,
            client_id=f"{base}:{number}:s",
            now=now,
            shelf=other.shelf,
        )
    return answer


def _swap_photos(firing: Firing, halves: list[_Half]) -> None:
    """Photos taken of them at this unloading show the other one."""
    one, two = (half.piece.pk for half in halves)
    Photo.with_removed.filter(firing=firing, piece__in=[one, two]).update(
        piece_id=Case(
            When(piece_id=one, then=Value(two)),
            When(piece_id=two, then=Value(one)),
            default=F("piece_id"),
            output_field=IntegerField(),
        )
    )
