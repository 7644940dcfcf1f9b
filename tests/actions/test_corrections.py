"""A closed firing's cost is put right by second rows: up and down, to the penny, once, by many at once."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from random import Random

import pytest

from studio.actions import money, settling
from studio.actions.corrections import correct_costs
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.models import Charge, CostLine, Firing, FiringShare, Settlement
from studio.models.money import PostedRowError
from studio.queries.money import balance
from studio.queries.settled import settled_of
from tests import factories as make

pytestmark = pytest.mark.django_db
LATER = make.NOW + timedelta(hours=2)


@pytest.fixture
def makers() -> dict[str, object]:
    """Ines, Tobias, and Sam whose guardian Ruth pays; a litre each, shared by own box, 30 pence a kWh."""
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    ruth = make.guardian()
    return {
        "ines": make.student("Ines"),
        "tobias": make.student("Tobias"),
        "ruth": ruth,
        "sam": make.young_person(guardian=ruth),
    }


def closed(makers: dict[str, object], **values: object) -> Firing:
    """A firing of 100 kWh, so £30.00: ten pounds for each of the three."""
    pots = [
        make.piece(stage=Stage.GLAZED, maker=makers[name], width_mm=100, depth_mm=100, height_mm=100)
        for name in ("ines", "tobias", "sam")
    ]
    return make.closed_firing(pieces=pots, energy_kwh="100", now=make.NOW, **values)


def correct(firing: Firing, **values: object) -> Settlement:
    given = {"by": firing.made_by, "client_id": make.client_id(), "now": LATER}
    return correct_costs(firing=firing, **{**given, **values})


def test_the_bill_was_higher(makers) -> None:
    """£33.00 over three is £11.00 each: a pound more, on the accounts that bore the first ten."""
    firing = closed(makers)
    before = list(Settlement.objects.values()) + list(FiringShare.objects.values())
    correction = correct(firing, energy_minor=3300, words="The bill came")
    assert (correction.cost_minor, correction.words) == (300, "The bill came")
    assert [balance(makers[name]) for name in ("ines", "tobias", "ruth", "sam")] == [1100, 1100, 1100, 0]
    assert {charge.amount_minor for charge in Charge.objects.filter(share__settlement=correction)} == {100}
    # What was posted is as it was.
    assert before == [
        *Settlement.objects.filter(corrects=None).values(),
        *FiringShare.objects.filter(settlement__corrects=None).values(),
    ]
    assert settled_of(firing).cost_minor == 3300


def test_the_meter_had_been_misread(makers) -> None:
    """90 kWh instead of 100: £27.00, so each is credited a pound by a line of its own."""
    firing = closed(makers)
    correction = correct(firing, energy_kwh=Decimal(90))
    line = correction.cost_lines.get()
    assert (line.kind, line.amount_minor) == ("energy", -300)
    assert line.words == "90.0 kWh, as entered, at £0.30 a kWh"
    credits = Charge.objects.filter(share__settlement=correction)
    assert {(charge.kind, charge.amount_minor) for charge in credits} == {("credit", -100)}
    assert balance(makers["ines"]) == balance(makers["ruth"]) == 900


def test_by_the_meter_the_reading_is_put_right_too(makers) -> None:
    firing = closed(makers)
    Firing.objects.filter(pk=firing.pk).update(meter_start_kwh="500", meter_end_kwh="600")
    correct(firing, meter_end_kwh=Decimal(620))
    firing.refresh_from_db()
    assert firing.meter_end_kwh == Decimal(620)
    assert settled_of(firing).cost_minor == 3600


def test_up_and_down_again_leaves_what_it_was(makers) -> None:
    firing = closed(makers)
    correct(firing, labour_minor=1000, wear_minor=7)
    correct(firing, labour_minor=0, wear_minor=0)
    assert [balance(makers[name]) for name in ("ines", "tobias", "ruth")] == [1000, 1000, 1000]
    settled = settled_of(firing)
    assert (settled.cost_minor, len(settled.corrections)) == (3000, 2)
    assert {cost.kind: cost.amount_minor for cost in settled.costs} == {
        "energy": 3000,
        "wear": 0,
        "labour": 0,
    }


def test_one_penny_goes_where_the_largest_remainder_is(makers) -> None:
    """3001 over three equal shares: the odd penny is that of the first mark, and nobody else has a row."""
    firing = closed(makers)
    correction = correct(firing, energy_minor=3001)
    (share,) = correction.shares.all()
    first = min(firing.placements.all(), key=lambda place: place.piece.mark)
    assert (share.placement, share.amount_minor) == (first, 1)


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({}, "no-change"),
        ({"energy_minor": 3000}, "no-change"),
        ({"energy_minor": 1, "energy_kwh": Decimal(1)}, "energy-twice"),
        ({"labour_minor": -1}, "number-out-of-range"),
        ({"labour_minor": 2.5}, "number-out-of-range"),
        ({"energy_kwh": "much"}, "no-meter"),
        ({"meter_end_kwh": Decimal(600)}, "no-start"),
        ({"energy_minor": 1, "words": "a\nb"}, "unseen-signs"),
    ],
)
def test_what_cannot_be_is_refused_whole(makers, values: dict[str, object], code: str) -> None:
    firing = closed(makers)
    with pytest.raises(Refused) as refused:
        correct(firing, **values)
    assert refused.value.codes == [code]
    assert (Settlement.objects.count(), Charge.objects.count()) == (1, 3)


def test_only_the_tutor_corrects_and_only_what_is_closed(makers) -> None:
    firing = closed(makers)
    for who in (make.helper(), makers["ines"]):
        with pytest.raises(Refused) as refused:
            correct(firing, by=who, energy_minor=1)
        assert refused.value.codes == ["tutor-only"]
    open_one = make.answered(make.firing(Firing.State.UNLOADING))
    with pytest.raises(Refused) as refused:
        correct(open_one, energy_minor=1)
    assert refused.value.codes == ["not-closed"]


def test_sent_twice_it_is_posted_once_and_not_for_another_firing(makers) -> None:
    firing, tap = closed(makers), make.client_id()
    first = correct(firing, client_id=tap, energy_minor=3300)
    assert correct(firing, client_id=tap, energy_minor=3300) == first
    assert balance(makers["ines"]) == 1100
    other = closed(makers)
    with pytest.raises(Refused) as refused:
        correct(other, client_id=tap, energy_minor=3300)
    assert refused.value.codes == ["page-used"]


def test_what_was_taken_back_by_hand_stays_taken_back(makers) -> None:
    firing = closed(makers)
    charge = Charge.objects.get(person=makers["ines"])
    money.reverse_charge(charge=charge, by=firing.made_by, client_id=make.client_id(), now=LATER)
    correction = correct(firing, energy_minor=3300)
    assert (balance(makers["ines"]), balance(makers["tobias"])) == (0, 1100)
    assert sum(share.amount_minor for share in correction.shares.all()) == 300


def test_reopening_takes_the_corrections_back_too(makers) -> None:
    firing = closed(makers)
    correct(firing, energy_minor=3300)
    correct(firing, energy_minor=2400)
    settling.reopen_firing(firing=firing, by=firing.made_by, client_id=make.client_id(), now=LATER)
    assert [balance(makers[name]) for name in ("ines", "tobias", "ruth")] == [0, 0, 0]
    assert settled_of(firing) is None
    settling.close_firing(
        firing=firing, by=firing.made_by, client_id=make.client_id(), energy_kwh="80", now=LATER
    )
    assert balance(makers["ines"]) == 800


def test_posted_differences_are_not_changed_either(makers) -> None:
    correction = correct(closed(makers), energy_minor=3300)
    with pytest.raises(PostedRowError):
        correction.shares.update(amount_minor=0)
    with pytest.raises(PostedRowError):
        correction.cost_lines.first().delete()


@pytest.mark.parametrize("basis", ["own-box", "shelf-share"])
def test_whatever_is_corrected_everything_sums(basis: str) -> None:
    """After each of many corrections: lines, shares and charges are those of a firing closed at that cost."""
    random = Random(basis)
    make.studio(share_basis=basis, smallest_charge_minor=35, tariff_minor_per_kwh="30")
    make.policy(rounding_step_minor=5, rate_guest_per_mille=875)
    pots = [
        make.piece(stage=Stage.GLAZED, studios_own=number == 3, height_mm=random.randint(30, 200))
        for number in range(9)
    ]
    firing = make.closed_firing(pieces=pots, layers=3, energy_kwh="50", now=make.NOW)
    for _ in range(25):
        kind = random.choice(["energy", "wear", "labour", "consumables"])
        # Always another amount than the one that stands.
        amount = (settled_of(firing).line_minor(kind) + random.randint(1, 4000)) % 4001
        correction = correct(firing, **{f"{kind}_minor": amount})
        assert sum(line.amount_minor for line in correction.cost_lines.all()) == correction.cost_minor
        assert sum(share.amount_minor for share in correction.shares.all()) == correction.cost_minor
        settled = settled_of(firing)
        shared = settled.shared()
        assert settled.cost_minor == sum(cost.amount_minor for cost in settled.costs)
        assert settled.empty_minor == shared.empty_minor
        by_mark = {share.key: share for share in shared.shares}
        for row in settled.rows:
            share = by_mark[row.placement.piece.mark]
            assert (row.amount_minor, row.charged_minor) == (share.share_minor, share.charge_minor)
    assert CostLine.objects.filter(amount_minor__lt=0).exists()
