"""What a firing cost, line by line: electricity by the meter or estimated, consumables, wear and labour."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from studio.domain.energy import estimated_wh, metered_wh
from studio.domain.sharing import round_half_up
from studio.models import CostLine, Firing, Studio

#: Where no earlier firing of the kiln had a meter: elements are on for half the time (common practice).
USUAL_DUTY = Fraction(1, 2)
_METERED_LOOKED_AT = 10


@dataclass(frozen=True, slots=True)
class DraftLine:
    """A line of a firing's cost, in minor units."""

    kind: str
    words: str
    amount_minor: int


def cost_lines(
    firing: Firing,
    *,
    studio: Studio,
    meter_end_kwh: Decimal | None = None,
    energy_kwh: Decimal | None = None,
    labour_minor: int = 0,
) -> tuple[DraftLine, ...]:
    """Electricity, consumables, wear and labour; lines of nothing are left out, but for electricity."""
    kiln = firing.kiln
    wh, how = _energy(firing, meter_end_kwh, energy_kwh)
    price = Decimal(studio.tariff_minor_per_kwh)
    a_kwh = _price(price.scaleb(-studio.currency_digits), places=studio.currency_digits)
    energy = DraftLine(
        CostLine.Kind.ENERGY,
        f"{how}, at {studio.currency_sign}{a_kwh} a kWh",
        round_half_up(Fraction(wh, 1000) * Fraction(price)),
    )
    others = (
        DraftLine(CostLine.Kind.CONSUMABLES, "Set for this kiln", kiln.consumables_minor_per_firing),
        DraftLine(CostLine.Kind.WEAR, "Set for this kiln", kiln.wear_minor_per_firing),
        DraftLine(CostLine.Kind.LABOUR, "Entered at closing", labour_minor),
    )
    return (energy, *(line for line in others if line.amount_minor))


def usual_duty(firing: Firing) -> Fraction:
    """Share of the time the elements are on: the mean of the kiln's latest metered firings of this kind."""
    metered = (
        Firing.objects.filter(
            kiln=firing.kiln_id,
            kind=firing.kind,
            meter_start_kwh__isnull=False,
            meter_end_kwh__isnull=False,
            ended_at__isnull=False,
        )
        .exclude(pk=firing.pk)
        .order_by("-number")[:_METERED_LOOKED_AT]
    )
    duties = []
    for row in metered:
        most = Fraction(firing.kiln.power_kw) * _hours(row)
        used = Fraction(row.meter_end_kwh) - Fraction(row.meter_start_kwh)
        if most > 0 and 0 < used <= most:
            duties.append(used / most)
    return sum(duties, Fraction(0)) / len(duties) if duties else USUAL_DUTY


def _energy(firing: Firing, meter_end: Decimal | None, energy_kwh: Decimal | None) -> tuple[int, str]:
    """Watt-hours, and in words how they were come by."""
    end = firing.meter_end_kwh if meter_end is None else meter_end
    if energy_kwh is not None:
        wh = metered_wh(start_kwh=0, end_kwh=energy_kwh)
        return wh, f"{_kwh(wh)} kWh, as entered"
    if end is not None and firing.meter_start_kwh is not None:
        wh = metered_wh(start_kwh=firing.meter_start_kwh, end_kwh=end)
        return wh, f"{_kwh(wh)} kWh by the meter"
    power = Decimal(firing.kiln.power_kw)
    hours = _hours(firing)
    duty = usual_duty(firing)
    wh = estimated_wh(power_kw=power, hours=hours, duty=duty)
    percent = round_half_up(duty * 100)
    tenths = Decimal(round_half_up(hours * 10)).scaleb(-1)
    return wh, f"About {_kwh(wh)} kWh: {power.normalize():f} kW for {tenths} h, on {percent} % of the time"


def _hours(firing: Firing) -> Fraction:
    if firing.lit_at is None or firing.ended_at is None:
        return Fraction(0)
    return Fraction(int((firing.ended_at - firing.lit_at).total_seconds()), 3600)


def _price(value: Decimal, *, places: int) -> str:
    """``0.27`` or ``0.2683``: at least the currency's places, and no noughts beyond them."""
    plain = value.normalize()
    return f"{plain:f}" if -plain.as_tuple().exponent > places else f"{value:.{places}f}"


def _kwh(wh: int) -> str:
    return f"{Decimal(round_half_up(Fraction(wh, 100))).scaleb(-1)}"
