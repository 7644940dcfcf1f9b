"""Many tutors at one firing's cost: corrected, closed and reopened at once, on whichever database."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import settling
from studio.actions.corrections import correct_costs
from studio.domain.stages import Stage
from studio.models import Charge, Firing, Settlement
from studio.queries.money import balance
from studio.queries.settled import settled_of
from tests import factories as make
from tests.actions.test_parallel import at_once

pytestmark = pytest.mark.django_db(transaction=True)
LATER = make.NOW + timedelta(hours=1)


def closed() -> Firing:
    """Thirty pounds over three of one size, by own box, the makers bearing the empty space."""
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    return make.closed_firing(pieces=[make.piece(stage=Stage.GLAZED) for _ in range(3)], energy_kwh="100")


def proven(firing: Firing) -> None:
    """What stands is what a firing closed at that cost would have."""
    settled = settled_of(firing)
    by_mark = {share.key: share for share in settled.shared().shares}
    for row in settled.rows:
        share = by_mark[row.placement.piece.mark]
        assert (row.amount_minor, row.charged_minor) == (share.share_minor, share.charge_minor)
        assert balance(row.payer) == row.charged_minor
    assert sum(row.amount_minor for row in settled.rows) + settled.empty_minor == settled.cost_minor


def test_one_page_sent_by_many_is_one_correction() -> None:
    firing, tap = closed(), make.client_id()
    got = at_once(
        lambda n: correct_costs(
            firing=firing, by=firing.made_by, client_id=tap, energy_minor=3301, now=LATER
        ),
        12,
    )
    assert len({each.pk for each in got}) == 1
    assert Settlement.objects.filter(corrects__isnull=False).count() == 1
    assert settled_of(firing).cost_minor == 3301
    proven(firing)


def test_corrections_of_different_lines_at_once_all_count() -> None:
    firing = closed()
    kinds = ["energy_minor", "wear_minor", "labour_minor", "consumables_minor"]
    at_once(
        lambda n: correct_costs(
            firing=firing,
            by=firing.made_by,
            client_id=make.client_id(),
            now=LATER,
            **{kinds[n % 4]: 1000 + 100 * (n % 4) + n // 4},
        ),
        12,
    )
    settled = settled_of(firing)
    lines = {cost.kind: cost.amount_minor for cost in settled.costs}
    # Whichever came last of each kind: no two were lost or added up.
    for place, kind in enumerate(("energy", "wear", "labour", "consumables")):
        assert lines[kind] - 1000 - 100 * place in {0, 1, 2}
    assert settled.cost_minor == sum(lines.values())
    proven(firing)


def test_corrected_and_reopened_at_once_leaves_all_or_nothing() -> None:
    firing = closed()
    taps = [make.client_id() for _ in range(8)]

    def act(number: int) -> object:
        if number == 0:
            return settling.reopen_firing(firing=firing, by=firing.made_by, client_id=taps[0], now=LATER)
        return correct_costs(
            firing=firing, by=firing.made_by, client_id=taps[number], labour_minor=100 * number, now=LATER
        )

    got = at_once(act, 8)
    assert isinstance(got[0], Firing)
    assert all(isinstance(each, Settlement) or each == ["not-closed"] for each in got[1:])
    assert settled_of(firing) is None
    assert sum(Charge.objects.values_list("amount_minor", flat=True)) == 0
    assert not Settlement.objects.filter(reversed_at__isnull=True).exists()


def test_closing_one_and_correcting_another_of_the_same_makers_do_not_block_each_other() -> None:
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    makers = [make.student(f"Maker{number}-") for number in range(3)]
    first = make.closed_firing(
        pieces=[make.piece(stage=Stage.GLAZED, maker=maker) for maker in makers], energy_kwh="100"
    )
    waiting = [
        make.answered(
            make.firing(
                Firing.State.UNLOADING,
                pieces=[make.piece(stage=Stage.GLAZED, maker=maker) for maker in makers[::-1]],
            )
        )
        for _ in range(3)
    ]

    def act(number: int) -> object:
        given = {"by": first.made_by, "client_id": make.client_id(), "now": LATER}
        if number < 3:
            return settling.close_firing(firing=waiting[number], energy_kwh="100", **given)
        return correct_costs(firing=first, wear_minor=number, **given)

    assert all(isinstance(each, Settlement) for each in at_once(act, 8))
    assert Settlement.objects.filter(corrects__isnull=True).count() == 4
