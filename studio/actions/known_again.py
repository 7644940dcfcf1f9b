"""Whose is this? A piece that nobody knew turns out to be one of the books: the two become one, and back.

The known piece takes over where the found one is, how it came out and its photos; the found one is withdrawn.
While its firing is being unloaded the known piece is answered there as well, and pays its share.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import midway, say
from studio.domain.stages import ENDED, IN_KILN, Stage
from studio.models import (
    Event,
    FinishingJob,
    Firing,
    Flaw,
    Person,
    Photo,
    Piece,
    Placement,
    Tag,
    UnloadAnswer,
)

from .common import clean_client_id, moment, must_be_staff, refuse
from .loads import hold_firing, name_of
from .pieces_events import (
    check_mark_again,
    check_undoable,
    hold_pieces,
    load_held_by,
    record,
    refuse_in_load,
    repeated,
    reverse,
)
from .unload import Seen, SeenFlaw, refuse_unless_unloading, stage_after, standing_answer, write_answer
from .unload_take_back import count_again, mark_undone

_MISSING = UnloadAnswer.LossCause.MISSING


def found_answer_of(found: Piece) -> UnloadAnswer | None:
    """The standing answer by which this piece was found in a kiln, or None."""
    return (
        UnloadAnswer.objects.filter(
            placement__piece=found, event__kind=Event.Kind.FOUND, undone_at__isnull=True
        )
        .select_related("placement__firing", "placement__layer", "event", "shelf", "placement__piece")
        .prefetch_related("flaws", "jobs")
        .order_by("-pk")
        .first()
    )


@transaction.atomic
def is_this(*, found: Piece, known: Piece, by: Person, client_id: str, now: datetime | None = None) -> Event:
    """Say that a piece nobody knew is ``known``: one expected here, missing, lost, or elsewhere by the books.

    In order: the found piece is withdrawn and its slip retired; its place in a kiln being unloaded becomes
    the known piece's, which is answered as the found one was, in place of "not there"; the known piece goes
    to the found one's stage and shelf; photos follow. Sent twice is once. Undo is `not_known_after_all`.
    """
    must_be_staff(by)
    now, client_id = moment(now), clean_client_id(client_id)
    answer = found_answer_of(found)
    unloading = hold_firing(answer.placement.firing) if answer else None
    if unloading is not None and unloading.state != Firing.State.UNLOADING:
        unloading = None
    found, known = hold_pieces([found, known])
    if done := repeated(client_id, piece=known, kind=Event.Kind.KNOWN):
        return done
    _refuse_found(found)
    place = _place_here(unloading, known)
    _refuse_known(found, known, place)
    before: dict[str, object] = {"found": found.code, "photos": _photos_to(found, known)}
    if unloading is None:
        before |= _rows_to(found, known)
    stage = Stage(found.stage)
    if unloading is not None and answer is not None and answer.event.to_stage == found.stage:
        stage = stage_after(known, unloading, _seen(answer))
    at, shelf = (answer.event.at, found.shelf) if unloading and answer else (None, found.shelf)
    if answer is not None and unloading is not None:
        before |= _clear_places(answer, place, now)
    merged = record(
        piece=found,
        kind=Event.Kind.MERGED,
        by=by,
        client_id=f"{client_id}:m",
        now=now,
        to=Stage.WITHDRAWN,
        firing=unloading,
        before={"known": known.code, "tags": _retire(found, now)},
        note=say("It is {mark}", mark=known.mark),
    )
    if answer is not None and unloading is not None and place is None:
        place = _new_place(answer.placement, known, by, now)
        before["placed"] = place.pk
    event = record(
        piece=known,
        kind=Event.Kind.KNOWN,
        by=by,
        client_id=client_id,
        now=now,
        at=at,
        to=stage,
        shelf=shelf,
        firing=unloading or (answer.placement.firing if answer else None),
        before={**before, "merged": merged.code, "unloading": unloading is not None},
        note=say("It stood there as {mark}", mark=found.mark),
    )
    if answer is not None and unloading is not None and place is not None:
        Placement.objects.filter(pk=place.pk).update(holds_piece=None)
        _answer_again(place, answer, event)
    return event


@transaction.atomic
def not_known_after_all(*, event: Event, by: Person, client_id: str, now: datetime | None = None) -> Event:
    """Undo `is_this`, from either piece: one is nobody's again, the other where it was by the books."""
    must_be_staff(by)
    now = moment(now)
    if event.kind == Event.Kind.MERGED:
        event = Event.objects.get(kind=Event.Kind.KNOWN, before__merged=event.code)
    firing = hold_firing(event.firing) if event.firing_id else None
    before = event.before
    known, found = hold_pieces([event.piece, Piece.objects.get(code=before["found"])])
    event = Event.objects.select_related("piece", "firing", "from_shelf", "from_maker").get(pk=event.pk)
    if done := repeated(client_id, piece=known, kind=Event.Kind.UNDONE, undoes_id=event.pk):
        return done
    merged = Event.objects.select_related("piece", "firing", "from_shelf", "from_maker").get(
        code=before["merged"]
    )
    check_undoable(event)
    check_undoable(merged)
    if before["unloading"]:
        refuse_unless_unloading(firing)
        mark_undone(UnloadAnswer.objects.select_related("placement__piece").get(event=event), now)
    if (held := load_held_by(known)) and held.pk != before.get("held"):
        refuse_in_load(known, held)
    undo = reverse(event=event, piece=known, by=by, client_id=client_id, now=now)
    if before.get("placed"):
        Placement.objects.filter(pk=before["placed"]).update(taken_out_at=now)
    if before.get("held"):
        Placement.objects.filter(pk=before["held"]).update(holds_piece=known)
    reverse(event=merged, piece=found, by=by, client_id=f"{client_id}:m", now=now)
    Tag.objects.filter(code__in=merged.before["tags"]).update(retired_at=None)
    if before.get("place"):
        Placement.objects.filter(pk=before["place"]).update(taken_out_at=None)
    for key in before.get("answers", []):
        count_again(UnloadAnswer.objects.get(pk=key))
    Photo.with_removed.filter(pk__in=before["photos"]).update(piece=found)
    Flaw.objects.filter(pk__in=before.get("flaws", [])).update(piece=found)
    FinishingJob.objects.filter(pk__in=before.get("jobs", [])).update(piece=found)
    return undo


