"""What a firing cost and whose share is how much: worked out from its load, nothing written.

The page shows this before the firing is closed, and closing writes down the same. Whole minor units and exact
fractions throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from studio.domain.say import later, say
from studio.domain.sharing import SharedFiring, round_half_up
from studio.domain.sharing_rules import Basis, Free, Layer, Maker, litres_to_mm3, round_mm2
from studio.domain.sharing_rules import Placement as SharedPlace
from studio.domain.sharing_sums import Sum
from studio.domain.stages import FiringKind
from studio.models import (
    Course,
    Firing,
    Kiln,
    Person,
    Placement,
    Settlement,
    SharingPolicy,
    Studio,
    UnloadAnswer,
)

from .loads import clearances_for
from .money import account_holder
from .notices import studio_day
from .settling_cost import DraftLine, cost_lines
from .settling_facts import Facts, allowance_used, domain_policy, policy_as_stored
from .sharing_policies import kinds_of, policy_of

_WORDS_LONGEST = 300

FREE_WORDS = {
    Free.STUDIO_PIECE: later("The studio's own, so the studio bears it."),
    Free.LOST: later("Lost, so nothing is charged."),
    Free.STUDIO_FAULT: later("Refired at the studio's cost."),
}


@dataclass(frozen=True, slots=True)
class DraftShare:
    """One place's share. ``payer`` is None where the studio bears it; ``charge_minor`` is what is charged."""

    placement: Placement
    payer: Person | None
    volume_mm3: int
    amount_minor: int
    charge_minor: int
    words: str
    sums: tuple[Sum, ...]


@dataclass(frozen=True, slots=True)
class Draft:
    """A firing's cost, shared. Shares and ``empty_minor`` sum to ``cost_minor`` exactly."""

    lines: tuple[DraftLine, ...]
    cost_minor: int
    shares: tuple[DraftShare, ...]
    empty_minor: int
    empty_mm3: int
    basis: str
    rules: SharingPolicy
    facts: Facts
    policy: dict[str, object]

    @property
    def charged_minor(self) -> int:
        return sum(share.charge_minor for share in self.shares)

    @property
    def studio_minor(self) -> int:
        """What the studio bears: its own pieces, what is free, and empty space where that is the studio's."""
        return self.cost_minor - self.charged_minor


def draft_of(
    firing: Firing,
    *,
    now: datetime,
    meter_end_kwh: Decimal | None = None,
    energy_kwh: Decimal | None = None,
    labour_minor: int | None = None,
) -> Draft:
    """Cost and shares of a firing as it would be closed now. Query count does not depend on the load.

    ``labour_minor`` None: what is set for the kiln.
    """
    studio = Studio.the()
    lines = cost_lines(
        firing,
        studio=studio,
        meter_end_kwh=meter_end_kwh,
        energy_kwh=energy_kwh,
        labour_minor=labour_minor,
    )
    return _share(firing, lines, studio=studio, now=now)


def sharing_layers(firing: Firing) -> tuple[Layer, ...]:
    """The layers with their heights, shelf included; the top one has what is left of the usable height."""
    kiln = firing.kiln
    area = shelf_mm2(kiln)
    rows = list(firing.layers.order_by("number"))
    heights = [row.prop_mm + kiln.shelf_thickness_mm for row in rows[:-1]]
    top = max(usable_height_mm(kiln) - sum(heights), kiln.shelf_thickness_mm)
    return tuple(Layer(row.number, area, height) for row, height in zip(rows, [*heights, top], strict=True))


def shelf_mm2(kiln: Kiln) -> int:
    """Area of its kiln shelf in whole mm²."""
    if kiln.shape != Kiln.Shape.RECTANGLE and kiln.shelf_width_mm == kiln.shelf_depth_mm:
        return round_mm2(kiln.shelf_width_mm)
    return kiln.shelf_width_mm * kiln.shelf_depth_mm


def usable_height_mm(kiln: Kiln) -> int:
    """The inner height less what is kept clear at floor and lid."""
    return max(1, kiln.height_mm - kiln.floor_gap_mm - kiln.lid_gap_mm)


def standing_settlement(firing: Firing) -> Settlement | None:
    """The sharing that counts, as first posted, or None while the firing is not closed."""
    return firing.settlements.filter(reversed_at__isnull=True, corrects__isnull=True).first()


