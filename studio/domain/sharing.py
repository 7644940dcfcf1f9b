"""Sharing what a firing cost: whole minor units that sum exactly, recheckable with a pocket calculator.

Two steps, kept apart:

1. **Shares** divide the whole cost over the pieces (and the empty space, if the studio bears it) by the kiln
   space each takes. They sum to the cost exactly.
2. **Charges** are what makers then pay for their shares: less the allowance of their course, at their rate,
   at least the smallest charge. The studio bears the rest, so charges and the studio's part sum to the cost
   too.

Money is integers of the currency's minor unit, fractions are exact inside, floats are refused.
Source of the rounding: Hamilton's method of largest remainders (Balinski and Young, "Fair Representation",
1982). It may give someone a unit less when the total grows (the Alabama paradox).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import lcm

from .problems import DomainError
from .say import say
from .sharing_rules import (
    EMPTY_SPACE,
    Basis,
    EmptySpace,
    FiringCost,
    Free,
    Layer,
    Maker,
    Placement,
    Policy,
    footprint_mm2,
)

Weight = int | Fraction | Decimal


def apportion(*, total: int, weights: Sequence[Weight], keys: Sequence[object] | None = None) -> list[int]:
    """Whole units in proportion to the weights, summing exactly to ``total`` (largest remainder).

    Each quota total × weight ÷ sum of weights is rounded down; the units left over go one each to the largest
    remainders, ties to the smaller key (to the earlier place without keys). So every share is its quota
    rounded down or up, and a zero weight gets 0. Weights are whole numbers, fractions or decimals. Raises
    `DomainError` for a negative total, no weights, a negative weight, weights that are all zero, floats, or
    keys that are doubled or too few. Source: Balinski and Young, "Fair Representation" (1982), Hamilton's
    method.
    """
    if type(total) is not int or total < 0:
        raise DomainError(say("The total to share must be a whole number, 0 or more."), code="total")
    exact = [_exact(weight) for weight in weights]
    if not exact:
        raise DomainError(say("There is nothing to share it over."), code="no-weights")
    if any(weight < 0 for weight in exact):
        raise DomainError(say("A share can't have a negative weight."), code="negative-weight")
    # Over one common denominator everything below is whole numbers.
    scale = lcm(*(weight.denominator for weight in exact))
    whole = [weight.numerator * (scale // weight.denominator) for weight in exact]
    everything = sum(whole)
    if everything == 0:
        raise DomainError(say("All weights are zero: there is nothing to share by."), code="all-zero")
    keys = range(len(whole)) if keys is None else keys
    if len(keys) != len(whole):
        raise DomainError(say("Each weight needs its own key."), code="keys")
    if len(set(keys)) != len(whole):
        raise DomainError(say("Two shares have the same key, so a tie could not be settled."), code="keys")

    shares, remainders = [], []
    for weight in whole:
        share, remainder = divmod(total * weight, everything)
        shares.append(share)
        remainders.append(remainder)
    left_over = total - sum(shares)
    try:
        order = sorted(range(len(whole)), key=lambda place: (-remainders[place], keys[place]))
    except TypeError:
        raise DomainError(say("The keys can't be put in order."), code="keys") from None
    for place in order[:left_over]:
        shares[place] += 1
    return shares


@dataclass(frozen=True, slots=True)
class Share:
    """One piece's part of the cost of a firing, and what its maker is charged for it.

    ``weight`` is the space taken in the unit of the basis: mm³ (own box) or mm of the kiln's height (shelf
    share). ``space_mm3`` is the same space in mm³, for the allowance. ``quota`` is the exact part of the
    cost in minor units, ``share_minor`` the whole one; ``extra_unit`` says that it was rounded up. The
    allowance covered ``covered_mm3``. ``free`` says why nothing is charged, if so. The studio bears
    ``share_minor - charge_minor``.
    """

    key: str
    maker: str
    weight: Fraction
    space_mm3: int
    quota: Fraction
    share_minor: int
    charge_minor: int
    covered_mm3: int = 0
    rate_per_mille: int = 1000
    at_smallest_charge: bool = False
    free: Free | None = None

    @property
    def extra_unit(self) -> bool:
        return self.share_minor > self.quota

    @property
    def studio_minor(self) -> int:
        """What the studio bears of this share; negative where the charge is more than the share."""
        return self.share_minor - self.charge_minor


@dataclass(frozen=True, slots=True)
class SharedFiring:
    """A firing's cost, shared. ``shares`` are in order of their keys.

    ``whole`` is the space that the cost was divided by, in the unit of the basis; ``empty`` the part of it
    that no piece takes, and ``empty_minor`` what the studio bears for that (0 where the makers bear it).
    ``allowance_left_mm3`` says what is left of each maker's allowance.
    """

    policy: Policy
    cost_minor: int
    whole: Fraction
    empty: Fraction
    empty_minor: int
    shares: tuple[Share, ...]
    allowance_left_mm3: Mapping[str, int]

    @property
    def charged_minor(self) -> int:
        return sum(share.charge_minor for share in self.shares)

    @property
    def studio_minor(self) -> int:
        """What the studio bears in all; charges and this sum to the cost exactly. Negative is a surplus."""
        return self.cost_minor - self.charged_minor

    def by_maker(self) -> dict[str, int]:
        """Charge in minor units per maker, in order of the makers' keys; the studio itself is left out."""
        sums: dict[str, int] = {}
        for share in sorted(self.shares, key=lambda share: share.maker):
            if share.maker:
                sums[share.maker] = sums.get(share.maker, 0) + share.charge_minor
        return sums


