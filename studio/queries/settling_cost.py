"""What a firing cost, line by line: electricity by the meter or estimated, consumables, wear and labour."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from studio.domain.energy import Tariff, cost_minor, estimated_wh, metered_wh
from studio.domain.say import figure, listed, say
from studio.domain.sharing import round_half_up
from studio.models import CostLine, Firing, Studio

from .sharing_policies import tariff_of

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
    labour_minor: int | None = None,
) -> tuple[DraftLine, ...]:
    """Electricity, consumables, wear and labour; lines of nothing are left out, but for electricity."""
    kiln = firing.kiln
    energy = energy_line(firing, studio=studio, meter_end_kwh=meter_end_kwh, energy_kwh=energy_kwh)
    labour = kiln.labour_minor_per_firing if labour_minor is None else labour_minor
    how = say("Set for this kiln") if labour == kiln.labour_minor_per_firing else say("Entered at closing")
    others = (
        DraftLine(CostLine.Kind.CONSUMABLES, say("Set for this kiln"), kiln.consumables_minor_per_firing),
        DraftLine(CostLine.Kind.WEAR, say("Set for this kiln"), kiln.wear_minor_per_firing),
        DraftLine(CostLine.Kind.LABOUR, how, labour),
    )
    return (energy, *(line for line in others if line.amount_minor))


def energy_line(
    firing: Firing,
    *,
    studio: Studio,
    meter_end_kwh: Decimal | None = None,
    energy_kwh: Decimal | None = None,
) -> DraftLine:
    """Electricity: kWh by the meter, as entered or estimated, used evenly over the firing's hours."""
    wh, how = _energy(firing, meter_end_kwh, energy_kwh)
    tariff = tariff_of(firing, studio=studio)
    start, end = firing.lit_at, firing.ended_at
    if start is None or end is None or end <= start:
        price = tariff.price_at(start) if start else tariff.bands[0].minor_per_kwh
        words = say("at {a_kwh} a kWh", a_kwh=_a_kwh(price, studio))
        return DraftLine(CostLine.Kind.ENERGY, f"{how}, {words}", round_half_up(Fraction(wh, 1000) * price))
    amount = cost_minor(spans=[(start, end, wh)], tariff=tariff)
    return DraftLine(CostLine.Kind.ENERGY, f"{how}, {_prices(tariff, start, end, wh, studio)}", amount)


def _prices(tariff: Tariff, start: datetime, end: datetime, wh: int, studio: Studio) -> str:
    """``at £0.27 a kWh``; by time of day ``20.4 at £0.0950 and 41.0 at £0.2683 a kWh by the clock``."""
    seconds: dict[Fraction, int] = {}
    for begins, stops, price in tariff.pieces(start=start, end=end):
        seconds[price] = seconds.get(price, 0) + int((stops - begins).total_seconds())
    if len(seconds) == 1:
        return say("at {a_kwh} a kWh", a_kwh=_a_kwh(next(iter(seconds)), studio))
    whole = sum(seconds.values())
    parts = [
        say(
            "{kwh} at {a_kwh}",
            kwh=_kwh(round_half_up(Fraction(wh * spent, whole))),
            a_kwh=_a_kwh(price, studio),
        )
        for price, spent in sorted(seconds.items())
    ]
    return say("{prices} a kWh by the clock", prices=listed(parts))


def _a_kwh(price: Fraction, studio: Studio) -> str:
    exact = Decimal(price.numerator) / Decimal(price.denominator)
    words = _price(exact.scaleb(-studio.currency_digits), places=studio.currency_digits)
    return f"{studio.currency_sign}{words}"


def usual_duty(firing: Firing) -> Fraction:
    """Share of the time the elements are on: as set for the kiln, else the mean of its latest metered firings
    of this kind."""
    if firing.kiln.duty_percent:
        return Fraction(firing.kiln.duty_percent, 100)
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
        return wh, say("{kwh} kWh, as entered", kwh=_kwh(wh))
    if end is not None and firing.meter_start_kwh is not None:
        wh = metered_wh(start_kwh=firing.meter_start_kwh, end_kwh=end)
        return wh, say("{kwh} kWh by the meter", kwh=_kwh(wh))
    power = Decimal(firing.kiln.power_kw)
    hours = _hours(firing)
    duty = usual_duty(firing)
    wh = estimated_wh(power_kw=power, hours=hours, duty=duty)
    percent = round_half_up(duty * 100)
    tenths = Decimal(round_half_up(hours * 10)).scaleb(-1)
    return wh, say(
        "About {kwh} kWh: {normalize} kW for {tenths} h, on {percent} % of the time",
        kwh=_kwh(wh),
        normalize=figure(power.normalize(), "f"),
        tenths=tenths,
        percent=percent,
    )


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
