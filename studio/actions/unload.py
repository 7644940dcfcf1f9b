"""Unloading: the kiln opened, and every place answered once: sound, flawed or lost.

The pages go from the top layer down, but the answers may arrive in any order: a phone that had no signal
sends them later. Nothing here depends on the order.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from studio.domain.problems import Problem
from studio.domain.say import later, midway, say
from studio.domain.stages import STAGE_IN_FIRING, FiringKind, Outcome, Route, Stage, after_unload
from studio.models import (
    Event,
    FinishingJob,
    Firing,
    Flaw,
    Person,
    Piece,
    Placement,
    Shelf,
    UnloadAnswer,
)
from studio.queries.firings import safe_to_open
from studio.queries.piece_facts import facts_of

from .common import clean_choice, clean_client_id, moment, must_be_staff, refuse, studio_zone
from .loads import hold_firing, move_on, name_of, overrule
from .pieces_events import hold_piece, record
from .unload_seen import Seen, SeenFlaw


@transaction.atomic
def start_unload(
    *, firing: Firing, by: Person, override_reason: str = "", now: datetime | None = None
) -> Firing:
    """Open the kiln, once a reading says that it is cool enough. Opened already counts as done.

    The tutor may open it without, by giving a reason that stays with the firing. Heat is asked about each
    time.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_firing(firing)
    if firing.state == Firing.State.UNLOADING:
        return firing
    opening = safe_to_open(firing, now)
    if firing.state != Firing.State.COOLING:
        refuse(
            "not-cooling",
            say(
                "{name_of} can't be unloaded now. {why}",
                name_of=name_of(firing),
                why=opening.why or opening.heading,
            ),
        )
    if not opening.may_open:
        problem = Problem(opening.state.value, f"{opening.heading}. {opening.why}", overridable=True)
        overrule(
            firing=firing, problems=[problem], pieces={}, reason=override_reason, by=by, now=now, once=True
        )
    move_on(firing, Firing.State.COOLING, Firing.State.UNLOADING, opened_at=now)
    return firing


@transaction.atomic
def undo_start_unload(*, firing: Firing, by: Person, now: datetime | None = None) -> Firing:
    """The kiln was not opened after all. Refused once a place has been answered."""
    must_be_staff(by)
    moment(now)
    firing = hold_firing(firing)
    if firing.state == Firing.State.COOLING:
        return firing
    if firing.state != Firing.State.UNLOADING:
        refuse("not-unloading", say("{name_of} is not being unloaded.", name_of=name_of(firing)))
    if UnloadAnswer.objects.filter(placement__firing=firing, undone_at__isnull=True).exists():
        refuse("answers-stand", say("Places of this firing have been answered. Undo those first."))
    move_on(firing, Firing.State.UNLOADING, Firing.State.COOLING, opened_at=None)
    return firing


