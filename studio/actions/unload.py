"""Unloading: the kiln opened, and every place answered once: sound, flawed or lost.

The pages go from the top layer down, but the answers may arrive in any order: a phone that had no signal
sends them later. Nothing here depends on the order.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from studio.domain.problems import Problem
from studio.domain.stages import STAGE_IN_FIRING, FiringKind, Outcome, Route, Stage, after_unload
from studio.models import (
    Event,
    FinishingJob,
    Firing,
    Flaw,
    FlawKind,
    GlazeOnPiece,
    Person,
    Piece,
    Placement,
    Shelf,
    UnloadAnswer,
)
from studio.queries.firings import safe_to_open
from studio.queries.piece_facts import facts_of

from .common import clean_choice, clean_client_id, clean_text, moment, must_be_staff, refuse, studio_zone
from .loads import hold_firing, move_on, name_of, overrule
from .pieces import check_shelf
from .pieces_events import hold_piece, record

#: An answer's note is kept with the answer, and with the cause of a loss on the event.
_NOTE_LONGEST = 300
_FLAW_SURFACES = ("", *GlazeOnPiece.Surface.values)


@dataclass(frozen=True, slots=True)
class SeenFlaw:
    """A flaw as seen at the kiln: its kind, where (a surface, or empty) and how bad (1 to 3)."""

    kind: str
    surface: str = ""
    severity: int = Flaw.Severity.CLEAR


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
        refuse("not-cooling", f"{name_of(firing)} can't be unloaded now. {opening.why or opening.heading}")
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
        refuse("not-unloading", f"{name_of(firing)} is not being unloaded.")
    if UnloadAnswer.objects.filter(placement__firing=firing, undone_at__isnull=True).exists():
        refuse("answers-stand", "Places of this firing have been answered. Undo those first.")
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
    outcome = Outcome(clean_choice(str(outcome), [each.value for each in Outcome], label="outcome"))
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


@dataclass(frozen=True, slots=True)
class Seen:
    """What somebody says of a piece at the kiln, checked."""

    outcome: Outcome
    flaws: tuple[SeenFlaw, ...]
    jobs: tuple[str, ...]
    loss_cause: str
    note: str
    shelf: Shelf | None

    @property
    def words(self) -> str:
        """For the piece's history: the cause of a loss, and the note."""
        cause = UnloadAnswer.LossCause(self.loss_cause).label if self.loss_cause else ""
        return ": ".join(part for part in (cause, self.note) if part)

    @classmethod
    def checked(
        cls,
        *,
        outcome: Outcome,
        flaws: Iterable[SeenFlaw],
        jobs: Iterable[str],
        loss_cause: str,
        note: str,
        shelf: Shelf | None,
        mark: str,
    ) -> Seen:
        """Refuses what contradicts itself, so that a wrong tap is asked about and not stored."""
        note = clean_text(note, label="note", longest=_NOTE_LONGEST)
        flaws, jobs = _clean_flaws(flaws), _clean_jobs(jobs, note, mark)
        lost = outcome == Outcome.LOST
        if lost:
            loss_cause = clean_choice(loss_cause, UnloadAnswer.LossCause.values, label="cause of the loss")
        elif loss_cause:
            refuse("cause-without-loss", f"{mark} is not lost, so there is no cause of it.", about=mark)
        if outcome == Outcome.SOUND and flaws:
            refuse(
                "sound-with-flaws", f"{mark} has a flaw marked. Choose Flawed, or take it off.", about=mark
            )
        if outcome == Outcome.FLAWED and not flaws and not note:
            refuse("no-flaw", f"Say what is wrong with {mark}: choose a flaw or write a note.", about=mark)
        if lost and jobs:
            refuse("lost-with-jobs", f"{mark} is lost; there is nothing to finish on it.", about=mark)
        return cls(outcome, flaws, jobs, loss_cause, note, None if lost else check_shelf(shelf))


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
            "closed", f"{name_of(firing)} is closed. Ask the tutor to reopen it before you change an answer."
        )
    if firing.state != Firing.State.UNLOADING:
        refuse(
            "not-unloading",
            f"{name_of(firing)} is {firing.get_state_display().lower()}. Start unloading it first.",
        )


def _sent_before(client_id: str, placement: Placement, outcome: Outcome) -> UnloadAnswer | None:
    first = UnloadAnswer.objects.filter(client_id=clean_client_id(client_id)).first()
    if first and (first.placement_id, first.outcome) != (placement.pk, outcome):
        refuse(
            "page-used", "This page has been sent before, for something else. Load it again, then do this."
        )
    return first


def _refuse_answer(firing: Firing, placement: Placement, piece: Piece) -> None:
    mark = piece.mark
    if placement.taken_out_at is not None:
        refuse("taken-out", f"{mark} has been taken out of this load.", about=mark)
    if answer := standing_answer(placement):
        who = answer.by.first_name if answer.by else "Somebody"
        clock = f"{answer.at.astimezone(studio_zone()):%H:%M}"
        outcome = answer.get_outcome_display().lower()
        refuse(
            "answered",
            f"{who} answered {mark} at {clock}: {outcome}. Undo that first if it was wrong.",
            about=mark,
        )
    refuse_unless_unloading(firing)
    if piece.stage != STAGE_IN_FIRING[FiringKind(firing.kind)]:
        words = piece.get_stage_display().lower()
        refuse("not-in-kiln", f"{mark} is {words} by the books, not in this kiln. See its page.", about=mark)


def _clean_flaws(flaws: Iterable[SeenFlaw]) -> tuple[SeenFlaw, ...]:
    """One flaw of a kind on a surface: of two, the worse."""
    worst: dict[tuple[str, str], SeenFlaw] = {}
    for flaw in flaws:
        kind = clean_choice(flaw.kind, FlawKind.values, label="flaw")
        surface = clean_choice(flaw.surface or "", _FLAW_SURFACES, label="surface of the flaw")
        severity = int(clean_choice(str(flaw.severity), map(str, Flaw.Severity.values), label="severity"))
        before = worst.get((kind, surface))
        if before is None or before.severity < severity:
            worst[kind, surface] = SeenFlaw(kind, surface, severity)
    return tuple(worst.values())


def _clean_jobs(jobs: Iterable[str], note: str, mark: str) -> Sequence[str]:
    kinds = dict.fromkeys(clean_choice(job, FinishingJob.Kind.values, label="finishing job") for job in jobs)
    if FinishingJob.Kind.OTHER in kinds and not note:
        refuse("missing", f"Write in the note what is to be done to {mark}.", about=mark)
    return tuple(kinds)
