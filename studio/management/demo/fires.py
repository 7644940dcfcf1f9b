"""Firings of the demo: loaded, lit, read, cooled, unloaded and closed, all through the actions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from math import exp

from studio.actions import firings, loads, loads_many, readings, settling, unload, witness_cones
from studio.actions.unload import SeenFlaw
from studio.domain.cones import CONES
from studio.models import Firing, Piece, Placement

from .ware import Ware

ROOM_C = 16
STAND_MM = 15
COOLING_HOURS = 4.5
#: Programme in °C an hour to °C, the last climb slow: (rate, target), then minutes held at the top.
PROGRAMMES = {
    "bisque": (((80, 120), (110, 600), (130, 1060)), 15),
    "glaze": (((100, 600), (160, 1120), (60, 1222)), 10),
    "low": (((100, 400), (150, 715)), 10),
}
#: Props of each layer, bottom first: tall ware at the bottom and on top; or four layers of lower ware.
THREE_LAYERS_MM = [203, 127, 0]
FOUR_LAYERS_MM = [203, 127, 102, 0]


@dataclass(frozen=True)
class Seen:
    """What was found of one piece."""

    outcome: str = "sound"
    flaws: tuple[str, ...] = ()
    jobs: tuple[str, ...] = ()
    loss_cause: str = ""
    note: str = ""


def firing_hours(kind: str) -> float:
    climbs, hold_min = PROGRAMMES[kind]
    hours, at_c = hold_min / 60, ROOM_C
    for rate, target in climbs:
        hours += (target - at_c) / rate
        at_c = target
    return hours


def temperature_c(kind: str, hours: float) -> float:
    """°C so many hours after lighting: the programme's climbs, then a fall that slows down."""
    climbs, _ = PROGRAMMES[kind]
    at_c, left = float(ROOM_C), hours
    for rate, target in climbs:
        need = (target - at_c) / rate
        if left < need:
            return at_c + rate * left
        left, at_c = left - need, float(target)
    over = hours - firing_hours(kind)
    return at_c if over <= 0 else ROOM_C + (at_c - ROOM_C) * exp(-over / COOLING_HOURS)


@dataclass
class Fires:
    ware: Ware

    def plan(
        self,
        pieces: Sequence[Piece],
        *,
        kind: str,
        cone: str,
        kiln: str,
        now: datetime,
        layers: list[int],
        planned_for: datetime | None = None,
    ) -> Firing:
        """A load with these pieces; those that run stand on stands."""
        books = self.ware.books
        firing = loads.plan_firing(
            kiln=books.kilns[kiln],
            kind=kind,
            cone=cone,
            by=books.tutor,
            programme=books.programmes.get(kind),
            planned_for=planned_for,
            now=now,
        )
        if layers != [0]:
            firing = loads.set_layers(firing=firing, props_mm=layers, by=books.tutor)
        done = loads_many.load_pieces(firing=firing, pieces=pieces, by=books.helper, now=now)
        placed = {place.piece_id for place in done.placed}
        rest = [piece for piece in pieces if piece.pk not in placed]
        if rest:
            loads_many.load_pieces(firing=firing, pieces=rest, by=books.tutor, stand_mm=STAND_MM, now=now)
        return firing

    def light(self, firing: Firing, lit_at: datetime, *, until: datetime, kwh: str = "61.4") -> None:
        """Lit, read every twenty minutes until ``until``, and switched off when the programme is through."""
        books = self.ware.books
        start = Decimal(4000 + 80 * firing.number)
        firings.light(
            firing=firing,
            by=books.tutor,
            client_id=self.ware.client_id(),
            meter_start_kwh=start,
            now=lit_at,
        )
        # Elements wear: each firing takes a little longer, and none takes just as long as another.
        slower = 1 + 0.003 * firing.number + 0.004 * (firing.number * 37 % 11 - 5)
        hours = firing_hours(firing.kind) * slower
        off_at = lit_at + timedelta(hours=hours)
        step = timedelta(minutes=20)
        rows, at = [], lit_at + timedelta(minutes=5)
        while at <= until:
            celsius = temperature_c(firing.kind, (at - lit_at).total_seconds() / 3600 / slower)
            rows.append((at, Decimal(f"{celsius + self.ware.random.uniform(-1.2, 1.2):.1f}")))
            if celsius < 36 and at > off_at:
                break
            at += step
        if off_at <= until:
            firings.end_firing(
                firing=firing,
                by=books.tutor,
                at=off_at,
                meter_end_kwh=start + Decimal(kwh),
                now=off_at,
            )
        readings.import_readings(firing=firing, rows=rows, by=books.tutor, now=until)

    def unload(
        self,
        firing: Firing,
        opened_at: datetime,
        *,
        seen: Callable[[Piece], Seen],
        shelf: Callable[[Piece, Seen], str | None],
    ) -> datetime:
        """Open, answer every place from the top, and return when the last one was answered."""
        books = self.ware.books
        unload.start_unload(firing=firing, by=books.tutor, now=opened_at)
        now = opened_at
        for place in _from_the_top(firing):
            now += timedelta(seconds=35)
            saw = seen(place.piece)
            name = shelf(place.piece, saw)
            unload.answer_place(
                placement=place,
                outcome=saw.outcome,
                flaws=[SeenFlaw(kind) for kind in saw.flaws],
                jobs=saw.jobs,
                loss_cause=saw.loss_cause,
                note=saw.note,
                shelf=books.shelves[name] if name and saw.outcome != "lost" else None,
                by=books.helper if self.ware.random.random() < 0.4 else books.tutor,
                client_id=self.ware.client_id(),
                now=now,
            )
        self._note_cones(firing, now)
        return now

    def _note_cones(self, firing: Firing, now: datetime) -> None:
        """The wanted cone and its neighbours on the top and the bottom layer; the bottom a little cooler."""
        books, layers = self.ware.books, firing.layers.count()
        place = CONES.index(firing.cone)
        for layer in sorted({1, layers}):
            wanted = ((75, 90, 90) if layer == layers else (60, 75, 90))[firing.number % 3]
            for cone, bend in ((place - 1, 90), (place, wanted), (place + 1, max(0, wanted - 75))):
                witness_cones.note_witness_cone(
                    firing=firing,
                    layer_number=layer,
                    cone=CONES[cone],
                    bend_degrees=bend,
                    by=books.helper,
                    client_id=self.ware.client_id(),
                    now=now,
                )

    def close(self, firing: Firing, now: datetime) -> None:
        settling.close_firing(
            firing=firing, by=self.ware.books.tutor, client_id=self.ware.client_id(), now=now
        )


def _from_the_top(firing: Firing) -> list[Placement]:
    places = firing.placements.filter(taken_out_at__isnull=True).select_related("piece", "firing")
    return list(places.order_by("-layer__number", "pk"))
