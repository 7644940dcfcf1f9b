"""Shares of a firing on both bases, worked out by hand and on a small model of a pocket calculator.

Every expected figure below was worked by hand from the rule beside it; the rules themselves (own box, shelf
share, allowance, rate, smallest charge) are common practice in shared studios, no source.
"""

import re
from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from random import Random

import pytest

from studio.domain.problems import DomainError
from studio.domain.sharing import charge_for, share_firing
from studio.domain.sharing_rules import (
    Basis,
    EmptySpace,
    FiringCost,
    Free,
    Layer,
    Maker,
    Placement,
    Policy,
    footprint_mm2,
    litres_to_mm3,
    round_mm2,
)
from studio.domain.sharing_sums import Line, explain

COST = FiringCost(energy_minor=700, consumables_minor=150, wear_minor=100, labour_minor=50)  # 10.00
BOWL = Placement("A2D", "asta", 200, 200, 100, layer=1, round=True)  # box 4,000,000 mm³
MUG = Placement("C7K", "bram", 100, 100, 100, layer=1)  # 1,000,000 mm³
VASE = Placement("E9F", "bram", 100, 100, 300, layer=2)  # 3,000,000 mm³
TILE = Placement("H4J", "", 200, 100, 100, layer=2)  # 2,000,000 mm³, the studio's own
LOAD = [BOWL, MUG, VASE, TILE]
LAYERS = [Layer(1, area_mm2=200_000, height_mm=120), Layer(2, area_mm2=200_000, height_mm=320)]


def shares(shared):
    return {share.key: share.share_minor for share in shared.shares}


def charges(shared):
    return {share.key: share.charge_minor for share in shared.shares}


def share_boxes(policy=None, load=LOAD, **more):
    more.setdefault("chamber_mm3", 40_000_000)
    return share_firing(cost=COST, placements=load, layers=[], policy=policy or Policy(), **more)


def test_own_box_with_empty_space_to_the_studio():
    """10 of 40 litres taken: the bowl's 4 litres bear 4/40 of 1000, and so on; 30/40 is the studio's."""
    shared = share_boxes()
    assert shares(shared) == {"A2D": 100, "C7K": 25, "E9F": 75, "H4J": 50}
    assert shared.empty_minor == 750
    assert charges(shared) == {"A2D": 100, "C7K": 25, "E9F": 75, "H4J": 0}
    assert shared.by_maker() == {"asta": 100, "bram": 100}
    assert shared.studio_minor == 800


def test_own_box_with_empty_space_to_the_makers():
    """10 litres bear it all: 4/10, 1/10, 3/10, and the studio's own tile 2/10."""
    shared = share_boxes(Policy(empty_space=EmptySpace.MAKERS))
    assert shares(shared) == {"A2D": 400, "C7K": 100, "E9F": 300, "H4J": 200}
    assert (shared.empty, shared.empty_minor, shared.studio_minor) == (0, 0, 200)


def test_shelf_share_with_empty_space_to_the_studio():
    """With 10 mm clearance, of 440 mm of layers (1000 minor units):

    bowl: 210 mm across, 3.1416 × 210² ÷ 4 = 34,636 mm² of 200,000 × 120 mm = 20.7816 mm → 47.23
    mug: 110 × 110 = 12,100 mm² → 7.26 mm → 16.5;  vase: 12,100 → 19.36 mm → 44
    tile: 210 × 110 = 23,100 → 36.96 mm → 84;  empty: 355.6384 mm → 808.269
    """
    policy = Policy(basis=Basis.SHELF_SHARE, clearance_mm=10)
    shared = share_firing(cost=COST, placements=LOAD, layers=LAYERS, policy=policy)
    assert [round(float(share.quota), 2) for share in shared.shares] == [47.23, 16.5, 44, 84]
    assert shares(shared) == {"A2D": 47, "C7K": 17, "E9F": 44, "H4J": 84}
    assert shared.empty_minor == 808


