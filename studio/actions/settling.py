"""Closing a firing, once: its cost is shared and charged, makers are told. Reopening reverses that."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import OuterRef, Q, Subquery

from studio.domain.problems import Refused
from studio.domain.say import midway, say
from studio.domain.stages import FiringKind, Stage
from studio.models import (
    Charge,
    CostLine,
    Event,
    Firing,
    FiringShare,
    Person,
    Piece,
    Settlement,
    Studio,
    UnloadAnswer,
)
from studio.queries.settling import Draft, draft_of, standing_settlement
from studio.queries.unload import all_answered, reconcile

from . import glaze_results, notices, notices_breakage
from .common import clean_client_id, clean_whole, moment, must_be_tutor, refuse
from .firings import clean_kwh, refuse_meter
from .loads import hold_firing, move_on, name_of
from .money import MOST_MINOR
from .sharing_policies import policy_to_keep
from .unload import refuse_unless_unloading

_CAME_OUT = (Event.Kind.UNLOADED, Event.Kind.FOUND, Event.Kind.KNOWN)
_HOT = (Firing.State.FIRING, Firing.State.COOLING, Firing.State.UNLOADING)


@transaction.atomic
def close_firing(
    *,
    firing: Firing,
    by: Person,
    client_id: str,
    meter_end_kwh: Decimal | None = None,
    energy_kwh: Decimal | None = None,
    labour_minor: int | None = None,
    now: datetime | None = None,
) -> Settlement:
    """Close an unloaded firing. Closed already counts as done and changes nothing.

    In order: every place has its answer; the cost is written down line by line and shared, and the shares sum
    to it exactly; what makers bear is charged to them, or to the guardian for the under-18s; the firing is
    closed; ready pieces go on their makers' notices, lost and flawed ones on drafts that the tutor reads
    first. ``labour_minor`` None is what is set for the kiln.
    """
    must_be_tutor(by)
    now = moment(now)
    firing = hold_firing(firing)
    if done := _closed_before(firing, clean_client_id(client_id)):
        return done
    refuse_unless_unloading(firing)
    if not all_answered(firing):
        raise Refused(problem for problem in reconcile(firing) if not problem.overridable)
    meter_end = clean_kwh(meter_end_kwh, label=say("meter after the firing"))
    refuse_meter(firing, meter_end)
    energy = clean_kwh(energy_kwh, label=say("energy"))
    labour = labour_minor
    if labour is not None:
        labour = clean_whole(labour, label=say("labour"), least=0, most=MOST_MINOR)
    if not _has_pieces(firing):
        refuse(
            "empty-load",
            say("There is nothing in {name_of}. There is no cost to share.", name_of=midway(name_of(firing))),
        )

    # One firing is settled at a time, so that an allowance is not drawn on twice.
    Studio.objects.select_for_update(no_key=True).get(pk=Studio.the().pk)
    if firing.sharing_policy_id is None:
        firing.sharing_policy = policy_to_keep(firing.lit_at or now, by=by, now=now)
    draft = draft_of(firing, now=now, meter_end_kwh=meter_end, energy_kwh=energy, labour_minor=labour)
    settlement = _post(firing, draft, by=by, client_id=client_id, now=now)
    values = {"closed_at": now, "sharing_policy": draft.rules} | (
        {} if meter_end is None else {"meter_end_kwh": meter_end}
    )
    move_on(firing, Firing.State.UNLOADING, Firing.State.CLOSED, **values)
    if firing.kind != FiringKind.BISQUE:
        glaze_results.keep_results(firing)

    pieces = _came_from(firing)
    notices.queue_ready(pieces=[piece for piece in pieces if piece.stage == Stage.READY], now=now)
    for piece in pieces:
        if piece.stage == Stage.LOST:
            notices_breakage.queue_loss(piece=piece, now=now)
    for piece in _flawed_by(firing):
        notices_breakage.follow_flaw(piece=piece, now=now)
    return settlement


@transaction.atomic
def reopen_firing(*, firing: Firing, by: Person, client_id: str, now: datetime | None = None) -> Firing:
    """Open a closed firing again, to put an answer or a cost right. Open already counts as done.

    In order: each charge, those of corrections too, is taken back by a second row; the sharing no longer
    counts; notices about its pieces that have not gone are taken back; the firing is being unloaded again.
    Closing it shares the cost anew. Refused while the kiln is in another firing.
    """
    must_be_tutor(by)
    now = moment(now)
    clean_client_id(client_id)
    firing = hold_firing(firing)
    settlement = standing_settlement(firing)
    if firing.state == Firing.State.UNLOADING and settlement is None:
        return firing
    if firing.state != Firing.State.CLOSED or settlement is None:
        refuse(
            "not-closed",
            say(
                "{name_of} is {state}, not closed.",
                name_of=name_of(firing),
                state=midway(firing.get_state_display()),
            ),
        )
    busy = Firing.objects.filter(kiln=firing.kiln_id, state__in=_HOT).exclude(pk=firing.pk).first()
    if busy:
        refuse(
            "kiln-busy",
            say(
                "{name} is in {name_of} now. Close that one first, then reopen this.",
                name=firing.kiln.name,
                name_of=midway(name_of(busy)),
            ),
        )
    standing = Q(share__settlement=settlement) | Q(share__settlement__corrects=settlement)
    charges = Charge.objects.filter(standing, reverses__isnull=True, reversed_by__isnull=True)
    for charge in charges.order_by("pk"):
        Charge.objects.create(
            person_id=charge.person_id,
            kind=charge.kind,
            amount_minor=-charge.amount_minor,
            words=say("Taken back: {words}", words=charge.words)[:160],
            share_id=charge.share_id,
            at=now,
            by=by,
            reverses=charge,
            client_id=f"back:{charge.code}",
        )
    both = Settlement.objects.filter(Q(pk=settlement.pk) | Q(corrects=settlement))
    both.filter(reversed_at__isnull=True).update(reversed_at=now)
    move_on(firing, Firing.State.CLOSED, Firing.State.UNLOADING, closed_at=None)
    glaze_results.drop_results(firing)
    for piece in _came_from(firing):
        if piece.stage in {Stage.READY, Stage.LOST}:
            notices.withdraw_piece(piece=piece, now=now)
    for piece in _flawed_by(firing):
        notices_breakage.follow_flaw(piece=piece, now=now)
    return firing


def _closed_before(firing: Firing, client_id: str) -> Settlement | None:
    """The sharing that counts; or, for a late copy of a page sent before a reopening, the one it made."""
    if firing.state == Firing.State.CLOSED:
        return standing_settlement(firing)
    done = Settlement.objects.filter(client_id=client_id).first()
    if done is not None and (done.firing_id != firing.pk or done.corrects_id is not None):
        refuse("page-used", say("This page has been sent before, for something else. Load it again."))
    return done


def _came_from(firing: Firing) -> list[Piece]:
    """The ready and the lost whose latest unloading was from here: one refired since has other news."""
    latest = (
        Event.objects.filter(piece=OuterRef("pk"), kind__in=_CAME_OUT, undone_by__isnull=True)
        .order_by("-pk")
        .values("firing")
    )
    pieces = Piece.objects.filter(placements__firing=firing, placements__taken_out_at__isnull=True)
    pieces = pieces.filter(stage__in=[Stage.READY, Stage.LOST])
    return list(pieces.annotate(latest=Subquery(latest[:1])).filter(latest=firing.pk).order_by("pk"))


def _flawed_by(firing: Firing) -> list[Piece]:
    """The pieces answered flawed here."""
    standing = UnloadAnswer.objects.filter(
        placement__firing=firing, outcome=UnloadAnswer.Outcome.FLAWED, undone_at__isnull=True
    )
    pieces = Piece.objects.filter(pk__in=standing.values("placement__piece"))
    return list(pieces.select_related("maker__guardian").order_by("pk"))


def _has_pieces(firing: Firing) -> bool:
    return firing.placements.filter(taken_out_at__isnull=True).exists()


def _post(firing: Firing, draft: Draft, *, by: Person, client_id: str, now: datetime) -> Settlement:
    shared = sum(share.amount_minor for share in draft.shares) + draft.empty_minor
    if shared != draft.cost_minor:  # never seen; nothing is better than a sum that is off
        raise RuntimeError(f"Shares of {firing} sum to {shared}, not to {draft.cost_minor}.")
    settlement = Settlement.objects.create(
        firing=firing,
        cost_minor=draft.cost_minor,
        basis=draft.basis,
        policy=draft.policy,
        facts=draft.facts.as_stored(),
        client_id=client_id,
        posted_at=now,
        posted_by=by,
    )
    CostLine.objects.bulk_create(
        CostLine(settlement=settlement, kind=line.kind, words=line.words, amount_minor=line.amount_minor)
        for line in draft.lines
    )
    # By their keys alone: a firing of thousands of pieces is posted while somebody waits.
    rows = FiringShare.objects.bulk_create(
        FiringShare(
            settlement_id=settlement.pk,
            placement_id=share.placement.pk,
            payer_id=share.payer.pk if share.payer else None,
            volume_mm3=share.volume_mm3,
            amount_minor=share.amount_minor,
            words=share.words,
        )
        for share in draft.shares
    )
    title, forms = name_of(firing), {value: label.lower() for value, label in Piece.Form.choices}
    Charge.objects.bulk_create(
        Charge(
            person_id=share.payer.pk,
            kind=Charge.Kind.FIRING,
            amount_minor=share.charge_minor,
            words=f"{title}: {piece.mark} {forms[piece.form]}",
            share_id=row.pk,
            at=now,
            by_id=by.pk,
            client_id=f"share:{row.pk}",
        )
        for share, row in zip(draft.shares, rows, strict=True)
        for piece in (share.placement.piece,)
        if share.payer and share.charge_minor
    )
    if draft.empty_minor:
        FiringShare.objects.create(
            settlement=settlement,
            volume_mm3=draft.empty_mm3,
            amount_minor=draft.empty_minor,
            words=say("Empty kiln space, borne by the studio."),
        )
    return settlement
