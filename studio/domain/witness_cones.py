"""Witness cones: what the heat work was at their place, read by how far each bent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite

from .cones import heat_order
from .heatwork import TOLERANCE_C, temperature_for
from .problems import DomainError
from .say import figure, say

#: A cone takes about a quarter of an hour at 60 °C/h and more to bend: it starts so far below its own
#: temperature (common practice, from memory).
BEND_BEGINS_C_BELOW = 20.0
#: Bent so far, tip near the shelf, a cone is down.
DOWN_AT_DEGREES = 80.0


@dataclass(frozen=True, slots=True)
class WitnessReading:
    """What the witness cones say: heat work between ``low_c`` and ``high_c`` (None: open on that side).

    ``cone`` is the hottest one down. ``agree`` is false when a cooler cone stands beside a hotter one bent
    more.
    """

    cone: str | None
    low_c: float | None
    high_c: float | None
    agree: bool
    reasons: tuple[str, ...]


def read_witness_cones(*, bends_degrees: Mapping[str, float], rate_c_per_h: float = 60.0) -> WitnessReading:
    """Read witness cones by how far they bent: 0° upright, 90° with the tip at the shelf.

    A cone between the two tells where in the last 20 °C to its own temperature the heat work stood; one
    that is down says at least its temperature, one that stands at most 20 °C below (common practice).
    Temperatures are equivalents at ``rate_c_per_h``.
    """
    if not bends_degrees:
        raise DomainError(say("No witness cone was read."), code="no-cones")
    lows, highs, down, reasons = [], [], None, []
    ordered = sorted(bends_degrees.items(), key=lambda item: heat_order(item[0]))
    for cone, bend in ordered:
        if not isfinite(bend) or not 0 <= bend <= 180:
            raise DomainError(
                say("Cone {cone} can't be bent by {bend} degrees.", cone=cone, bend=bend), code="bend"
            )
        own = temperature_for(cone=cone, rate_c_per_h=rate_c_per_h)
        if bend >= DOWN_AT_DEGREES:
            down = cone
            lows.append(own - TOLERANCE_C)
            reasons.append(say("Cone {cone} is down.", cone=cone))
        elif bend < 5:
            highs.append(own - BEND_BEGINS_C_BELOW + TOLERANCE_C)
            reasons.append(say("Cone {cone} stands.", cone=cone))
        else:
            at = own - BEND_BEGINS_C_BELOW * (1 - bend / 90)
            lows.append(at - TOLERANCE_C)
            highs.append(at + TOLERANCE_C)
            reasons.append(say("Cone {cone} is bent by {bend} degrees.", cone=cone, bend=figure(bend, "g")))
    agree = all(cooler[1] >= hotter[1] for cooler, hotter in pairwise(ordered))
    low, high = max(lows, default=None), min(highs, default=None)
    if not agree:
        reasons.append(
            say("The cones disagree: one that should bend later bent more. Was one turned or chipped?")
        )
    elif low is not None and high is not None and low > high:
        low, high = high, low
    return WitnessReading(down, low, high, agree, tuple(reasons))
