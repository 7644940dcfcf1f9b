"""The facts a firing was shared by, kept as plain figures so that every sum can be worked again.

What is stored needs no other row: a kiln that is measured anew, or a piece that changes hands, changes no old
sum. Whole millimetres, thousandths and minor units; marks are the keys.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from studio.domain.sharing import Share, SharedFiring, share_firing
from studio.domain.sharing_rules import Basis, EmptySpace, Layer, Maker, Placement, Policy
from studio.domain.sharing_sums import Sum, explain
from studio.models import SharingPolicy


@dataclass(frozen=True, slots=True)
class Facts:
    """A load as it is shared. ``places`` by the primary key of their `models.Placement`; ``kinds`` are the
    kinds of maker by the makers' keys, for the rates of another policy."""

    policy: Policy
    layers: tuple[Layer, ...]
    places: dict[int, Placement]
    makers: dict[str, Maker]
    kinds: dict[str, str]
    chamber_mm3: int
    chamber_height_mm: int

    def share(self, cost_minor: int) -> SharedFiring:
        """The cost over these facts."""
        return share_firing(
            cost=cost_minor,
            placements=list(self.places.values()),
            layers=self.layers,
            policy=self.policy,
            chamber_mm3=self.chamber_mm3,
            chamber_height_mm=self.chamber_height_mm,
            makers=self.makers,
        )

    def sums(self, shared: SharedFiring, place: int, share: Share | None = None) -> list[Sum]:
        """The sums of one place, for a pocket calculator; ``share`` is its own, when at hand."""
        return explain(shared=shared, placement=self.places[place], layers=self.layers, share=share)

    def under(self, rules: SharingPolicy, allowance_left: dict[str, int] | None = None) -> Facts:
        """The same load under other rules; ``allowance_left`` in mm³ replaces what was left then."""
        left = allowance_left or {}
        makers = {
            key: Maker(rules.rate_per_mille(self.kinds[key]), left.get(key, maker.allowance_mm3))
            for key, maker in self.makers.items()
        }
        return replace(self, policy=domain_policy(rules, self.policy.clearance_mm), makers=makers)

    def as_stored(self) -> dict[str, object]:
        """JSON of all but the policy, which stands beside it."""
        return {
            "layers": [[layer.number, layer.area_mm2, layer.height_mm] for layer in self.layers],
            "places": [
                {
                    "place": key,
                    "mark": place.key,
                    "maker": place.maker,
                    "size": [place.width_mm, place.depth_mm, place.height_mm],
                    "layer": place.layer,
                    "round": place.round,
                    "lost": place.lost,
                    "fault": place.studio_fault,
                }
                for key, place in self.places.items()
            ],
            "makers": {
                key: [maker.rate_per_mille, maker.allowance_mm3, self.kinds[key]]
                for key, maker in self.makers.items()
            },
            "chamber": [self.chamber_mm3, self.chamber_height_mm],
        }


def facts_from(stored: dict[str, object], policy: dict[str, object]) -> Facts | None:
    """Read back what was stored; None for a sharing that has no facts beside it."""
    if not stored:
        return None
    return Facts(
        policy=Policy(
            basis=Basis(policy["basis"]),
            empty_space=EmptySpace(policy["empty_space"]),
            clearance_mm=policy["clearance_mm"],
            smallest_charge_minor=policy["smallest_charge_minor"],
            rounding_step_minor=policy["rounding_step_minor"],
            lost_are_free=policy["lost_pieces_free"],
            studio_fault_is_free=policy["refires_free"],
            studio_pieces_share=policy["own_pieces_share"],
        ),
        layers=tuple(Layer(*row) for row in stored["layers"]),
        places={
            row["place"]: Placement(
                row["mark"],
                row["maker"],
                *row["size"],
                layer=row["layer"],
                round=row["round"],
                lost=row["lost"],
                studio_fault=row["fault"],
            )
            for row in stored["places"]
        },
        makers={key: Maker(rate, allowance) for key, (rate, allowance, _) in stored["makers"].items()},
        kinds={key: kind for key, (_, _, kind) in stored["makers"].items()},
        chamber_mm3=stored["chamber"][0],
        chamber_height_mm=stored["chamber"][1],
    )


def domain_policy(rules: SharingPolicy, clearance_mm: int) -> Policy:
    return Policy(
        basis=Basis(rules.basis),
        empty_space=EmptySpace(rules.empty_space),
        clearance_mm=clearance_mm,
        smallest_charge_minor=rules.smallest_charge_minor,
        rounding_step_minor=rules.rounding_step_minor,
        lost_are_free=rules.lost_pieces_free,
        studio_fault_is_free=rules.refires_free,
        studio_pieces_share=rules.own_pieces_share,
    )


def policy_as_stored(policy: Policy) -> dict[str, object]:
    """The rules as they stood."""
    return {
        "basis": policy.basis.value,
        "empty_space": policy.empty_space.value,
        "clearance_mm": policy.clearance_mm,
        "smallest_charge_minor": policy.smallest_charge_minor,
        "rounding_step_minor": policy.rounding_step_minor,
        "lost_pieces_free": policy.lost_are_free,
        "refires_free": policy.studio_fault_is_free,
        "own_pieces_share": policy.studio_pieces_share,
    }


def allowance_used(shared: SharedFiring) -> dict[str, int]:
    """mm³ of each allowance that this sharing draws on, by the makers' keys."""
    used: dict[str, int] = {}
    for share in shared.shares:
        if share.covered_mm3:
            used[share.maker] = used.get(share.maker, 0) + share.covered_mm3
    return used