@transaction.atomic
def answer_place(
    *,
    placement: Placement,
    outcome: Outcome | str,
    by: Person,
    client_id: str,
    flaws: Iterable[SeenFlaw] = (),
    jobs: Iterable[str] = (),
    loss_cause: str = "",
    note: str = "",
    shelf: Shelf | None = None,
    at: datetime | None = None,
    now: datetime | None = None,
) -> UnloadAnswer:
    """Say what was found at one place. The same answer sent twice is one; one place has one answer.

    In order: the piece moves on by its route, to the shelf given or to none, or is lost; the answer, its
    flaws and its finishing jobs are written down; the piece no longer stands in this load. Nobody is told
    of it before the firing is closed. ``at`` is the phone's word on when it was seen.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_firing(placement.firing)
    piece = hold_piece(placement.piece)
    outcome = Outcome(clean_choice(str(outcome), [each.value for each in Outcome], label=later("outcome")))
    if before := _sent_before(client_id, placement, outcome):
        return before
    placement = Placement.objects.select_related("piece").get(pk=placement.pk)
    _refuse_answer(firing, placement, piece)
    seen = Seen.checked(
        outcome=outcome,
        flaws=flaws,
        jobs=jobs,
        loss_cause=loss_cause,
        note=note,
        shelf=shelf,
        mark=piece.mark,
    )
    event = record(
        piece=piece,
        kind=Event.Kind.UNLOADED,
        by=by,
        client_id=client_id,
        now=now,
        at=at,
        to=stage_after(piece, firing, seen),
        shelf=seen.shelf,
        firing=firing,
        note=seen.words,
    )
    Placement.objects.filter(pk=placement.pk).update(holds_piece=None)
    return write_answer(placement, seen, event)


def missing_piece(
    *,
    placement: Placement,
    by: Person,
    client_id: str,
    note: str = "",
    at: datetime | None = None,
    now: datetime | None = None,
) -> UnloadAnswer:
    """Nothing stands where this piece should. It counts as lost until it is found; undo says it was."""
    return answer_place(
        placement=placement,
        outcome=Outcome.LOST,
        loss_cause=UnloadAnswer.LossCause.MISSING,
        note=note,
        by=by,
        client_id=client_id,
        at=at,
        now=now,
    )


def stage_after(piece: Piece, firing: Firing, seen: Seen) -> Stage:
    """The stage of a piece that comes out of this firing."""
    facts = facts_of(piece)
    kind = FiringKind(firing.kind)
    return after_unload(
        kind=kind,
        route=Route(piece.route),
        outcome=seen.outcome,
        jobs=len(seen.jobs) + facts.open_jobs,
        low_firings_left=max(0, facts.low_firings_left - (kind == FiringKind.LOW)),
    )


def write_answer(placement: Placement, seen: Seen, event: Event) -> UnloadAnswer:
    """The answer with its flaws and finishing jobs, for an event that has just been recorded."""
    answer = UnloadAnswer.objects.create(
        placement=placement,
        outcome=seen.outcome,
        loss_cause=seen.loss_cause,
        note=seen.note,
        shelf=seen.shelf,
        at=event.at,
        by=event.by,
        event=event,
        client_id=event.client_id,
    )
    Flaw.objects.bulk_create(
        Flaw(
            answer=answer,
            piece_id=placement.piece_id,
            kind=flaw.kind,
            surface=flaw.surface,
            severity=flaw.severity,
        )
        for flaw in seen.flaws
    )
    for kind in seen.jobs:
        FinishingJob.objects.create(
            piece_id=placement.piece_id,
            answer=answer,
            kind=kind,
            note=seen.note[:200] if kind == FinishingJob.Kind.OTHER else "",
            asked_at=event.at,
        )
    return answer


def standing_answer(placement: Placement) -> UnloadAnswer | None:
    """The answer that counts at this place, or None."""
    return placement.answers.filter(undone_at__isnull=True).select_related("by").first()


def refuse_unless_unloading(firing: Firing) -> None:
    if firing.state == Firing.State.CLOSED:
        refuse(
            "closed",
            say(
                "{name_of} is closed. Ask the tutor to reopen it before you change an answer.",
                name_of=name_of(firing),
            ),
        )
    if firing.state != Firing.State.UNLOADING:
        refuse(
            "not-unloading",
            say(
                "{name_of} is {state}. Start unloading it first.",
                name_of=name_of(firing),
                state=midway(firing.get_state_display()),
            ),
        )


def _sent_before(client_id: str, placement: Placement, outcome: Outcome) -> UnloadAnswer | None:
    first = UnloadAnswer.objects.filter(client_id=clean_client_id(client_id)).first()
    if first and (first.placement_id, first.outcome) != (placement.pk, outcome):
        refuse(
            "page-used",
            say("This page has been sent before, for something else. Load it again, then do this."),
        )
    return first


def _refuse_answer(firing: Firing, placement: Placement, piece: Piece) -> None:
    mark = piece.mark
    if placement.taken_out_at is not None:
        refuse("taken-out", say("{mark} has been taken out of this load.", mark=mark), about=mark)
    if answer := standing_answer(placement):
        who = answer.by.first_name if answer.by else say("Somebody")
        clock = f"{answer.at.astimezone(studio_zone()):%H:%M}"
        outcome = midway(answer.get_outcome_display())
        refuse(
            "answered",
            say(
                "{who} answered {mark} at {clock}: {outcome}. Undo that first if it was wrong.",
                who=who,
                mark=mark,
                clock=clock,
                outcome=outcome,
            ),
            about=mark,
        )
    refuse_unless_unloading(firing)
    if piece.stage != STAGE_IN_FIRING[FiringKind(firing.kind)]:
        words = midway(piece.get_stage_display())
        refuse(
            "not-in-kiln",
            say("{mark} is {words} by the books, not in this kiln. See its page.", mark=mark, words=words),
            about=mark,
        )
