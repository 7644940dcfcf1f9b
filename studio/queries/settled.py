"""A closed firing as it stands now: what was posted, what corrections have added or taken off since."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import Prefetch

from studio.domain.sharing import SharedFiring
from studio.domain.sharing_sums import Sum
from studio.models import Charge, CostLine, Firing, FiringShare, Person, Placement, Settlement

from .settling_facts import Facts, facts_from


@dataclass(slots=True)
class Row:
    """One place: its share, and what is charged for it, over all that was posted.

    ``taken_back`` says that a charge for it was taken back by hand. ``charges`` are all of them, in order.
    """

    placement: Placement
    payer: Person | None
    volume_mm3: int
    amount_minor: int = 0
    charges: list[Charge] = field(default_factory=list)

    @property
    def charged_minor(self) -> int:
        return sum(charge.amount_minor for charge in self.charges)

    @property
    def taken_back(self) -> bool:
        return any(charge.reverses_id is not None for charge in self.charges)

    @property
    def maker(self) -> Person | None:
        return self.placement.piece.maker


@dataclass(frozen=True, slots=True)
class CostRow:
    """One kind of cost: each line as posted, corrections after it, and what it comes to."""

    kind: str
    label: str
    lines: tuple[CostLine, ...]

    @property
    def amount_minor(self) -> int:
        return sum(line.amount_minor for line in self.lines)


@dataclass(frozen=True, slots=True)
class Settled:
    """``rows`` in order of maker and mark; their amounts and ``empty_minor`` sum to ``cost_minor``."""

    settlement: Settlement
    corrections: tuple[Settlement, ...]
    costs: tuple[CostRow, ...]
    rows: tuple[Row, ...]
    empty_minor: int
    empty_mm3: int
    facts: Facts | None

    @property
    def cost_minor(self) -> int:
        return self.settlement.cost_minor + sum(each.cost_minor for each in self.corrections)

    @property
    def charged_minor(self) -> int:
        return sum(row.charged_minor for row in self.rows)

    @property
    def own_minor(self) -> int:
        """Shares of the studio's own pieces, and of those that nobody has claimed."""
        return sum(row.amount_minor for row in self.rows if row.maker is None)

    @property
    def given_minor(self) -> int:
        """What makers were not charged of their shares (allowance, rates, losses), or, negative, charged
        beyond."""
        return self.cost_minor - self.charged_minor - self.own_minor - self.empty_minor

    def line_minor(self, kind: str) -> int:
        return sum(row.amount_minor for row in self.costs if row.kind == kind)

    def shared(self) -> SharedFiring | None:
        """The sharing of the cost as it stands, worked again from the facts."""
        return self.facts.share(self.cost_minor) if self.facts else None

    def sums(self) -> dict[int, list[Sum]]:
        """The sums of each place by its primary key; empty where no facts were kept."""
        shared = self.shared()
        if shared is None:
            return {}
        by_mark = {share.key: share for share in shared.shares}
        return {
            place: self.facts.sums(shared, place, by_mark[shared_place.key])
            for place, shared_place in self.facts.places.items()
        }


def settled_of(firing: Firing) -> Settled | None:
    """The standing sharing of a firing with its corrections; None while it is not closed. Four queries."""
    return next(iter(settled(Settlement.objects.filter(firing=firing))), None)


def settled(settlements: Iterable[Settlement]) -> list[Settled]:
    """The standing ones among these (a queryset), the newest firing first. The query count does not depend on
    how many there are."""
    shares = FiringShare.objects.select_related(
        "placement__piece__maker__guardian", "placement__firing", "payer"
    )
    rows = list(
        settlements.filter(reversed_at__isnull=True)
        .select_related("firing__kiln", "posted_by", "corrects")
        .prefetch_related(
            Prefetch("shares", shares.prefetch_related("charges").order_by("pk")),
            Prefetch("cost_lines", CostLine.objects.order_by("pk")),
        )
        .order_by("-firing__number", "pk")
    )
    corrections: dict[int, list[Settlement]] = {}
    for row in rows:
        if row.corrects_id:
            corrections.setdefault(row.corrects_id, []).append(row)
    return [_settled(row, corrections.get(row.pk, [])) for row in rows if row.corrects_id is None]


def _settled(base: Settlement, corrections: Sequence[Settlement]) -> Settled:
    rows: dict[int, Row] = {}
    empty_minor = empty_mm3 = 0
    lines: dict[str, list[CostLine]] = {}
    for settlement in (base, *corrections):
        for line in settlement.cost_lines.all():
            lines.setdefault(line.kind, []).append(line)
        for share in settlement.shares.all():
            if share.placement_id is None:
                empty_minor += share.amount_minor
                empty_mm3 += share.volume_mm3
                continue
            row = rows.setdefault(share.placement_id, Row(share.placement, share.payer, share.volume_mm3))
            row.payer = row.payer or share.payer
            row.amount_minor += share.amount_minor
            row.charges += sorted(share.charges.all(), key=lambda charge: charge.pk)
    return Settled(
        settlement=base,
        corrections=tuple(corrections),
        costs=tuple(
            CostRow(kind.value, kind.label, tuple(lines[kind.value]))
            for kind in CostLine.Kind
            if kind.value in lines
        ),
        rows=tuple(sorted(rows.values(), key=_by_maker)),
        empty_minor=empty_minor,
        empty_mm3=empty_mm3,
        facts=facts_from(base.facts, base.policy),
    )


def _by_maker(row: Row) -> tuple[bool, str, str]:
    maker = row.maker
    return maker is None, maker.full_name if maker else "", row.placement.piece.mark
