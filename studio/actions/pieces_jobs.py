"""Finishing jobs after the last firing, and sending a piece back for another one."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import later, say
from studio.domain.stages import AFTER_LAST_FIRING, STAGE_WORDS, Route, Stage
from studio.models import Event, FinishingJob, Person, Piece
from studio.queries.piece_facts import facts_of

from .common import clean_choice, clean_text, moment, must_be_staff, refuse
from .pieces_events import hold_piece, load_held_by, open_jobs, record, refuse_in_load, repeated


@transaction.atomic
def add_job(
    *, piece: Piece, kind: str, by: Person, client_id: str, note: str = "", now: datetime | None = None
) -> Event:
    """Ask for a finishing job on a fired piece, which goes to finishing. The event names the job."""
    now = moment(now)
    must_be_staff(by)
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.JOB_ASKED):
        return done
    stage = Stage(piece.stage)
    if stage not in AFTER_LAST_FIRING:
        words = STAGE_WORDS[stage].lower()
        refuse(
            "not-fired",
            say("{mark} is {words}. Finishing comes after its last firing.", mark=piece.mark, words=words),
            about=piece.mark,
        )
    if placement := load_held_by(piece):
        refuse_in_load(piece, placement)
    kind = clean_choice(kind, FinishingJob.Kind.values, label=later("job"))
    note = clean_text(note, label=say("note on the job"), longest=200)
    if kind == FinishingJob.Kind.OTHER and not note:
        refuse("missing", say("Write down what is to be done."), about=piece.mark)
    job = FinishingJob.objects.create(piece=piece, kind=kind, note=note, asked_at=now)
    return record(
        piece=piece,
        kind=Event.Kind.JOB_ASKED,
        by=by,
        client_id=client_id,
        now=now,
        to=Stage.FINISHING,
        before={"job": job.code},
        note=job_words(job),
    )


@transaction.atomic
def finish_job(
    *,
    job: FinishingJob,
    by: Person,
    client_id: str,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Event:
    """Tick off a finishing job. After the last open one a piece in finishing is ready, or fired when a low
    firing is still to come.
    """
    now = moment(now)
    must_be_staff(by)
    piece = hold_piece(job.piece)
    job = FinishingJob.objects.get(pk=job.pk)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.JOB_DONE, before={"job": job.code}):
        return done
    if job.withdrawn_at is not None:
        refuse("job-withdrawn", say("This job is not wanted any more."), about=piece.mark)
    if job.done_at is not None:
        refuse("job-done", say("This job is done already."), about=piece.mark)
    becomes = None
    if Stage(piece.stage) == Stage.FINISHING and [other.pk for other in open_jobs(piece)] == [job.pk]:
        becomes = Stage.FIRED if facts_of(piece).low_firings_left else Stage.READY
    FinishingJob.objects.filter(pk=job.pk).update(done_at=now, done_by=by)
    return record(
        piece=piece,
        kind=Event.Kind.JOB_DONE,
        by=by,
        client_id=client_id,
        now=now,
        to=becomes,
        before={"job": job.code},
        note=job_words(job),
        at=at,
    )


@transaction.atomic
def refire_piece(
    *,
    piece: Piece,
    reason: str,
    by: Person,
    client_id: str,
    studio_at_fault: bool = False,
    now: datetime | None = None,
) -> Event:
    """Send a fired, finishing or ready piece back to glazed, with the reason kept.

    Open finishing jobs are put off for good, as the firing makes new ones. ``studio_at_fault``: the maker
    pays nothing for the next firing.
    """
    now = moment(now)
    must_be_staff(by)
    reason = clean_text(reason, label=later("reason"), longest=300, required=True)
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.REFIRE):
        return done
    stage, mark = Stage(piece.stage), piece.mark
    if stage not in AFTER_LAST_FIRING:
        words = STAGE_WORDS[stage].lower()
        refuse(
            "not-fired",
            say("{mark} is {words}. Only fired ware can be refired.", mark=mark, words=words),
            about=mark,
        )
    if piece.route == Route.BISQUE_ONLY:
        refuse(
            "bisque-only",
            say("{mark} is bisque only. Change its route to have it glaze fired.", mark=mark),
            about=mark,
        )
    if placement := load_held_by(piece):
        refuse_in_load(piece, placement)
    jobs = [job.code for job in open_jobs(piece)]
    FinishingJob.objects.filter(code__in=jobs).update(withdrawn_at=now)
    return record(
        piece=piece,
        kind=Event.Kind.REFIRE,
        by=by,
        client_id=client_id,
        now=now,
        to=Stage.GLAZED,
        before={"jobs": jobs, "studio_at_fault": bool(studio_at_fault)},
        note=reason,
    )


def job_words(job: FinishingJob) -> str:
    """``Sand the foot: only the inner edge``."""
    if job.kind == FinishingJob.Kind.OTHER:
        return job.note
    return f"{job.get_kind_display()}: {job.note}" if job.note else job.get_kind_display()
