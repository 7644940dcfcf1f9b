"""What other rules would have cost whom, on real past firings. Nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Sum

from studio.domain.sharing import SharedFiring
from studio.models import Firing, Person, Settlement, SharingPolicy

from .settling_facts import Facts, facts_from


@dataclass(frozen=True, slots=True)
class MakerRow:
    """What one maker was charged (first) and would have been under each choice, in minor units."""

    maker: Person
    pieces: int
    amounts: tuple[int, ...]

    @property
    def differ(self) -> bool:
        return len(set(self.amounts)) > 1


@dataclass(frozen=True, slots=True)
class Comparison:
    """``makers_minor`` and ``studio_minor`` begin with what was posted; each pair sums to ``cost_minor``."""

    firings: tuple[Firing, ...]
    cost_minor: int
    rows: tuple[MakerRow, ...]
    makers_minor: tuple[int, ...]
    studio_minor: tuple[int, ...]


def compare(choices: Sequence[SharingPolicy], *, last: int) -> Comparison:
    """The ``last`` closed firings, shared as they were and under each choice (rows that need not be saved).

    Costs are the corrected ones. Allowances run on from firing to firing as each choice would have used them
    up, beginning with what was left before the first of these firings. Three queries.
    """
    loads = _loads(last)
    sides: list[dict[str, int]] = []
    for rules in (None, *choices):
        charged: dict[str, int] = {}
        left: dict[str, int] = {}
        for _, facts, cost_minor in loads:
            shared = _shared(facts, rules, left, cost_minor)
            for key, amount in shared.by_maker().items():
                charged[key] = charged.get(key, 0) + amount
        sides.append(_by_person(charged))
    cost = sum(cost_minor for _, _, cost_minor in loads)
    totals = tuple(sum(side.values()) for side in sides)
    return Comparison(
        firings=tuple(firing for firing, _, _ in loads),
        cost_minor=cost,
        rows=_rows(loads, sides),
        makers_minor=totals,
        studio_minor=tuple(cost - total for total in totals),
    )


def _loads(last: int) -> list[tuple[Firing, Facts, int]]:
    """(firing, facts, cost), the oldest first."""
    rows = list(
        Settlement.objects.filter(reversed_at__isnull=True, corrects__isnull=True)
        .exclude(facts={})
        .select_related("firing__kiln")
        .order_by("-firing__number")[:last]
    )
    more = dict(
        Settlement.objects.filter(corrects__in=[row.pk for row in rows], reversed_at__isnull=True)
        .order_by()
        .values_list("corrects")
        .annotate(total=Sum("cost_minor"))
    )
    return [
        (row.firing, facts_from(row.facts, row.policy), row.cost_minor + more.get(row.pk, 0))
        for row in reversed(rows)
    ]


def _shared(facts: Facts, rules: SharingPolicy | None, left: dict[str, int], cost_minor: int) -> SharedFiring:
    """The load as it was shared, or under other rules with the allowances that they have left."""
    if rules is None:
        return facts.share(cost_minor)
    shared = facts.under(rules, left).share(cost_minor)
    left.update(shared.allowance_left_mm3)
    return shared


def _by_person(charged: dict[str, int]) -> dict[str, int]:
    """Keys name a maker and a course; here only who it is."""
    sums: dict[str, int] = {}
    for key, amount in charged.items():
        person = key.partition(":")[0]
        sums[person] = sums.get(person, 0) + amount
    return sums


def _rows(loads: list[tuple[Firing, Facts, int]], sides: list[dict[str, int]]) -> tuple[MakerRow, ...]:
    pieces: dict[str, int] = {}
    for _, facts, _ in loads:
        for place in facts.places.values():
            person = place.maker.partition(":")[0]
            pieces[person] = pieces.get(person, 0) + 1
    pieces.pop("", None)
    people = Person.objects.in_bulk([int(person) for person in pieces])
    return tuple(
        MakerRow(maker, pieces[str(pk)], tuple(side.get(str(pk), 0) for side in sides))
        for pk, maker in sorted(people.items(), key=lambda item: (item[1].full_name, item[0]))
    )
