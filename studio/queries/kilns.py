"""Kilns with what is in them and what they fired last."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, time
from decimal import Decimal

from django.db.models import Count, Prefetch, Q

from studio.models import Firing, Kiln, Studio, Tariff

from .notices import studio_day
from .sharing_policies import tariff_rows

PAST_SHOWN = 5
_OPEN = [Firing.State.FIRING, Firing.State.COOLING, Firing.State.UNLOADING]


@dataclass
class KilnNow:
    """A kiln, its open firing if any, the loads being planned for it, and its last closed firings."""

    kiln: Kiln
    hot: Firing | None = None
    planned: list[Firing] = field(default_factory=list)
    past: list[Firing] = field(default_factory=list)
    #: Lines of care that are due and not silenced (`queries.kiln_care`), where the page asked for them.
    care_due: list = field(default_factory=list)


def kilns_now() -> list[KilnNow]:
    """Every kiln in use. Two queries whatever the number."""
    firings = (
        Firing.objects.exclude(state=Firing.State.CANCELLED)
        .annotate(
            places=Count("placements", filter=Q(placements__taken_out_at__isnull=True), distinct=True),
        )
        .order_by("-number")
    )
    rows = []
    kilns = Kiln.objects.filter(retired_at__isnull=True)
    for kiln in kilns.prefetch_related(Prefetch("firings", queryset=firings, to_attr="all_firings")):
        row = KilnNow(kiln)
        for firing in kiln.all_firings:
            firing.kiln = kiln
            if firing.state in _OPEN:
                row.hot = firing
            elif firing.state == Firing.State.PLANNED:
                row.planned.insert(0, firing)
            elif len(row.past) < PAST_SHOWN:
                row.past.append(firing)
        rows.append(row)
    return rows


def retired_kilns() -> list[Kiln]:
    """Kilns out of use, by name."""
    return list(Kiln.objects.filter(retired_at__isnull=False))


def hot_firing(kiln: Kiln) -> Firing | None:
    """The firing that is burning, cooling or being unloaded in a kiln; there is one at most."""
    return kiln.firings.filter(state__in=_OPEN).first()


@dataclass(frozen=True, slots=True)
class TariffNow:
    """What a kWh costs a kiln today: (from this time of day, the price in words); ``own`` when it is for this
    kiln alone, ``entered`` when anybody has entered a price."""

    spans: list[tuple[time, str]]
    own: bool
    entered: bool


def tariff_now(kiln: Kiln, *, now: datetime, studio: Studio) -> TariffNow:
    """The tariff that applies today, as `tariff_rows` has it for firings."""
    day = studio_day(now, studio)
    rows = list(
        Tariff.objects.filter(Q(kiln=kiln) | Q(kiln__isnull=True), from_date__lte=day)
        .annotate(prices=Count("spans"))
        .order_by("-from_date")
    )
    own = next((row for row in rows if row.kiln_id), None)
    return TariffNow(
        spans=[(starts, _a_kwh(price, studio)) for starts, price in tariff_rows(kiln, day)],
        own=bool(own and own.prices),
        entered=any(row.prices for row in rows),
    )


def _a_kwh(price: Decimal | int, studio: Studio) -> str:
    """27.35 minor units as ``£0.2735``, with as many digits as there are, two at least for pence."""
    exact = Decimal(price).scaleb(-studio.currency_digits).normalize()
    if -exact.as_tuple().exponent < studio.currency_digits:
        exact = exact.quantize(Decimal(1).scaleb(-studio.currency_digits))
    return f"{studio.currency_sign}{exact:f}"
