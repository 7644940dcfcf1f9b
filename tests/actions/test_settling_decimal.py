"""Posted shares and charges, row by row, against a second computation in Decimal that knows nothing of ours.

It is written from the rules alone (sharing a kiln by room taken: common practice, no source) and from
Hamilton's method of largest remainders (Balinski and Young, "Fair Representation", 1982): 60 digits, no
fractions, no code of the studio's.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal, localcontext
from random import Random

import pytest

from studio.actions import settling
from studio.domain.stages import Stage
from studio.models import (
    Charge,
    Event,
    Firing,
    FiringShare,
    Kiln,
    Layer,
    Person,
    Piece,
    Placement,
    UnloadAnswer,
)
from tests import factories as make

pytestmark = pytest.mark.django_db
#: What a pocket calculator's π comes to.
PI = Decimal("3.1416")
CLEARANCE_MM = 5


def area_of(width: int, depth: int, is_round: bool) -> Decimal:
    """mm² on the shelf; a round one to the whole mm²."""
    if not is_round:
        return Decimal(width) * depth
    return (PI * width * width / 4).quantize(Decimal(1), rounding=ROUND_HALF_UP)


def expected(
    firing: Firing, cost: int, rules: dict[str, object], lost: set[int]
) -> dict[int | None, tuple[int, int]]:
    """Placement -> (share, charge); None -> what empty space bears."""
    kiln, layers = firing.kiln, list(firing.layers.order_by("number"))
    usable = kiln.height_mm - kiln.floor_gap_mm - kiln.lid_gap_mm
    heights = {layer.number: layer.prop_mm + kiln.shelf_thickness_mm for layer in layers[:-1]}
    heights[layers[-1].number] = usable - sum(heights.values())
    shelf = area_of(kiln.shelf_width_mm, kiln.shelf_depth_mm, True)
    weights, marks = {}, {}
    for place in firing.placements.select_related("piece", "layer"):
        width, depth = place.width_mm + place.stand_mm, place.depth_mm + place.stand_mm
        marks[place.pk] = place.piece.mark
        if rules["basis"] == "own-box":
            weights[place.pk] = Decimal(width) * depth * (place.height_mm + place.stand_mm)
        else:
            area = area_of(width + CLEARANCE_MM, depth + CLEARANCE_MM, place.is_round)
            weights[place.pk] = area * heights[place.layer.number] / shelf
    taken = sum(weights.values())
    capacity = shelf * usable if rules["basis"] == "own-box" else Decimal(usable)
    whole = max(taken, capacity) if rules["empty_space"] == "studio" else taken
    weights[None], marks[None] = whole - taken, ""
    shares, rest = {}, {}
    for key, weight in weights.items():
        exact = cost * weight / whole
        shares[key] = int(exact)
        # Weights of boxes are whole, so equal remainders differ by rounding in the 50th digit alone.
        rest[key] = (exact - shares[key]).quantize(Decimal(1).scaleb(-40))
    for key in sorted(weights, key=lambda key: (-rest[key], marks[key]))[: cost - sum(shares.values())]:
        shares[key] += 1
    found = {None: (shares.pop(None), 0)}
    for place in firing.placements.select_related("piece__maker"):
        found[place.pk] = (shares[place.pk], charge_of(place, shares[place.pk], rules, place.pk in lost))
    return found


def charge_of(place: Placement, share: int, rules: dict[str, object], lost: bool) -> int:
    maker = place.piece.maker
    if maker is None or (lost and rules["lost_pieces_free"]) or place.refire_free:
        return 0
    rate = rules["rate_young_per_mille" if maker.guardian_id else "rate_guest_per_mille"]
    if rate == 0:
        return 0
    step = rules["rounding_step_minor"]
    steps = (Decimal(share) * rate / 1000 / step).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    return max(int(steps) * step, rules["smallest_charge_minor"])


def filled(random: Random, kiln: Kiln, pots: list[Piece], maud: Person) -> tuple[Firing, set[int]]:
    """A firing of these pieces, answered, straight into the tables: what matters are the sums."""
    firing = make.firing(Firing.State.UNLOADING, pieces=0, layers=3, kiln=kiln, by=maud)
    layers: list[Layer] = list(firing.layers.all())
    places = Placement.objects.bulk_create(
        Placement(
            firing=firing,
            layer=random.choice(layers),
            piece=pot,
            is_round=is_round,
            width_mm=width,
            depth_mm=width if is_round else random.randint(20, 150),
            height_mm=random.randint(10, 150),
            stand_mm=random.choice([0, 0, 12]),
            refire_free=random.random() < 0.05,
            added_at=make.NOW,
        )
        for pot in pots
        for is_round, width in [(random.random() < 0.6, random.randint(20, 150))]
    )
    events = Event.objects.bulk_create(
        Event(
            piece=pot,
            kind="unloaded",
            at=make.NOW,
            recorded_at=make.NOW,
            to_stage=Stage.FIRED,
            firing=firing,
            client_id=make.client_id(),
        )
        for pot in pots
    )
    lost = {place.pk for place in places if random.random() < 0.1}
    UnloadAnswer.objects.bulk_create(
        UnloadAnswer(
            code=f"{firing.number}-{number}",
            placement=place,
            outcome="lost" if place.pk in lost else "sound",
            at=make.NOW,
            event=event,
            client_id=make.client_id(),
        )
        for number, (place, event) in enumerate(zip(places, events, strict=True))
    )
    return firing, lost


@pytest.mark.parametrize("firings", [30, pytest.param(800, marks=pytest.mark.full)])
def test_every_posted_row_is_what_decimal_says(firings: int) -> None:
    """Fifty pieces a firing: 1,500 shares, 40,000 at full size. No minor unit is off, each firing sums."""
    random = Random(firings)
    maud, kiln = make.tutor(), make.kiln()
    makers = [make.student(), make.student("Tobias"), make.young_person()]
    pots = [
        make.piece(stage=Stage.FIRED, studios_own=number % 12 == 0, maker=makers[number % 3])
        for number in range(50)
    ]
    checked = 0
    for _ in range(firings):
        rules = {
            "basis": random.choice(["own-box", "shelf-share"]),
            "empty_space": random.choice(["studio", "makers"]),
            "lost_pieces_free": random.random() < 0.5,
            "smallest_charge_minor": random.choice([0, 0, 35]),
            "rounding_step_minor": random.choice([1, 1, 5]),
            "rate_young_per_mille": random.choice([0, 500, 1000]),
            "rate_guest_per_mille": random.choice([875, 1000, 1250]),
        }
        make.policy(**rules)
        make.tariff(f"{random.randint(1, 60000) / 1000:.3f}")
        firing, lost = filled(random, kiln, pots, maud)
        settlement = settling.close_firing(
            firing=firing,
            by=maud,
            client_id=make.client_id(),
            now=make.NOW,
            energy_kwh=f"{random.randint(0, 1200) / 10:.1f}",
            labour_minor=random.choice([0, 999]),
        )
        with localcontext() as exact:
            exact.prec = 60
            wanted = expected(firing, settlement.cost_minor, rules, lost)
        rows = list(FiringShare.objects.filter(settlement=settlement))
        posted = {row.placement_id: row.amount_minor for row in rows}
        charged = Charge.objects.filter(share__settlement=settlement)
        charges = dict(charged.values_list("share__placement", "amount_minor"))
        assert sum(posted.values()) == settlement.cost_minor
        assert {key: (posted.get(key, 0), charges.get(key, 0)) for key in wanted} == wanted
        checked += len(rows)
    assert checked >= firings * 50
