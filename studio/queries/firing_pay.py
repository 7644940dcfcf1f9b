"""Did firing pay? What firings cost, what makers paid of it, and what the studio bore, and for what."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Q, Sum

from studio.models import Charge, Firing, FiringShare, Settlement, Studio

from .notices import studio_day


@dataclass(slots=True)
class Paid:
    """Money in minor units, corrections included. ``given_minor`` is what the studio left its makers of their
    shares (allowances, rates, losses, rounding); negative where they paid beyond them. The four sum to the
    cost."""

    cost_minor: int = 0
    recovered_minor: int = 0
    own_minor: int = 0
    empty_minor: int = 0
    firings: int = 0

    @property
    def given_minor(self) -> int:
        return self.cost_minor - self.recovered_minor - self.own_minor - self.empty_minor

    @property
    def studio_minor(self) -> int:
        """What was left to the studio; negative is a surplus."""
        return self.cost_minor - self.recovered_minor

    def add(self, other: Paid) -> None:
        self.cost_minor += other.cost_minor
        self.recovered_minor += other.recovered_minor
        self.own_minor += other.own_minor
        self.empty_minor += other.empty_minor
        self.firings += other.firings


@dataclass(frozen=True, slots=True)
class FiringPaid:
    firing: Firing
    day: date
    paid: Paid


@dataclass(frozen=True, slots=True)
class Accounts:
    """Firings, the newest first; months by their first day, the oldest first; kilns by name."""

    firings: tuple[FiringPaid, ...]
    months: tuple[tuple[date, Paid], ...]
    kilns: tuple[tuple[str, Paid], ...]
    whole: Paid = field(default_factory=Paid)


def firings_paid(*, since: datetime, studio: Studio) -> Accounts:
    """All closed firings that were lit since then. Three queries, however many there are."""
    rows = Settlement.objects.filter(reversed_at__isnull=True).filter(
        Q(firing__lit_at__gte=since) | Q(firing__lit_at__isnull=True, firing__closed_at__gte=since)
    )
    shares = _shares(rows)
    charged = _charged(rows)
    of_firing: dict[int, FiringPaid] = {}
    for row in rows.select_related("firing__kiln").order_by("-firing__number", "pk"):
        firing = row.firing
        day = studio_day(firing.lit_at or firing.closed_at or row.posted_at, studio)
        entry = of_firing.setdefault(firing.pk, FiringPaid(firing, day, Paid(firings=1)))
        own, empty = shares.get(row.pk, (0, 0))
        entry.paid.add(Paid(row.cost_minor, charged.get(row.pk, 0), own, empty))
    firings = tuple(of_firing.values())
    whole = Paid()
    for each in firings:
        whole.add(each.paid)
    return Accounts(
        firings=firings,
        months=tuple(sorted(_grouped(firings, lambda each: each.day.replace(day=1)).items())),
        kilns=tuple(sorted(_grouped(firings, lambda each: each.firing.kiln.name).items())),
        whole=whole,
    )


def _grouped(firings: Iterable[FiringPaid], key: Callable[[FiringPaid], Hashable]) -> dict:
    groups: dict[Hashable, Paid] = {}
    for each in firings:
        groups.setdefault(key(each), Paid()).add(each.paid)
    return groups


def _shares(settlements: object) -> dict[int, tuple[int, int]]:
    """Settlement -> shares of the studio's own pieces, and of empty space."""
    found = (
        FiringShare.objects.filter(settlement__in=settlements)
        .order_by()
        .values_list("settlement")
        .annotate(
            own=Sum("amount_minor", filter=Q(placement__isnull=False, placement__piece__maker__isnull=True)),
            empty=Sum("amount_minor", filter=Q(placement__isnull=True)),
        )
    )
    return {settlement: (own or 0, empty or 0) for settlement, own, empty in found}


def _charged(settlements: object) -> dict[int, int]:
    """Settlement -> what stands charged for its shares, less what was taken back."""
    found = Charge.objects.filter(share__settlement__in=settlements).order_by()
    return dict(found.values_list("share__settlement").annotate(total=Sum("amount_minor")))