def _share(firing: Firing, lines: tuple[DraftLine, ...], *, studio: Studio, now: datetime) -> Draft:
    day = studio_day(now, studio)
    places = list(
        firing.placements.filter(taken_out_at__isnull=True)
        .select_related("layer", "piece__maker__guardian", "piece__session__course")
        .order_by("pk")
    )
    lost = set(
        UnloadAnswer.objects.filter(
            placement__firing=firing, undone_at__isnull=True, outcome=UnloadAnswer.Outcome.LOST
        ).values_list("placement", flat=True)
    )
    kiln = firing.kiln
    clearance = int(clearances_for(kiln, FiringKind(firing.kind), studio).ware_mm)
    rules = policy_of(firing, now=now, studio=studio)
    makers, kinds = _makers(places, rules=rules, day=studio_day(firing.lit_at or now, studio))
    facts = Facts(
        policy=domain_policy(rules, clearance),
        layers=sharing_layers(firing),
        places={place.pk: _shared_place(place, lost=place.pk in lost) for place in places},
        makers=makers,
        kinds=kinds,
        chamber_mm3=shelf_mm2(kiln) * usable_height_mm(kiln),
        chamber_height_mm=usable_height_mm(kiln),
    )
    shared = facts.share(sum(line.amount_minor for line in lines))
    by_key = {share.key: share for share in shared.shares}
    shares = []
    for place in places:
        share = by_key[facts.places[place.pk].key]
        maker = place.piece.maker
        sums = facts.sums(shared, place.pk, share)
        shares.append(
            DraftShare(
                placement=place,
                payer=account_holder(maker, day) if maker and share.charge_minor else None,
                volume_mm3=share.space_mm3,
                amount_minor=share.share_minor,
                charge_minor=share.charge_minor,
                words=words_of(sums, share.free),
                sums=tuple(sums),
            )
        )
    return Draft(
        lines=lines,
        cost_minor=shared.cost_minor,
        shares=tuple(shares),
        empty_minor=shared.empty_minor,
        empty_mm3=_empty_mm3(shared, facts.layers),
        basis=rules.basis,
        rules=rules,
        facts=facts,
        policy={
            **policy_as_stored(facts.policy),
            "currency": studio.currency,
            "allowance_used_mm3": allowance_used(shared),
        },
    )


def _shared_place(place: Placement, *, lost: bool) -> SharedPlace:
    """A place as it took room: on its stand, which makes it higher and wider."""
    piece = place.piece
    return SharedPlace(
        key=piece.mark,
        maker=_maker_key(piece.maker_id, _course_of(place)),
        width_mm=place.width_mm + place.stand_mm,
        depth_mm=place.depth_mm + place.stand_mm,
        height_mm=place.height_mm + place.stand_mm,
        layer=place.layer.number,
        round=place.is_round,
        lost=lost,
        studio_fault=place.refire_free,
    )


def _course_of(place: Placement) -> Course | None:
    session = place.piece.session
    course = session.course if session else None
    return course if course and course.firing_allowance_litres else None


def _maker_key(maker: int | None, course: Course | None) -> str:
    """Whose allowance: a maker has one for each course that gives one. Empty for the studio."""
    if maker is None:
        return ""
    return f"{maker}:{course.pk}" if course else f"{maker}"


def _makers(
    places: list[Placement], *, rules: SharingPolicy, day: date
) -> tuple[dict[str, Maker], dict[str, str]]:
    """Rate and what is left of the allowance, and the kind of maker, of each key in this load."""
    people = {place.piece.maker.pk: place.piece.maker for place in places if place.piece.maker}
    in_class = {place.piece.maker_id for place in places if place.piece.session_id}
    kinds = kinds_of(people.values(), day=day, in_class=in_class)
    courses = {
        _maker_key(place.piece.maker_id, course): (place.piece.maker_id, course)
        for place in places
        if place.piece.maker_id
        for course in (_course_of(place),)
    }
    used = _allowances_used() if any(course for _, course in courses.values()) else {}
    makers = {}
    for key, (maker, course) in courses.items():
        litres = str(course.firing_allowance_litres) if course else "0"
        left = max(0, litres_to_mm3(litres) - used.get(key, 0))
        makers[key] = Maker(rules.rate_per_mille(kinds[maker]), left)
    return makers, {key: kinds[maker] for key, (maker, _) in courses.items()}


def _allowances_used() -> dict[str, int]:
    """mm³ that standing sharings have drawn on each allowance."""
    used: dict[str, int] = {}
    standing = Settlement.objects.filter(reversed_at__isnull=True, corrects__isnull=True)
    for policy in standing.values_list("policy", flat=True):
        for key, mm3 in policy.get("allowance_used_mm3", {}).items():
            used[key] = used.get(key, 0) + mm3
    return used


def words_of(sums: list[Sum], free: Free | None) -> str:
    """How it was worked out, in one line, for a pocket calculator."""
    parts = []
    for line in sums:
        if line.line == "free":
            parts.append(FREE_WORDS[free] if free else "")
        elif line.sum:
            unit = "" if line.unit == "minor" else f" {line.unit.value}"
            parts.append(f"{line.sum} = {line.result}{unit}")
        elif line.line == "whole-units":
            parts.append(say("in whole units {result}", result=line.result))
        else:
            parts.append(f"{line.note.rstrip('.')}: {line.result}")
    words = "; ".join(part for part in parts if part)
    while len(words) > _WORDS_LONGEST:
        words = words.rpartition("; ")[0]
    return words


def _empty_mm3(shared: SharedFiring, layers: tuple[Layer, ...]) -> int:
    if shared.policy.basis == Basis.OWN_BOX:
        return round_half_up(shared.empty)
    return round_half_up(shared.empty * (layers[0].area_mm2 if layers else 0))