def test_shelf_share_against_the_height_of_the_whole_chamber():
    policy = Policy(basis=Basis.SHELF_SHARE)
    shared = share_firing(cost=COST, placements=[MUG], layers=LAYERS, policy=policy, chamber_height_mm=600)
    assert shared.shares[0].quota == Fraction(1000 * 10_000 * 120, 200_000 * 600)
    assert shares(shared) == {"C7K": 10}


def test_shelf_share_with_empty_space_to_the_makers_sums_too():
    policy = Policy(basis=Basis.SHELF_SHARE, empty_space=EmptySpace.MAKERS, clearance_mm=10)
    shared = share_firing(cost=COST, placements=LOAD, layers=LAYERS, policy=policy)
    assert sum(shares(shared).values()) == 1000
    # 20.7816 : 7.26 : 19.36 : 36.96 of 84.3616
    assert shares(shared) == {"A2D": 246, "C7K": 86, "E9F": 230, "H4J": 438}


def test_a_tall_piece_bears_its_layer_by_shelf_share_only():
    """A plate beside a vase bears the layer that the vase made high; by its own box it does not."""
    plate = Placement("K2N", "asta", 200, 200, 20, layer=2)
    by_box = share_boxes(load=[plate, VASE], policy=Policy(empty_space=EmptySpace.MAKERS))
    by_shelf = share_firing(
        cost=COST,
        placements=[plate, VASE],
        layers=LAYERS,
        policy=Policy(basis=Basis.SHELF_SHARE, empty_space=EmptySpace.MAKERS),
    )
    assert shares(by_box) == {"K2N": 211, "E9F": 789}  # 0.8 : 3.0 litres
    assert shares(by_shelf) == {"K2N": 800, "E9F": 200}  # 40,000 : 10,000 mm²


def test_nested_ware_over_the_kilns_space_shares_in_proportion():
    shared = share_boxes(chamber_mm3=5_000_000)
    assert shares(shared) == {"A2D": 400, "C7K": 100, "E9F": 300, "H4J": 200}
    assert shared.empty_minor == 0


def test_the_studio_takes_the_tie_before_any_maker():
    """1 minor unit between a piece and as much empty space: half each, and the studio pays it."""
    shared = share_firing(cost=1, placements=[MUG], layers=[], policy=Policy(), chamber_mm3=2 * 1_000_000)
    assert (shares(shared), shared.empty_minor) == ({"C7K": 0}, 1)


def test_allowance_is_used_up_in_order_of_the_marks():
    """2 litres: the mug's 1 is free, then 1 of the vase's 3, which pays 75 × 2 ÷ 3 = 50."""
    shared = share_boxes(makers={"bram": Maker(allowance_mm3=litres_to_mm3("2"))})
    assert charges(shared) == {"A2D": 100, "C7K": 0, "E9F": 50, "H4J": 0}
    assert shared.allowance_left_mm3 == {"bram": 0}
    assert shares(shared) == {"A2D": 100, "C7K": 25, "E9F": 75, "H4J": 50}


def test_allowance_not_used_up_is_left():
    shared = share_boxes(makers={"asta": Maker(allowance_mm3=litres_to_mm3("6.5"))})
    assert shared.allowance_left_mm3 == {"asta": 2_500_000}


def test_lost_and_refired_pieces_use_no_allowance():
    lost = Placement("C7K", "bram", 100, 100, 100, lost=True)
    shared = share_boxes(load=[lost, VASE], makers={"bram": Maker(allowance_mm3=1_000_000)})
    assert charges(shared) == {"C7K": 0, "E9F": 50}


