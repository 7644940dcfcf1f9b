"""How to look after a piece at home, as plain lines. All of it is common practice, no source."""

from __future__ import annotations

from .advice import FoodUse
from .say import say


def care_lines(
    *,
    use: FoodUse,
    metallic: bool = False,
    bare_foot: bool = False,
    crazed: bool = False,
    outdoor: bool = False,
) -> list[str]:
    """What to tell whoever takes it home, the most needed first.

    ``metallic``: a lustre or other metal is on it. ``crazed``: its glaze has fine cracks. ``outdoor``: it is
    meant to stand outside.
    """
    lines = []
    if metallic:
        lines.append(say("There is metal in its glaze: never put it in a microwave."))
    if use == FoodUse.DECORATIVE_ONLY:
        lines.append(say("Wipe it with a damp cloth. For fresh flowers, stand a glass of water inside."))
    else:
        lines.append(say("Wash it by hand with a soft cloth. A dishwasher wears many glazes."))
    lines.append(
        say("Sudden heat or cold cracks fired clay: no flame, no hob, and nothing boiling into a cold piece.")
    )
    if crazed:
        lines.append(say("Its glaze is crazed, so it may weep: stand it on nothing that water spoils."))
    elif bare_foot:
        lines.append(say("Its foot is bare clay and may scratch or leave damp: put felt or a mat under it."))
    if outdoor:
        lines.append(say("Bring it in before the first frost unless you know that its clay stands it."))
    return lines
