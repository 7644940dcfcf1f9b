"""What a programme is fired for, and whether its glazes suit."""

from __future__ import annotations

from dataclasses import dataclass

from .cones import CONES, heat_order
from .problems import Problem
from .say import say


@dataclass(frozen=True, slots=True)
class Ware:
    """What goes in: whether any of it may be damp, greenware or not, and each glaze's cones as (name, from,
    to).

    ``thick`` greenware has a part over 15 mm (common practice).
    """

    damp: bool = False
    greenware: bool = False
    thick: bool = False
    glazes: tuple[tuple[str, str, str], ...] = ()


def glaze_ranges(cone: str | None, ware: Ware) -> list[Problem]:
    if cone is None:
        return []
    found = []
    for name, low, high in ware.glazes:
        first, last = sorted((heat_order(low), heat_order(high)))
        if not first <= heat_order(cone) <= last:
            span = (
                CONES[first]
                if first == last
                else say("{cones} to {cones_2}", cones=CONES[first], cones_2=CONES[last])
            )
            found.append(
                Problem(
                    "glaze-range",
                    say(
                        "{name} matures at cone {span}; this firing goes to cone {cone}.",
                        name=name,
                        span=span,
                        cone=cone,
                    ),
                    overridable=True,
                )
            )
    return found
