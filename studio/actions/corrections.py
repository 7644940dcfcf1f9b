"""A closed firing's cost put right: the difference is posted as second rows, what was posted stays."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from studio.domain.say import later, midway, say
from studio.models import Charge, CostLine, Firing, FiringShare, Person, Settlement, Studio
from studio.queries.money import account_holder
from studio.queries.notices import studio_day
from studio.queries.settled import Settled, settled_of
from studio.queries.settling_cost import energy_line

from .common import clean_client_id, clean_text, clean_whole, moment, must_be_tutor, refuse
from .firings import clean_kwh, refuse_meter
from .loads import hold_firing, name_of
from .money import MOST_MINOR


@transaction.atomic
def correct_costs(
    *,
    firing: Firing,
    by: Person,
    client_id: str,
    meter_end_kwh: Decimal | None = None,
    energy_kwh: Decimal | None = None,
    energy_minor: int | None = None,
    consumables_minor: int | None = None,
    wear_minor: int | None = None,
    labour_minor: int | None = None,
    words: str = "",
    now: datetime | None = None,
) -> Settlement:
    """Say what a closed firing really cost; lines that are not given stay.

    In order: each cost line that differs gets a second one with the difference; the corrected cost is shared
    by the same facts and rules as before, and each share that differs gets a second one; each maker is
    charged more, or credited, by the difference. Differences sum up in themselves, to the minor unit. A
    charge that was taken back by hand stays taken back. Sent twice it is posted once.
    """
    must_be_tutor(by)
    now = moment(now)
    firing = hold_firing(firing)
    done = Settlement.objects.filter(client_id=clean_client_id(client_id)).first()
    if done is not None:
        if done.firing_id != firing.pk or done.corrects_id is None:
            refuse("page-used", say("This page has been sent before, for something else. Load it again."))
        return done
    settled = settled_of(firing)
    if firing.state != Firing.State.CLOSED or settled is None:
        refuse(
            "not-closed",
            say(
                "{name_of} is not closed, so nothing is posted. Close it with its cost.",
                name_of=name_of(firing),
            ),
        )
    if settled.facts is None:
        refuse(
            "no-facts",
            say("This firing was shared before its figures were kept. Reopen and close it instead."),
        )
    meter_end = clean_kwh(meter_end_kwh, label=say("meter after the firing"))
    refuse_meter(firing, meter_end)
    wanted = _wanted(
        firing,
        meter_end=meter_end,
        energy_kwh=clean_kwh(energy_kwh, label=say("energy")),
        given={
            CostLine.Kind.ENERGY: energy_minor,
            CostLine.Kind.CONSUMABLES: consumables_minor,
            CostLine.Kind.WEAR: wear_minor,
            CostLine.Kind.LABOUR: labour_minor,
        },
    )
    changes = [
        (kind, how, amount - settled.line_minor(kind))
        for kind, (how, amount) in wanted.items()
        if amount != settled.line_minor(kind)
    ]
    if not changes:
        refuse("no-change", say("That is what was posted already. There is nothing to correct."))
    correction = _post(
        settled,
        changes,
        by=by,
        client_id=client_id,
        words=clean_text(words, label=later("reason"), longest=200),
        now=now,
    )
    if meter_end is not None:
        Firing.objects.filter(pk=firing.pk).update(meter_end_kwh=meter_end)
    return correction


def _wanted(
    firing: Firing,
    *,
    meter_end: Decimal | None,
    energy_kwh: Decimal | None,
    given: dict[str, int | None],
) -> dict[str, tuple[str, int]]:
    """kind -> (in words how it came about, minor units) of the lines that were given."""
    if given[CostLine.Kind.ENERGY] is not None and (meter_end is not None or energy_kwh is not None):
        refuse("energy-twice", say("Give the meter, the kWh or the sum for electricity: one of the three."))
    wanted = {
        kind: (
            say("As corrected"),
            clean_whole(
                amount, label=say("cost of {label}", label=midway(kind.label)), least=0, most=MOST_MINOR
            ),
        )
        for kind, amount in given.items()
        if amount is not None
    }
    if meter_end is not None or energy_kwh is not None:
        if meter_end is not None and energy_kwh is None and firing.meter_start_kwh is None:
            refuse("no-start", say("The meter was not read before the firing. Write the kWh used instead."))
        line = energy_line(firing, studio=Studio.the(), meter_end_kwh=meter_end, energy_kwh=energy_kwh)
        wanted[CostLine.Kind.ENERGY] = (line.words, line.amount_minor)
    return wanted


def _post(
    settled: Settled,
    changes: list[tuple[str, str, int]],
    *,
    by: Person,
    client_id: str,
    words: str,
    now: datetime,
) -> Settlement:
    difference = sum(amount for _, _, amount in changes)
    shared = settled.facts.share(settled.cost_minor + difference)
    base = settled.settlement
    correction = Settlement.objects.create(
        firing_id=base.firing_id,
        corrects=base,
        cost_minor=difference,
        basis=base.basis,
        words=words,
        client_id=client_id,
        posted_at=now,
        posted_by=by,
    )
    for kind, how, amount in changes:
        CostLine.objects.create(settlement=correction, kind=kind, words=how[:300], amount_minor=amount)
    by_mark = {share.key: share for share in shared.shares}
    posted = shared.empty_minor - settled.empty_minor
    if posted:
        FiringShare.objects.create(
            settlement=correction, amount_minor=posted, words=say("Empty kiln space, borne by the studio.")
        )
    for row in settled.rows:
        share = by_mark[settled.facts.places[row.placement.pk].key]
        more = share.share_minor - row.amount_minor
        # What a maker was charged and still stands; taken back by hand, it stays the studio's.
        to_charge = 0 if row.taken_back else share.charge_minor - row.charged_minor
        posted += more
        if more or to_charge:
            _post_share(correction, row, more=more, to_charge=to_charge, by=by, now=now)
    if posted != difference:  # never seen; nothing is better than a sum that is off
        raise RuntimeError(f"Corrections of {base.firing} sum to {posted}, not to {difference}.")
    return correction


def _post_share(
    correction: Settlement, row: object, *, more: int, to_charge: int, by: Person, now: datetime
) -> None:
    piece = row.placement.piece
    payer = row.payer
    if payer is None and to_charge:
        # Nothing was charged for it before: whoever answered for the maker on the day of the posting does.
        payer = account_holder(row.maker, studio_day(correction.corrects.posted_at, Studio.the()))
    share = FiringShare.objects.create(
        settlement=correction,
        placement=row.placement,
        payer=payer,
        amount_minor=more,
        words=say("The difference to what was posted before."),
    )
    if not to_charge:
        return
    what = say(
        "{name_of} corrected: {mark} {form}",
        name_of=name_of(row.placement.firing),
        mark=piece.mark,
        form=midway(piece.get_form_display()),
    )
    Charge.objects.create(
        person=payer,
        kind=Charge.Kind.FIRING if to_charge > 0 else Charge.Kind.CREDIT,
        amount_minor=to_charge,
        words=what[:160],
        share=share,
        at=now,
        by=by,
        client_id=f"share:{share.pk}",
    )