def share_firing(
    *,
    cost: FiringCost | int,
    placements: Sequence[Placement],
    layers: Sequence[Layer],
    policy: Policy,
    chamber_mm3: int | None = None,
    chamber_height_mm: int | None = None,
    makers: Mapping[str, Maker] | None = None,
) -> SharedFiring:
    """Share the cost of a firing over the pieces that were in it.

    ``layers`` are needed for the basis shelf share only. The kiln's usable space (``chamber_mm3`` for own
    box, ``chamber_height_mm`` for shelf share, where it defaults to the layers' heights together) is what
    empty space is measured against, where the studio bears it. Ware that is nested or boxed may add up to
    more than the kiln holds: then nothing is empty and the pieces share in proportion. Makers not in
    ``makers`` pay the full rate and have no allowance. Allowances are used up in order of the marks. Raises
    `DomainError`.
    """
    total = cost.total_minor if isinstance(cost, FiringCost) else cost
    ordered = sorted(placements, key=lambda placement: placement.key)
    if len({placement.key for placement in ordered}) != len(ordered):
        raise DomainError(say("A piece was in this firing twice. Check the marks on the load."), code="keys")
    by_number = {layer.number: layer for layer in layers}
    if len(by_number) != len(layers):
        raise DomainError(say("Two layers have the same number."), code="layers")
    spaces = [_space(placement, by_number, policy) for placement in ordered]
    if not policy.studio_pieces_share:
        spaces = [
            (weight if placement.maker else Fraction(0), space)
            for placement, (weight, space) in zip(ordered, spaces, strict=True)
        ]
    weights = [weight for weight, _ in spaces]
    taken = sum(weights, Fraction(0))

    whole = taken
    if not taken:
        whole = Fraction(1)  # all of it is empty
    elif policy.empty_space == EmptySpace.STUDIO:
        whole = max(taken, _capacity(policy, layers, chamber_mm3, chamber_height_mm))
    empty = whole - taken
    units = apportion(
        total=total,
        weights=[*weights, empty],
        keys=[*(placement.key for placement in ordered), EMPTY_SPACE],
    )

    makers = makers or {}
    left = {key: maker.allowance_mm3 for key, maker in makers.items()}
    shares = []
    for placement, (weight, space_mm3), share_minor in zip(ordered, spaces, units[:-1], strict=True):
        maker = makers.get(placement.maker, Maker())
        free = policy.free(placement)
        covered, smallest, charge = 0, False, 0
        if free is None:
            covered = min(left.get(placement.maker, 0), space_mm3)
            if covered:
                left[placement.maker] -= covered
            charge, smallest = charge_for(
                share_minor=share_minor,
                space_mm3=space_mm3,
                covered_mm3=covered,
                rate_per_mille=maker.rate_per_mille,
                policy=policy,
            )
        shares.append(
            Share(
                key=placement.key,
                maker=placement.maker,
                weight=weight,
                space_mm3=space_mm3,
                quota=total * weight / whole,
                share_minor=share_minor,
                charge_minor=charge,
                covered_mm3=covered,
                rate_per_mille=maker.rate_per_mille,
                at_smallest_charge=smallest,
                free=free,
            )
        )
    return SharedFiring(
        policy=policy,
        cost_minor=total,
        whole=whole,
        empty=empty,
        empty_minor=units[-1],
        shares=tuple(shares),
        allowance_left_mm3=left,
    )