@pytest.mark.parametrize(
    ("policy", "lost", "fault", "free"),
    [
        (Policy(), True, False, Free.LOST),
        (Policy(lost_are_free=False), True, False, None),
        (Policy(), False, True, Free.STUDIO_FAULT),
        (Policy(studio_fault_is_free=False), False, True, None),
        (Policy(), False, False, None),
    ],
)
def test_what_is_free(policy, lost, fault, free):
    piece = Placement("C7K", "bram", 100, 100, 100, lost=lost, studio_fault=fault)
    shared = share_boxes(policy, load=[piece])
    assert shared.shares[0].free == free
    assert charges(shared) == {"C7K": 0 if free else 25}
    assert shares(shared) == {"C7K": 25}
    assert shared.charged_minor + shared.studio_minor == 1000


@pytest.mark.parametrize(
    ("share", "covered", "rate", "policy", "charge"),
    [
        (25, 0, 100, Policy(), (25, False)),
        (25, 0, 50, Policy(), (13, False)),  # 12.5, a half goes up
        (25, 0, 150, Policy(), (38, False)),
        (25, 0, 0, Policy(smallest_charge_minor=50), (0, False)),
        (25, 0, 100, Policy(smallest_charge_minor=50), (50, True)),
        (25, 10, 100, Policy(smallest_charge_minor=50), (0, False)),
        (25, 4, 100, Policy(), (15, False)),
        (27, 0, 100, Policy(rounding_step_minor=5), (25, False)),
        (28, 0, 100, Policy(rounding_step_minor=5), (30, False)),
        (2, 0, 100, Policy(rounding_step_minor=5, smallest_charge_minor=10), (10, True)),
        (0, 0, 100, Policy(smallest_charge_minor=50), (50, True)),
    ],
)
def test_charges(share, covered, rate, policy, charge):
    given = {"share_minor": share, "space_mm3": 10, "covered_mm3": covered, "rate_per_mille": rate * 10}
    assert charge_for(**given, policy=policy) == charge


def test_the_studios_own_pieces_may_be_left_out():
    """The tile takes no share: the others bear 8 litres of 40, or all where makers bear what is empty."""
    shared = share_boxes(Policy(studio_pieces_share=False))
    assert shares(shared) == {"A2D": 100, "C7K": 25, "E9F": 75, "H4J": 0}
    assert shared.empty_minor == 800
    shared = share_boxes(Policy(empty_space=EmptySpace.MAKERS, studio_pieces_share=False))
    assert shares(shared) == {"A2D": 500, "C7K": 125, "E9F": 375, "H4J": 0}
    alone = share_boxes(Policy(empty_space=EmptySpace.MAKERS, studio_pieces_share=False), load=[TILE])
    assert (shares(alone), alone.empty_minor) == ({"H4J": 0}, 1000)
    assert [line.line for line in explain(shared=alone, placement=TILE)] == [Line.FREE]


def test_a_rate_may_have_half_percents():
    """1000 ÷ 40 = 25, at 87.5 % 21.875, so 22."""
    shared = share_boxes(makers={"bram": Maker(rate_per_mille=875)})
    assert charges(shared)["C7K"] == 22
    rate = next(line for line in explain(shared=shared, placement=MUG) if line.line == Line.RATE)
    assert (rate.sum, rate.result) == ("25 × 87.5 ÷ 100", "21.875")


def test_an_empty_firing_is_the_studios():
    shared = share_firing(cost=COST, placements=[], layers=[], policy=Policy())
    assert (shared.empty_minor, shared.studio_minor, shared.by_maker()) == (1000, 1000, {})


@pytest.mark.parametrize(("diameter", "area"), [(100, 7854), (94, 6940), (1, 1), (2, 3), (420, 138545)])
def test_rounds(diameter, area):
    """π/4 × d², to the whole mm²: 7853.98, 6939.78, 0.785, 3.1416, 138544.2 (138544.56 with 3.1416)."""
    assert round_mm2(diameter) == area


def test_clearance_widens_by_half_on_every_side():
    assert footprint_mm2(Placement("A2D", "x", 90, 40, 10), clearance_mm=10) == 100 * 50
    assert footprint_mm2(Placement("A2D", "x", 90, 90, 10, round=True), clearance_mm=10) == 7854


