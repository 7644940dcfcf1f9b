"""What waits for a bisque and a glaze firing, as parts of one usual load of the studio's main kiln."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from statistics import median

from django.db.models import BigIntegerField, F, Sum
from django.db.models.functions import Cast

from studio.domain.stages import GREENWARE, FiringKind, Route, Stage
from studio.models import Firing, Kiln, Piece

from .counting import capital, counted

#: A kiln is never loaded to its walls: without past loads, this part of the chamber counts as a usual load.
USUAL_PART_OF_CHAMBER = 0.40


@dataclass(frozen=True)
class Queue:
    """What waits for one kind of firing, as a part of one usual load of the studio's main kiln."""

    kind: str
    pieces: int
    not_yet: int
    percent: int

    @property
    def part(self) -> float:
        return self.percent / 100

    @property
    def words(self) -> str:
        """How many wait and how many are not ready to go in."""
        said = f"{capital(counted(self.pieces, 'piece', 'pieces'))} could go in."
        if self.not_yet:
            state = "not bone dry" if self.kind == FiringKind.BISQUE else "not glazed"
            said += f" {capital(counted(self.not_yet, 'is', 'are'))} {state} yet."
        return said


def usual_load_mm3(kiln: Kiln) -> float:
    """The usual load of a kiln: the median of its last ten closed firings, else a part of its chamber."""
    # Wide from the first factor on: PostgreSQL multiplies small integers as small ones.
    width = Cast("placements__width_mm", BigIntegerField())
    volume = width * F("placements__depth_mm") * F("placements__height_mm")
    past = (
        Firing.objects.filter(kiln=kiln, state=Firing.State.CLOSED, placements__taken_out_at__isnull=True)
        .annotate(volume=Sum(volume))
        .order_by("-number")
        .values_list("volume", flat=True)[:10]
    )
    volumes = [volume for volume in past if volume]
    if volumes:
        return float(median(volumes))
    return kiln.width_mm * kiln.depth_mm * kiln.height_mm * USUAL_PART_OF_CHAMBER


def queues_for(kiln: Kiln) -> list[Queue]:
    """The bisque and glaze queues as parts of one usual load of this kiln. Pieces in a load still count."""
    rows = (
        Piece.objects.filter(stage__in=[*GREENWARE, Stage.BISQUED, Stage.GLAZED])
        .exclude(stage=Stage.BISQUED, route=Route.BISQUE_ONLY)
        .values("stage", "route", "width_mm", "depth_mm", "height_mm")
    )
    usual = usual_load_mm3(kiln)
    volume: dict[str, float] = defaultdict(float)
    ready: dict[str, int] = defaultdict(int)
    not_yet: dict[str, int] = defaultdict(int)
    for row in rows:
        green = row["stage"] in GREENWARE
        kind = FiringKind.BISQUE if green and row["route"] != Route.SINGLE_FIRED else FiringKind.GLAZE
        # One that is single fired is glazed raw, and waits for its glaze first.
        may_go = row["stage"] == (Stage.BONE_DRY if kind == FiringKind.BISQUE else Stage.GLAZED)
        if not may_go:
            not_yet[kind] += 1
            continue
        ready[kind] += 1
        volume[kind] += row["width_mm"] * row["depth_mm"] * row["height_mm"]
    return [
        Queue(kind.value, ready[kind], not_yet[kind], round(100 * volume[kind] / usual))
        for kind in (FiringKind.BISQUE, FiringKind.GLAZE)
    ]


def main_kiln() -> Kiln | None:
    """The kiln with the largest chamber in use."""
    kilns = Kiln.objects.filter(retired_at__isnull=True)
    return max(kilns, key=lambda kiln: kiln.width_mm * kiln.depth_mm * kiln.height_mm, default=None)
