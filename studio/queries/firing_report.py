"""How a firing went: its cones, energy and cost, losses by layer, and the last ones like it beside it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal

from django.db.models import Count, Max, Q, Sum

from studio.domain.cones import heat_order
from studio.domain.heatwork import ConeReached, cone_reached
from studio.domain.problems import DomainError
from studio.domain.say import midway, say
from studio.domain.witness_cones import WitnessReading, read_witness_cones
from studio.models import Firing, Layer, Placement, Reading, Settlement, UnloadAnswer, WitnessCone

from .readings_thin import thin_readings

#: Earlier firings laid beside this one.
BESIDE = 4
_DONE = [Firing.State.COOLING, Firing.State.UNLOADING, Firing.State.CLOSED]


@dataclass(frozen=True, slots=True)
class ConesAt:
    """The witness cones of one place of a layer, coolest first, and what they say together."""

    layer_number: int
    place: str
    cones: tuple[WitnessCone, ...]
    reading: WitnessReading


@dataclass(frozen=True, slots=True)
class LayerCount:
    """How the ware of a layer came out; ``causes`` and ``flaws`` are (words, count), the most first."""

    number: int
    placed: int
    sound: int
    flawed: int
    lost: int
    causes: tuple[tuple[str, int], ...] = ()
    flaws: tuple[tuple[str, int], ...] = ()

    @property
    def unanswered(self) -> int:
        return self.placed - self.sound - self.flawed - self.lost


@dataclass(frozen=True, slots=True)
class Went:
    """One firing among those compared. ``cost_minor`` only where money was asked for and it is settled."""

    firing: Firing
    curve: tuple[tuple[float, float], ...]
    peak_c: Decimal | None
    cone: ConeReached | None
    cones_down: str
    placed: int
    lost: int
    flawed: int
    cost_minor: int | None = None

    @property
    def hours(self) -> Decimal | None:
        """Hours the kiln was on, to a tenth."""
        firing = self.firing
        if not firing.lit_at or not firing.ended_at:
            return None
        return Decimal(round((firing.ended_at - firing.lit_at) / timedelta(minutes=6))).scaleb(-1)

    @property
    def kwh(self) -> Decimal | None:
        """By the meter, or None."""
        start, end = self.firing.meter_start_kwh, self.firing.meter_end_kwh
        return None if start is None or end is None else end - start

    @property
    def cone_words(self) -> str:
        """By the readings: ``6``, or ``5 to 6`` where they can't tell; empty where they say nothing."""
        cone = self.cone
        if cone is None or cone.high is None:
            return ""
        return (
            cone.likely
            if cone.low == cone.high
            else say("{low} to {high}", low=cone.low or "below 022", high=cone.high)
        )


@dataclass(frozen=True, slots=True)
class Report:
    """A firing looked back on. ``others`` are the last ones like it, the newest first."""

    went: Went
    others: tuple[Went, ...]
    like_words: str
    cones: tuple[ConesAt, ...]
    cone_history: tuple[WitnessCone, ...]
    layers: tuple[LayerCount, ...] = field(default=())

    @property
    def all(self) -> tuple[Went, ...]:
        return (self.went, *self.others)


def report_of(firing: Firing, *, with_money: bool) -> Report:
    """Everything of the page. The query count does not depend on how much there is."""
    others, like_words = _others(firing)
    went = _went([firing, *others], with_money=with_money)
    cones = list(firing.witness_cones.select_related("by", "ended_by", "corrects"))
    standing = [row for row in cones if row.ended_at is None]
    rate = went[0].cone.rate_c_per_h if went[0].cone else None
    return Report(
        went=went[0],
        others=tuple(went[1:]),
        like_words=like_words,
        cones=tuple(cones_at(standing, rate_c_per_h=rate)),
        cone_history=tuple(row for row in cones if row.ended_at is not None),
        layers=tuple(layer_counts(firing)),
    )


def cones_at(rows: Iterable[WitnessCone], *, rate_c_per_h: float | None = None) -> list[ConesAt]:
    """Cones by place, the top layer first, each place read as one."""
    rate = min(max(rate_c_per_h or 60.0, 15.0), 150.0)
    places: dict[tuple[int, str], list[WitnessCone]] = {}
    for row in rows:
        places.setdefault((-row.layer_number, row.place), []).append(row)
    found = []
    for (layer, place), there in sorted(places.items()):
        there.sort(key=lambda row: heat_order(row.cone))
        bends = {row.cone: float(row.bend_degrees) for row in there}
        reading = read_witness_cones(bends_degrees=bends, rate_c_per_h=rate)
        found.append(ConesAt(-layer, place, tuple(there), reading))
    return found


