"""What waits for a bisque and a glaze firing, as parts of one usual load of the studio's main kiln."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from studio.domain.say import later, say
from studio.domain.stages import GREENWARE, FiringKind, Route, Stage
from studio.models import Kiln, Piece

from .counting import capital, counted
from .usual_loads import chamber_part_mm3, usual_load_mm3


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
        said = say(
            "{counted} could go in.", counted=capital(counted(self.pieces, later("piece"), later("pieces")))
        )
        if self.not_yet:
            state = say("not bone dry") if self.kind == FiringKind.BISQUE else say("not glazed")
            said += say(
                " {counted} {state} yet.",
                counted=capital(counted(self.not_yet, say("is"), say("are"))),
                state=state,
            )
        return said


def queues_for(kiln: Kiln) -> list[Queue]:
    """The bisque and glaze queues as parts of one usual load of this kiln. Pieces in a load still count."""
    rows = (
        Piece.objects.filter(stage__in=[*GREENWARE, Stage.BISQUED, Stage.GLAZED])
        .exclude(stage=Stage.BISQUED, route=Route.BISQUE_ONLY)
        .values("stage", "route", "width_mm", "depth_mm", "height_mm")
    )
    usual = usual_load_mm3(kiln) or chamber_part_mm3(kiln)
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