class PocketCalculator:
    """Works a sum from left to right with 10 digits, as a cheap calculator does."""

    context = Context(prec=10, rounding=ROUND_HALF_UP)

    def work(self, text):
        numbers = [Decimal(number) for number in re.findall(r"[\d.]+", text)]
        signs = re.findall(r"[×÷+−]", text)
        shown = numbers[0]
        for sign, number in zip(signs, numbers[1:], strict=True):
            shown = {
                "×": self.context.multiply,
                "÷": self.context.divide,
                "+": self.context.add,
                "−": self.context.subtract,
            }[sign](shown, number)
        return shown


#: A whole mm² is rounded; a quota is shown to two places; the rest differs in its last place at most.
MAY_DIFFER = {
    Line.BOX: Decimal(0),
    Line.FOOTPRINT: Decimal("0.5"),
    Line.HEIGHT_SHARE: Decimal("0.0000006"),
    Line.QUOTA: Decimal("0.0055"),
    Line.ALLOWANCE: Decimal("0.0001"),
    Line.RATE: Decimal("0.0001"),
}


def random_firing(random):
    layers = [
        Layer(n, area_mm2=random.randint(60_000, 200_000), height_mm=random.randint(60, 320))
        for n in range(1, random.randint(2, 6))
    ]
    load = []
    for number in range(random.randint(1, 40)):
        round_one = random.random() < 0.6
        width = random.randint(30, 220)
        load.append(
            Placement(
                f"K{number:02d}",
                random.choice(["", "asta", "bram", "cleo"]),
                width,
                width if round_one else random.randint(30, 220),
                random.randint(10, 250),
                layer=random.choice(layers).number,
                round=round_one,
                lost=random.random() < 0.1,
                studio_fault=random.random() < 0.1,
            )
        )
    policy = Policy(
        basis=random.choice(list(Basis)),
        empty_space=random.choice(list(EmptySpace)),
        clearance_mm=random.randint(0, 15),
        smallest_charge_minor=random.choice([0, 0, 20]),
        rounding_step_minor=random.choice([1, 1, 5, 10]),
        studio_pieces_share=random.random() < 0.8,
        lost_are_free=random.random() < 0.5,
        studio_fault_is_free=random.random() < 0.5,
    )
    makers = {
        "asta": Maker(rate_per_mille=random.choice([0, 500, 875, 1000, 1300])),
        "bram": Maker(allowance_mm3=random.randint(0, 8_000_000)),
    }
    shared = share_firing(
        cost=random.randint(0, 9000),
        placements=load,
        layers=layers,
        policy=policy,
        chamber_mm3=random.randint(20_000_000, 200_000_000),
        chamber_height_mm=random.choice([None, 500, 900]),
        makers=makers,
    )
    return shared, load, layers, makers


def test_five_hundred_firings_sum_exactly_and_lose_nobody():
    random = Random(500)
    for _ in range(500):
        shared, load, _, makers = random_firing(random)
        assert sum(shares(shared).values()) + shared.empty_minor == shared.cost_minor
        assert sum(shared.by_maker().values()) + shared.studio_minor == shared.cost_minor
        assert {share.key for share in shared.shares} == {piece.key for piece in load}
        for share in shared.shares:
            assert abs(share.share_minor - share.quota) < 1
            assert share.charge_minor >= 0
            assert type(share.share_minor) is type(share.charge_minor) is int
            assert not (share.free and share.charge_minor)
        used = sum(share.covered_mm3 for share in shared.shares if share.maker == "bram")
        assert used + shared.allowance_left_mm3["bram"] == makers["bram"].allowance_mm3