def layer_counts(firing: Firing) -> list[LayerCount]:
    """Sound, flawed and lost by layer, the top first. Three queries."""
    standing = Q(placements__taken_out_at__isnull=True)
    numbers = dict(
        Layer.objects.filter(firing=firing)
        .annotate(placed=Count("placements", filter=standing))
        .values_list("number", "placed")
    )
    outcomes: dict[int, Counter[str]] = {number: Counter() for number in numbers}
    causes: dict[int, Counter[str]] = {number: Counter() for number in numbers}
    flaws: dict[int, Counter[str]] = {number: Counter() for number in numbers}
    answers = UnloadAnswer.objects.filter(
        placement__firing=firing, placement__taken_out_at__isnull=True, undone_at__isnull=True
    ).select_related("placement__layer")
    for answer in answers.prefetch_related("flaws"):
        number = answer.placement.layer.number
        outcomes[number][answer.outcome] += 1
        if answer.loss_cause:
            causes[number][midway(answer.get_loss_cause_display())] += 1
        flaws[number].update(
            {midway(flaw.get_kind_display()) for flaw in answer.flaws.all() if flaw.withdrawn_at is None}
        )
    return [
        LayerCount(
            number=number,
            placed=numbers[number],
            sound=outcomes[number]["sound"],
            flawed=outcomes[number]["flawed"],
            lost=outcomes[number]["lost"],
            causes=tuple(causes[number].most_common()),
            flaws=tuple(flaws[number].most_common()),
        )
        for number in sorted(numbers, reverse=True)
    ]


def _others(firing: Firing) -> tuple[list[Firing], str]:
    """The last firings before this one of its programme in its kiln, else of its kind and cone there."""
    earlier = Firing.objects.filter(kiln=firing.kiln_id, state__in=_DONE, number__lt=firing.number)
    earlier = earlier.select_related("kiln").order_by("-number")
    if firing.programme_id:
        name = (firing.programme_as_fired or {}).get("name") or firing.programme.name
        same = list(earlier.filter(programme=firing.programme_id)[:BESIDE])
        return same, say("with {name} in {kiln}", name=name, kiln=firing.kiln)
    same = list(earlier.filter(kind=firing.kind, cone=firing.cone)[:BESIDE])
    return same, say("to cone {cone} in {kiln}", cone=firing.cone, kiln=firing.kiln)


def _went(firings: Sequence[Firing], *, with_money: bool) -> list[Went]:
    keys = [firing.pk for firing in firings]
    curves = thin_readings(firings)
    peaks = dict(
        Reading.objects.filter(firing__in=keys)
        .order_by()
        .values("firing")
        .annotate(peak=Max("temperature_c"))
        .values_list("firing", "peak")
    )
    counts = _counts(keys)
    cones = _cones_down(keys)
    costs = _costs(keys) if with_money else {}
    return [
        Went(
            firing=firing,
            curve=tuple(_by_hours(curves[firing.pk], firing.lit_at)),
            peak_c=peaks.get(firing.pk),
            cone=_cone(curves[firing.pk]),
            cones_down=cones.get(firing.pk, ""),
            cost_minor=costs.get(firing.pk),
            **counts[firing.pk],
        )
        for firing in firings
    ]


def _counts(keys: Sequence[int]) -> dict[int, dict[str, int]]:
    found = {key: {"placed": 0, "lost": 0, "flawed": 0} for key in keys}
    stands = Q(answers__undone_at__isnull=True)
    rows = (
        Placement.objects.filter(firing__in=keys, taken_out_at__isnull=True)
        .order_by()
        .values("firing")
        .annotate(
            placed=Count("pk", distinct=True),
            lost=Count("answers", filter=stands & Q(answers__outcome="lost"), distinct=True),
            flawed=Count("answers", filter=stands & Q(answers__outcome="flawed"), distinct=True),
        )
    )
    for row in rows:
        found[row.pop("firing")] = row
    return found


def _cones_down(keys: Sequence[int]) -> dict[int, str]:
    """The hottest and the coolest place by the witness cones: ``6`` or ``5 to 6``."""
    by_firing: dict[int, list[WitnessCone]] = {}
    for row in WitnessCone.objects.filter(firing__in=keys, ended_at__isnull=True):
        by_firing.setdefault(row.firing_id, []).append(row)
    found = {}
    for key, rows in by_firing.items():
        down = {at.reading.cone for at in cones_at(rows) if at.reading.cone}
        ends = sorted(down, key=heat_order)
        found[key] = say(" to ").join(dict.fromkeys((ends[0], ends[-1]))) if ends else say("none down")
    return found


def _costs(keys: Sequence[int]) -> dict[int, int]:
    """What each came to, with its corrections, in minor units."""
    rows = (
        Settlement.objects.filter(firing__in=keys, reversed_at__isnull=True)
        .order_by()
        .values("firing")
        .annotate(cost=Sum("cost_minor"))
    )
    return dict(rows.values_list("firing", "cost"))


def _by_hours(curve: Iterable[tuple[datetime, float]], lit_at: datetime | None) -> list[tuple[float, float]]:
    if lit_at is None:
        return []
    return [((at - lit_at) / timedelta(hours=1), celsius) for at, celsius in curve if at >= lit_at]


def _cone(curve: Sequence[tuple[datetime, float]]) -> ConeReached | None:
    try:
        return cone_reached(readings=curve)
    except DomainError:
        return None
