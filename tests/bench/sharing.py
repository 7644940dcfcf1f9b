"""Sharing: against plain Decimal arithmetic and the apportionment package; 10,000 placements."""

from __future__ import annotations

from decimal import Decimal, localcontext
from random import Random

from apportionment import methods

from studio.domain.sharing import apportion, share_firing
from studio.domain.sharing_rules import Basis, Layer, Placement, Policy

from .row import Row, in_words, seconds


def _decimal(total: int, weights: list[int]) -> list[int]:
    with localcontext() as context:
        context.prec = 50
        everything = Decimal(sum(weights))
        quotas = [Decimal(total) * weight / everything for weight in weights]
        shares = [int(quota) for quota in quotas]
        rest = [round(quota - share, 40) for quota, share in zip(quotas, shares, strict=True)]
        for place in sorted(range(len(rest)), key=lambda i: (-rest[i], i))[: total - sum(shares)]:
            shares[place] += 1
        return shares


def _firing(count: int) -> tuple[list[Placement], list[Layer]]:
    random = Random(count)
    layers = [Layer(number, area_mm2=150_000 + number, height_mm=100 + number) for number in range(1, 8)]
    placements = []
    for number in range(count):
        width, height = random.randint(40, 200), random.randint(20, 200)
        placements.append(
            Placement(
                f"K{number:05d}", f"m{number % 300}", width, width, height, layer=number % 7 + 1, round=True
            )
        )
    return placements, layers


def _share(count: int) -> float:
    placements, layers = _firing(count)
    policy = Policy(basis=Basis.SHELF_SHARE, clearance_mm=6)
    return seconds(
        lambda: share_firing(cost=123_456, placements=placements, layers=layers, policy=policy), runs=5
    )


def rows() -> list[Row]:
    random = Random(40_000)
    cases = [(random.randint(0, 10**6), [random.randint(1, 10**6) for _ in range(40)]) for _ in range(1000)]
    off = sum(
        a != b
        for total, weights in cases
        for a, b in zip(apportion(total=total, weights=weights), _decimal(total, weights), strict=True)
    )
    ours = seconds(lambda: [apportion(total=total, weights=weights) for total, weights in cases])
    theirs = seconds(lambda: [_decimal(total, weights) for total, weights in cases])
    package = seconds(
        lambda: [
            methods.largest_remainder(weights, total, fractions=True, verbose=False)
            for total, weights in cases[:50]
        ],
        runs=3,
    )
    few, many = _share(2000), _share(10_000)
    return [
        Row(
            "sharing",
            "40,000 shares, minor units off",
            str(off),
            "Decimal, 50 digits",
            goal="0",
            met=off == 0,
        ),
        Row("sharing", "1,000 splits of 40", in_words(ours), f"Decimal: {in_words(theirs)}", ours / theirs),
        Row(
            "sharing",
            "a split of 40",
            in_words(ours / 1000),
            f"apportionment: {in_words(package / 50)}",
            ours / 1000 / (package / 50),
        ),
        Row(
            "sharing",
            "a firing of 10,000 pieces",
            in_words(many),
            f"2,000: {in_words(few)}",
            many / few,
            "under 2 s; 5 is linear",
            many < 2 and many / few < 10,
        ),
    ]