def test_a_pocket_calculator_agrees_with_every_line():
    random, calculator = Random(77), PocketCalculator()
    worked = 0
    for _ in range(150):
        shared, load, layers, _ = random_firing(random)
        for piece in load:
            lines = explain(shared=shared, placement=piece, layers=layers)
            share = next(share for share in shared.shares if share.key == piece.key)
            for line in lines:
                if line.sum:
                    worked += 1
                    off = abs(calculator.work(line.sum) - Decimal(line.result))
                    assert off <= MAY_DIFFER[line.line], line
            assert Decimal(lines[-1].result) == share.charge_minor or lines[-1].line == Line.WHOLE_UNITS
            if [line.line for line in lines] == [Line.FREE]:
                assert (share.share_minor, share.maker) == (0, "")  # the studio's own, left out
                continue
            whole_units = next(line for line in lines if line.line == Line.WHOLE_UNITS)
            assert int(whole_units.result) == share.share_minor
    assert worked > 4000


def test_the_lines_of_one_piece():
    shared = share_boxes(
        Policy(smallest_charge_minor=30), makers={"bram": Maker(rate_per_mille=500, allowance_mm3=500_000)}
    )
    lines = explain(shared=shared, placement=MUG)
    assert [(line.line, line.sum, line.result) for line in lines] == [
        (Line.BOX, "100 × 100 × 100 ÷ 1000000", "1"),
        (Line.QUOTA, "1000 × 1 ÷ 40", "25"),
        (Line.WHOLE_UNITS, "", "25"),
        (Line.ALLOWANCE, "25 × 0.5 ÷ 1", "12.5"),
        (Line.RATE, "12.5 × 50 ÷ 100", "6.25"),
        (Line.STEP, "", "6"),
        (Line.SMALLEST, "", "30"),
    ]


def test_the_rounding_of_a_share_is_put_in_words():
    """1000 over 3, 3 and 1 litres: 428.57, 428.57, 142.86; two left over go to .86 and, by mark, to A2D."""
    load = [
        Placement(mark, "asta", 100, 100, height)
        for mark, height in (("A2D", 300), ("C7K", 300), ("E9F", 100))
    ]
    shared = share_boxes(Policy(empty_space=EmptySpace.MAKERS), load=load)
    notes = {
        piece.key: next(
            line.note for line in explain(shared=shared, placement=piece) if line.line == Line.WHOLE_UNITS
        )
        for piece in load
    }
    assert shares(shared) == {"A2D": 429, "C7K": 428, "E9F": 143}
    assert notes["A2D"].startswith("428.57 is rounded up")
    assert notes["C7K"].startswith("428.57 is rounded down")
    assert notes["E9F"].startswith("142.86 is rounded up")
    whole = share_boxes()
    assert explain(shared=whole, placement=MUG)[2].note == "A whole number already."


@pytest.mark.parametrize(
    "make",
    [
        lambda: Placement("A2D", "asta", 0, 10, 10),
        lambda: Placement("A2D", "asta", 10.5, 10, 10),
        lambda: Placement("A2D", "asta", 10, -1, 10),
        lambda: Placement("", "asta", 10, 10, 10),
        lambda: Placement("A2D", "asta", 10, 20, 10, round=True),
        lambda: Layer(1, area_mm2=0, height_mm=10),
        lambda: Policy(rounding_step_minor=0),
        lambda: Policy(smallest_charge_minor=-1),
        lambda: Maker(rate_per_mille=-1),
        lambda: FiringCost(energy_minor=1.5),
        lambda: FiringCost(wear_minor=-1),
        lambda: litres_to_mm3("two"),
        lambda: litres_to_mm3("-1"),
        lambda: share_boxes(load=[MUG, MUG]),
        lambda: share_boxes(chamber_mm3=None),
        lambda: share_boxes(Policy(basis=Basis.SHELF_SHARE)),
        lambda: share_firing(cost=-1, placements=LOAD, layers=[], policy=Policy(), chamber_mm3=1),
        lambda: share_firing(
            cost=1, placements=[MUG], layers=LAYERS + LAYERS, policy=Policy(basis=Basis.SHELF_SHARE)
        ),
        lambda: explain(shared=share_boxes(load=[MUG]), placement=VASE),
    ],
)
def test_nonsense_is_refused(make):
    with pytest.raises(DomainError):
        make()
