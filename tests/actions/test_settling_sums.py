"""Whatever was in the kiln, what is posted sums to the cost; and no float comes near it."""

from __future__ import annotations

import ast
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from studio.actions import settling
from studio.domain.stages import Stage
from studio.models import Charge, CostLine, Event, Firing, Person, Piece, Placement, UnloadAnswer
from studio.queries.money import balance
from tests import factories as make

pytestmark = pytest.mark.django_db


def random_firing(random: Random, makers: list[Person], kiln: object) -> Firing:
    """Rows straight into the tables: what matters here is the sums."""
    firing = make.firing(Firing.State.UNLOADING, pieces=0, layers=3, kiln=kiln)
    layers = list(firing.layers.all())
    for _ in range(random.randint(1, 9)):
        width, is_round = random.randint(20, 300), random.random() < 0.6
        piece = make.piece(
            stage=Stage.GLAZED,
            maker=random.choice(makers),
            is_round=is_round,
            mark=f"{Piece.objects.count():04d}",
        )
        place = Placement.objects.create(
            firing=firing,
            layer=random.choice(layers),
            piece=piece,
            is_round=is_round,
            width_mm=width,
            depth_mm=width if is_round else random.randint(20, 300),
            height_mm=random.randint(10, 400),
            stand_mm=random.choice([0, 0, 12]),
            refire_free=random.random() < 0.05,
            added_at=make.NOW,
        )
        event = Event.objects.create(
            piece=piece,
            kind="unloaded",
            at=make.NOW,
            recorded_at=make.NOW,
            to_stage=Stage.FIRED,
            firing=firing,
            client_id=make.client_id(),
        )
        outcome = random.choice(["sound", "sound", "sound", "lost"])
        UnloadAnswer.objects.create(
            placement=place, outcome=outcome, at=make.NOW, event=event, client_id=make.client_id()
        )
    return firing


@pytest.mark.parametrize("basis", ["own-box", "shelf-share"])
@pytest.mark.parametrize("count", [25, pytest.param(200, marks=pytest.mark.full)])
def test_posted_rows_sum_to_the_cost(basis: str, count: int) -> None:
    random = Random(f"{basis} {count}")
    ruth = make.guardian()
    makers = [make.student(), make.student("Tobias"), make.young_person(guardian=ruth)]
    kiln = make.kiln()
    for _ in range(count):
        make.studio(
            share_basis=basis,
            empty_space=random.choice(["studio", "makers"]),
            lost_pieces_free=random.random() < 0.5,
            smallest_charge_minor=random.choice([0, 0, 35]),
            tariff_minor_per_kwh=f"{random.randint(0, 60000) / 1000:.3f}",
        )
        firing = random_firing(random, makers, kiln)
        settlement = settling.close_firing(
            firing=firing,
            by=firing.made_by,
            client_id=make.client_id(),
            now=make.NOW,
            energy_kwh=f"{random.randint(0, 1200) / 10:.1f}",
            labour_minor=random.choice([0, 999]),
        )
        shares = list(settlement.shares.all())
        lines = list(settlement.cost_lines.all())
        assert sum(share.amount_minor for share in shares) == settlement.cost_minor
        assert sum(line.amount_minor for line in lines) == settlement.cost_minor
        assert all(type(row.amount_minor) is int and row.amount_minor >= 0 for row in [*shares, *lines])
        assert len([share for share in shares if share.placement_id]) == firing.placements.count()
        # No share is off its exact part by a whole unit or more (Hamilton's method keeps quota).
        whole = sum(share.volume_mm3 for share in shares)
        for share in shares:
            exact = Fraction(settlement.cost_minor * share.volume_mm3, whole)
            assert abs(share.amount_minor - exact) < 2
    # Every charge has its share, and the accounts hold the charges and nothing else.
    charged = sum(Charge.objects.values_list("amount_minor", flat=True))
    assert charged == sum(balance(person) for person in Person.objects.all()) > 0
    assert not CostLine.objects.filter(amount_minor__lt=0).exists()


def test_no_float_comes_near_the_money() -> None:
    """No float literal, no float(), no floating column in what reckons with money."""
    root = Path(settling.__file__).resolve().parents[1]
    files = [
        "actions/money.py",
        "actions/corrections.py",
        "actions/settling.py",
        "actions/sharing_policies.py",
        "forms/sharing.py",
        "models/sharing.py",
        "queries/firing_pay.py",
        "queries/money.py",
        "queries/receipts.py",
        "queries/settled.py",
        "queries/settling.py",
        "queries/settling_cost.py",
        "queries/settling_facts.py",
        "queries/sharing_choices.py",
        "queries/sharing_policies.py",
        "models/money.py",
        "domain/sharing.py",
        "domain/sharing_rules.py",
        "domain/sharing_sums.py",
    ]
    for name in files:
        for node in ast.walk(ast.parse((root / name).read_text())):
            floating = isinstance(node, ast.Constant) and isinstance(node.value, float)
            called = isinstance(node, ast.Call) and getattr(
                node.func, "id", getattr(node.func, "attr", "")
            ) in {
                "float",
                "FloatField",
            }
            assert not floating, f"{name}:{node.lineno} holds a float"
            assert not called, f"{name}:{node.lineno} makes a float"