def _refuse_found(found: Piece) -> None:
    mark = found.mark
    if found.maker_id is not None or found.studios_own:
        refuse("has-maker", say("{mark} is somebody's already. See its page.", mark=mark), about=mark)
    if Stage(found.stage) in ENDED:
        refuse(
            "ended",
            say("{mark} is {stage}. Undo that first.", mark=mark, stage=midway(found.get_stage_display())),
            about=mark,
        )
    if Stage(found.stage) in IN_KILN or load_held_by(found):
        refuse("in-kiln", say("{mark} stands in a load. Take it out of there first.", mark=mark), about=mark)


def _place_here(unloading: Firing | None, known: Piece) -> Placement | None:
    if unloading is None:
        return None
    return Placement.objects.filter(firing=unloading, piece=known, taken_out_at__isnull=True).first()


def _refuse_known(found: Piece, known: Piece, place: Placement | None) -> None:
    mark, stage = known.mark, Stage(known.stage)
    if found.pk == known.pk:
        refuse("same-piece", say("Choose another piece than the one that was found."))
    if stage in ENDED and stage != Stage.LOST:
        words = midway(known.get_stage_display())
        refuse(
            "ended",
            say("{mark} is {words} by the books. Undo that on its page first.", mark=mark, words=words),
            about=mark,
        )
    if stage == Stage.LOST:
        check_mark_again(known)
    if place is not None:
        answer = standing_answer(place)
        if answer is not None and answer.loss_cause != _MISSING:
            who = answer.by.first_name if answer.by else say("Somebody")
            refuse(
                "answered",
                say(
                    "{who} answered {mark} already: {outcome}. Undo that first.",
                    who=who,
                    mark=mark,
                    outcome=midway(answer.get_outcome_display()),
                ),
                about=mark,
            )
        return
    held = load_held_by(known)
    if stage in IN_KILN and held:
        name = name_of(held.firing).lower()
        refuse(
            "in-other-kiln",
            say("{mark} is expected in {name}. Answer it there as not there first.", mark=mark, name=name),
            about=mark,
        )
    if held:
        refuse_in_load(known, held)


def _clear_places(answer: UnloadAnswer, place: Placement | None, now: datetime) -> dict[str, object]:
    """The found piece's place and answer stop counting, and so does "not there" of the known one."""
    mark_undone(answer, now)
    Placement.objects.filter(pk=answer.placement_id).update(taken_out_at=now)
    cleared: dict[str, object] = {"place": answer.placement_id, "answers": [answer.pk]}
    if place is not None:
        if missing := standing_answer(place):
            mark_undone(missing, now)
            cleared["answers"] = [answer.pk, missing.pk]
        if place.holds_piece_id:
            cleared["held"] = place.pk
    return cleared


def _new_place(there: Placement, known: Piece, by: Person, now: datetime) -> Placement:
    """The known piece at the place where it was found as another, with the sizes measured there."""
    same = ("firing", "layer", "x_mm", "y_mm", "turned", "is_round", "width_mm", "depth_mm", "height_mm")
    return Placement.objects.create(
        piece=known, added_at=now, added_by=by, **{name: getattr(there, name) for name in same}
    )


def _seen(answer: UnloadAnswer) -> Seen:
    flaws = tuple(SeenFlaw(flaw.kind, flaw.surface, flaw.severity) for flaw in answer.flaws.all())
    jobs = tuple(job.kind for job in answer.jobs.all())
    return Seen(answer.outcome, flaws, jobs, answer.loss_cause, answer.note, answer.shelf)


def _answer_again(place: Placement, answer: UnloadAnswer, event: Event) -> None:
    made = write_answer(place, _seen(answer), event)
    for job in answer.jobs.all():
        if job.done_at is not None:
            made.jobs.filter(kind=job.kind).update(done_at=job.done_at, done_by=job.done_by)


def _photos_to(found: Piece, known: Piece) -> list[int]:
    photos = list(Photo.with_removed.filter(piece=found).values_list("pk", flat=True))
    Photo.with_removed.filter(pk__in=photos).update(piece=known)
    return photos


def _rows_to(found: Piece, known: Piece) -> dict[str, object]:
    """Flaws seen on it and jobs asked of it are the known piece's."""
    flaws = list(Flaw.objects.filter(piece=found, withdrawn_at__isnull=True).values_list("pk", flat=True))
    jobs = list(
        FinishingJob.objects.filter(piece=found, withdrawn_at__isnull=True).values_list("pk", flat=True)
    )
    Flaw.objects.filter(pk__in=flaws).update(piece=known)
    FinishingJob.objects.filter(pk__in=jobs).update(piece=known)
    return {"flaws": flaws, "jobs": jobs}


def _retire(found: Piece, now: datetime) -> list[str]:
    tags = list(Tag.objects.filter(piece=found, retired_at__isnull=True).values_list("code", flat=True))
    Tag.objects.filter(code__in=tags).update(retired_at=now)
    return tags
