"""Loads that the machine works out: asked for, stopped, taken whole or not at all."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.loading import problems as problems_of_load
from studio.domain.problems import Problem
from studio.domain.say import later, midway, say, say_many
from studio.models import Firing, Layer, LoadChange, Person, Piece, Placement, Proposal
from studio.queries import proposals as queries
from studio.queries import queue as queue_queries
from studio.queries.loads import place_seen, plan_of
from studio.queries.loads_waiting import Waiting, waiting_for_firing
from studio.queries.piece_facts import refired_free

from . import proposals_work
from .common import clean_client_id, moment, must_be_staff, refuse, refuse_all
from .load_changes import record_change, repeated_change, snapshot, write_layers
from .loads_hold import hold_planned, name_of
from .pieces_events import hold_pieces

_CHANGED = later("Work it out again: the load or the pieces have changed since.")


def ask_for_load(
    *, firing: Firing, by: Person, client_id: str, anew: bool = False, now: datetime | None = None
) -> Proposal:
    """Begin to work out ways to fill a kiln. Sent twice is once; an earlier one still at work is stopped.

    What stands in the load stays; with ``anew`` only what is pinned does. Refused when nothing waits that may
    go in.
    """
    must_be_staff(by)
    now = moment(now)
    # Looked at before anything is held: taking a proposal asks again whether all this is still so.
    gathered = queries.gather(firing, now=now, anew=anew)
    with transaction.atomic():
        firing = hold_planned(firing)
        if done := _asked_before(client_id, firing):
            return done
        if not gathered.free:
            refuse(
                "nothing-waits",
                say("No piece waits that may go into this load. Below stands why, and what would help."),
            )
        return _begin(
            firing=firing,
            jobs=gathered.jobs,
            seen=gathered.seen,
            by=by,
            client_id=client_id,
            now=now,
            anew=anew,
        )


def ask_for_queue(*, by: Person, client_id: str, now: datetime | None = None) -> Proposal:
    """Begin to work out how many firings all that waits now makes. Sent twice is once."""
    must_be_staff(by)
    now = moment(now)
    job, seen = queue_queries.gather_queue(now=now)
    with transaction.atomic():
        if done := _asked_before(client_id, None):
            return done
        if not job["groups"]:
            refuse("nothing-waits", say("Nothing waits for a firing that could go into a kiln now."))
        return _begin(firing=None, jobs=[job], seen=seen, by=by, client_id=client_id, now=now)


def stop(*, proposal: Proposal, by: Person, now: datetime | None = None) -> None:
    """End the work on it. What is done already stays done."""
    must_be_staff(by)
    Proposal.objects.filter(pk=proposal.pk, state=Proposal.State.WORKING).update(
        state=Proposal.State.STOPPED, done_at=moment(now)
    )


@transaction.atomic
def take(
    *, proposal: Proposal, way: str, by: Person, client_id: str, now: datetime | None = None
) -> LoadChange | None:
    """Put a load as proposed: layers and pieces, all of it or nothing; undone as one change.

    Refused when the load or one of its pieces has changed since it was worked out, and where it would not be
    legal. What is pinned stands where it stood.
    """
    must_be_staff(by)
    now = moment(now)
    assert proposal.firing is not None
    firing = hold_planned(proposal.firing)
    if done := repeated_change(client_id, firing=firing, kind=LoadChange.Kind.FILLED):
        return done
    proposal = Proposal.objects.select_for_update(no_key=True).get(pk=proposal.pk)
    result = next((found for found in proposal.found.get("ways", ()) if found["way"] == way), None)
    if proposal.state != Proposal.State.READY or result is None:
        refuse("not-ready", say("That way is not worked out. Have the kiln filled again."))
    was = snapshot(firing)
    _refuse_changed_load(firing, proposal)
    rows = _waiting(firing, proposal, result, now)
    loose = firing.placements.filter(taken_out_at__isnull=True).exclude(
        piece__mark__in=list(proposal.seen["kept"])
    )
    kept_stands = {place.piece.mark: place for place in loose.select_related("piece")}
    loose.update(taken_out_at=now, holds_piece=None)
    write_layers(firing, result["props_mm"])
    _stand(firing, proposal, result, rows, kept_stands, by=by, now=now)
    plan = plan_of(firing)
    refuse_all(problems_of_load(load=plan.load, items=plan.items.values()))
    count = len(result["places"])
    change = record_change(
        firing=firing,
        kind=LoadChange.Kind.FILLED,
        was=was,
        words=say_many(
            "Filled, {name}: {count} piece",
            "Filled, {name}: {count} pieces",
            count,
            name=queries.WAYS[way].name.lower(),
        ),
        by=by,
        now=now,
        client_id=client_id,
    )
    Proposal.objects.filter(pk=proposal.pk).update(taken_way=way, taken_at=now)
    return change


def _asked_before(client_id: str, firing: Firing | None) -> Proposal | None:
    done = Proposal.objects.filter(client_id=clean_client_id(client_id)).first()
    if done is not None and done.firing_id != (firing.pk if firing else None):
        refuse("page-used", say("This page has been sent before, for something else. Load it again."))
    return done


def _begin(
    *,
    firing: Firing | None,
    jobs: list[proposals_work.Job],
    seen: dict[str, object],
    by: Person,
    client_id: str,
    now: datetime,
    anew: bool = False,
) -> Proposal:
    Proposal.objects.filter(firing=firing, state=Proposal.State.WORKING).update(
        state=Proposal.State.STOPPED, done_at=now
    )
    proposal = Proposal.objects.create(
        firing=firing, anew=anew, seen=seen, asked_at=now, beat_at=now, asked_by=by, client_id=client_id
    )
    # Once it is saved for good: who works on it has a connection of its own.
    transaction.on_commit(lambda: proposals_work.start(proposal, jobs))
    return proposal


def _refuse_changed_load(firing: Firing, proposal: Proposal) -> None:
    """Everything that stands in it now must have been seen, and what stays be where it was."""
    rows = firing.placements.filter(taken_out_at__isnull=True).select_related("piece", "layer")
    stands = {place.piece.mark: place_seen(place) for place in rows}
    kept = proposal.seen["kept"]
    known = {*kept, *(proposal.seen["pieces"] if proposal.anew else ())}
    if any(stands.get(mark) != stand for mark, stand in kept.items()) or not stands.keys() <= known:
        refuse(
            "load-changed",
            say(
                "What stands in {name_of} is not as it was. {changed}",
                name_of=midway(name_of(firing)),
                changed=_CHANGED,
            ),
        )


def _waiting(
    firing: Firing, proposal: Proposal, result: dict[str, object], now: datetime
) -> dict[str, Waiting]:
    """The pieces to go in as they wait now, by mark; refused when one does not, or has another size."""
    now_waiting = {row.piece.mark: row for row in waiting_for_firing(firing, now=now)}
    in_load = set(firing.placements.filter(taken_out_at__isnull=True).values_list("piece__mark", flat=True))
    problems, rows = [], {}
    for mark, *_ in result["places"]:
        code, sizes, _ = proposal.seen["pieces"][mark]
        row = now_waiting.get(mark)
        if row is None and mark in in_load:
            continue
        if row is None or row.piece.code != code or not row.may_go_in:
            problems.append(
                Problem("gone", say("{mark} does not wait for this firing any more.", mark=mark), about=mark)
            )
        elif row.size != queries.size_seen(sizes):
            problems.append(Problem("resized", say("{mark} has been measured again.", mark=mark), about=mark))
        else:
            rows[mark] = row
    if problems:
        refuse_all([*problems, Problem("again", _CHANGED)])
    hold_pieces([row.piece for row in rows.values()])
    held = Placement.objects.filter(holds_piece__in=[row.piece.pk for row in rows.values()])
    refuse_all(
        Problem(
            "in-load",
            say("{mark} has gone into a load meanwhile. {changed}", mark=mark, changed=_CHANGED),
            about=mark,
        )
        for mark in held.values_list("piece__mark", flat=True)
    )
    return rows


def _stand(
    firing: Firing,
    proposal: Proposal,
    result: dict[str, object],
    rows: dict[str, Waiting],
    loose: dict[str, Placement],
    *,
    by: Person,
    now: datetime,
) -> None:
    layers: dict[int, Layer] = {layer.number: layer for layer in firing.layers.all()}
    pieces: dict[str, Piece] = {mark: row.piece for mark, row in rows.items()}
    pieces |= {mark: place.piece for mark, place in loose.items() if mark not in pieces}
    free = refired_free(list(pieces.values()))
    made = []
    for mark, layer, x_mm, y_mm, turned in result["places"]:
        piece = pieces[mark]
        _, sizes, stand_mm = proposal.seen["pieces"][mark]
        made.append(
            Placement(
                firing=firing,
                layer=layers[layer],
                piece=piece,
                x_mm=x_mm,
                y_mm=y_mm,
                turned=turned,
                stand_mm=stand_mm,
                refire_free=piece.pk in free,
                added_at=now,
                added_by=by,
                holds_piece=piece,
                **queries.size_columns(sizes),
            )
        )
    Placement.objects.bulk_create(made)