def charge_for(
    *, share_minor: int, space_mm3: int, covered_mm3: int, rate_per_mille: int, policy: Policy
) -> tuple[int, bool]:
    """What is charged for a share, in minor units, and whether that is the smallest charge.

    In this order: the part that the allowance does not cover, at the maker's rate, rounded (half up) to the
    studio's step; and at least the smallest charge, unless allowance or rate leave nothing to charge.
    """
    if covered_mm3 >= space_mm3 or rate_per_mille == 0:
        return 0, False
    exact = Fraction(share_minor * (space_mm3 - covered_mm3) * rate_per_mille, space_mm3 * 1000)
    charge = round_half_up(exact / policy.rounding_step_minor) * policy.rounding_step_minor
    if charge < policy.smallest_charge_minor:
        return policy.smallest_charge_minor, True
    return charge, False


def round_half_up(amount: Fraction) -> int:
    """The nearest whole number; a half goes up. For amounts of 0 and more."""
    return (2 * amount.numerator + amount.denominator) // (2 * amount.denominator)


def _exact(weight: Weight) -> Fraction:
    if isinstance(weight, bool | float):
        raise DomainError(
            say("Weights must be whole numbers, fractions or decimals; floats lose pennies."), code="float"
        )
    try:
        return Fraction(weight)
    except (TypeError, ValueError, OverflowError):
        raise DomainError(say("A weight is not a number."), code="weight") from None


def _space(placement: Placement, layers: Mapping[int, Layer], policy: Policy) -> tuple[Fraction, int]:
    """Weight in the unit of the basis, and the space in mm³."""
    if policy.basis == Basis.OWN_BOX:
        box = placement.width_mm * placement.depth_mm * placement.height_mm
        return Fraction(box), box
    layer = layers.get(placement.layer)
    if layer is None:
        raise DomainError(
            say(
                "{key} is on layer {layer}, which this load does not have.",
                key=placement.key,
                layer=placement.layer,
            ),
            code="layers",
        )
    area = footprint_mm2(placement, clearance_mm=policy.clearance_mm)
    return Fraction(area * layer.height_mm, layer.area_mm2), area * layer.height_mm


def _capacity(
    policy: Policy, layers: Sequence[Layer], chamber_mm3: int | None, chamber_height_mm: int | None
) -> Fraction:
    if policy.basis == Basis.SHELF_SHARE:
        heights = sum(layer.height_mm for layer in layers)
        return Fraction(max(heights, chamber_height_mm or 0))
    if not chamber_mm3 or chamber_mm3 < 0:
        raise DomainError(
            say(
                "To tell the empty space, the kiln's inside measures are needed. Enter them on the "
                "kiln's page."
            ),
            code="chamber",
        )
    return Fraction(chamber_mm3)
