"""What a programme is likely to take in a kiln: time, energy, cost, the cone reached, and what to watch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from statistics import fmean
from zoneinfo import ZoneInfo

from studio.domain.energy import Tariff, cost_minor, estimated_wh
from studio.domain.heatwork import ConeReached
from studio.domain.problems import DomainError, Problem
from studio.domain.programme import PlannedCurve, Segment, Ware, cone_of, plan, warnings
from studio.domain.say import figure, say
from studio.domain.sharing import round_half_up
from studio.domain.stages import FiringKind
from studio.models import Firing, Kiln, Programme, Studio

from .kiln_rates import rates_of
from .notices import studio_day
from .programmes import ROOM_C
from .settling_cost import USUAL_DUTY, usual_duty
from .sharing_policies import tariff_rows

_METERED_LOOKED_AT = 10


@dataclass(frozen=True, slots=True)
class Step:
    """A segment and when it is over, minutes from the lighting; ``held_up`` where the kiln is too slow."""

    number: int
    segment: Segment
    down: bool
    ends_min: float | None
    held_up: bool


@dataclass(frozen=True, slots=True)
class Estimate:
    """A programme in one kiln. ``trouble`` says why there is no curve; then everything else is empty.

    ``wh`` is watt-hours, ``energy_words`` how they were come by. Costs are minor units, from the cheapest
    hour of lighting to the dearest; None where nobody asked for money or no kiln was given.
    """

    kiln: Kiln | None
    segments: tuple[Segment, ...]
    curve: PlannedCurve | None = None
    trouble: str = ""
    cone: ConeReached | None = None
    warnings: tuple[Problem, ...] = ()
    wh: int | None = None
    energy_words: str = ""
    cost_low_minor: int | None = None
    cost_high_minor: int | None = None

    @property
    def kwh(self) -> Decimal | None:
        """To a whole kWh: an estimate knows no better."""
        return None if self.wh is None else Decimal(round_half_up(Fraction(self.wh, 1000)))

    @property
    def steps(self) -> list[Step]:
        curve, falls = self.curve, _falls(self.segments)
        return [
            Step(
                number=number,
                segment=segment,
                down=falls[number - 1],
                ends_min=curve.ends_min[number - 1] if curve else None,
                held_up=bool(curve) and number in curve.limited,
            )
            for number, segment in enumerate(self.segments, start=1)
        ]

    @property
    def cone_words(self) -> str:
        """``about cone 6``, ``cone 5 to 6``, or that there is none."""
        if self.cone is None or self.cone.high is None:
            return say("no cone")
        if self.cone.low == self.cone.high:
            return say("cone {likely}", likely=self.cone.likely)
        return say("cone {low} to {high}", low=self.cone.low or "below 022", high=self.cone.high)


def estimate(
    *,
    segments: Sequence[Segment],
    kind: str,
    kiln: Kiln | None,
    cone: str = "",
    programme: Programme | None = None,
    ware: Ware | None = None,
    studio: Studio | None = None,
    now: datetime | None = None,
) -> Estimate:
    """A programme reckoned through in a kiln; with a ``studio`` and ``now``, its cost too. At most nine
    queries."""
    segments = tuple(segments)
    try:
        free = any(segment.rate_c_per_h is None for segment in segments)
        rates = rates_of(kiln) if kiln and (free or any(_falls(segments))) else None
        curve = plan(segments=segments, start_c=ROOM_C, kiln=rates)
        problems = warnings(
            segments=segments,
            cone=cone or None,
            highest_cone=kiln.highest_cone if kiln else None,
            ware=ware or Ware(greenware=kind == FiringKind.BISQUE),
            start_c=ROOM_C,
            kiln=rates,
        )
    except DomainError as error:
        return Estimate(kiln, segments, trouble=error.message)
    wh, words = _energy(curve, kind, kiln, programme) if kiln else (None, "")
    low = high = None
    if kiln and studio and now:
        low, high = _cost(curve, wh, kiln, studio, now)
    return Estimate(kiln, segments, curve, "", cone_of(curve), tuple(problems), wh, words, low, high)


def kiln_for(programme: Programme | None, asked: str = "") -> Kiln | None:
    """The kiln to reckon in: the programme's own, else the one asked for by its code, else the first."""
    if programme and programme.kiln_id:
        return programme.kiln
    kilns = list(Kiln.objects.filter(retired_at__isnull=True))
    return next((kiln for kiln in kilns if kiln.code == asked), kilns[0] if kilns else None)


def _falls(segments: Sequence[Segment]) -> list[bool]:
    """Which segments go down: those need to know how fast the kiln cools."""
    before, found = ROOM_C, []
    for segment in segments:
        found.append(segment.target_c < before)
        before = segment.target_c
    return found


def _energy(curve: PlannedCurve, kind: str, kiln: Kiln, programme: Programme | None) -> tuple[int, str]:
    """Watt-hours and their story: duty as metered with this programme, else as this kiln usually has it."""
    hours = Fraction(round(curve.duration_min), 60)
    duties = _duties(programme, kiln) if programme and programme.pk else []
    if duties:
        duty = Fraction(round(fmean(duties) * 1000), 1000)
        count = len(duties)
        whence = (
            say("as metered in its last {count} firings here", count=count)
            if count > 1
            else say("as metered the last time")
        )
    else:
        duty = usual_duty(Firing(kiln=kiln, kind=kind))
        whence = (
            say("as set for {kiln}", kiln=kiln)
            if kiln.duty_percent
            else say("as other firings of this kind in {kiln}", kiln=kiln)
        )
        if not kiln.duty_percent and duty == USUAL_DUTY:
            whence = say("which is a guess until a firing here has been metered")
    power = Decimal(kiln.power_kw)
    wh = estimated_wh(power_kw=power, hours=hours, duty=duty)
    percent = round_half_up(duty * 100)
    tenths = Decimal(round_half_up(hours * 10)).scaleb(-1)
    return wh, say(
        "{normalize} kW for {tenths} h, on {percent} % of the time, {whence}",
        normalize=figure(power.normalize(), "f"),
        tenths=tenths,
        percent=percent,
        whence=whence,
    )


def _duties(programme: Programme, kiln: Kiln) -> list[float]:
    metered = Firing.objects.filter(
        programme=programme,
        kiln=kiln,
        meter_start_kwh__isnull=False,
        meter_end_kwh__isnull=False,
        lit_at__isnull=False,
        ended_at__isnull=False,
    ).order_by("-number")[:_METERED_LOOKED_AT]
    found = []
    for firing in metered:
        most = float(kiln.power_kw) * ((firing.ended_at - firing.lit_at) / timedelta(hours=1))
        used = float(firing.meter_end_kwh - firing.meter_start_kwh)
        if 0 < used <= most:
            found.append(used / most)
    return found


def _cost(curve: PlannedCurve, wh: int, kiln: Kiln, studio: Studio, now: datetime) -> tuple[int, int]:
    """The cost when lit at the best and at the worst whole hour of today."""
    day, zone = studio_day(now, studio), ZoneInfo(studio.time_zone)
    tariff = Tariff.of(prices=tariff_rows(kiln, day), zone=zone)
    length = timedelta(minutes=max(1.0, curve.duration_min))
    hours = range(24) if len(tariff.bands) > 1 else range(1)
    costs = []
    for hour in hours:
        start = datetime.combine(day, time(hour), zone).astimezone(UTC)
        costs.append(cost_minor(spans=[(start, start + length, wh)], tariff=tariff))
    return min(costs), max(costs)
