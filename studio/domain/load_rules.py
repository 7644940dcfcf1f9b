"""Whether a piece may go into a firing by what it is: dry, glazed, of this cone, on a stand where it must be.

Whether there is room for it is the packing's business. All rules here are common practice; where the tutor
may decide otherwise, the problem says that it can be overruled.
"""

from __future__ import annotations

from dataclasses import dataclass

from .cones import hotter, within
from .problems import Problem
from .say import say
from .stages import FiringKind, PieceFacts, load_problems


@dataclass(frozen=True, slots=True)
class GlazeFacts:
    """A glaze as it lies on a piece: its maker's cones, whether it runs, whether it is on the foot."""

    name: str
    cone_from: str
    cone_to: str
    runs: bool = False
    on_foot: bool = False


@dataclass(frozen=True, slots=True)
class LoadFacts:
    """What the rules of a load need to know of a piece. ``cone_wanted`` may be empty: any will do."""

    piece: PieceFacts
    clay: str
    clay_cone: str
    cone_wanted: str = ""
    bare_foot: bool = True
    glazes: tuple[GlazeFacts, ...] = ()


def rule_problems(facts: LoadFacts, *, kind: FiringKind, cone: str, stand_mm: int) -> list[Problem]:
    """Why this piece may not go in, apart from its size and the room there is; empty when it may."""
    found = load_problems(facts.piece, kind)
    if any(not problem.overridable for problem in found):
        return found
    return [
        *found,
        *cone_problems(facts, kind=kind, cone=cone),
        *stand_problems(facts, kind=kind, stand_mm=stand_mm),
    ]


def cone_problems(facts: LoadFacts, *, kind: FiringKind, cone: str) -> list[Problem]:
    """Clay that the firing would be too hot for, glazes that mature elsewhere, another cone asked for."""
    mark = facts.piece.mark
    words = []
    if facts.clay_cone and hotter(cone, facts.clay_cone):
        words.append(
            say(
                "Its clay, {clay}, stands cone {clay_cone} at most.",
                clay=facts.clay,
                clay_cone=facts.clay_cone,
            )
        )
    if kind == FiringKind.GLAZE:
        for glaze in facts.glazes:
            if not within(cone, coldest=glaze.cone_from, hottest=glaze.cone_to):
                span = (
                    glaze.cone_from
                    if glaze.cone_from == glaze.cone_to
                    else say("{cone_from} to {cone_to}", cone_from=glaze.cone_from, cone_to=glaze.cone_to)
                )
                words.append(say("{name} matures at cone {span}.", name=glaze.name, span=span))
        if facts.cone_wanted and facts.cone_wanted != cone:
            words.append(say("Its maker asks for cone {cone_wanted}.", cone_wanted=facts.cone_wanted))
    if not words:
        return []
    message = say(
        "{mark} does not suit cone {cone}. {fromkeys} Keep it for another firing.",
        mark=mark,
        cone=cone,
        fromkeys=" ".join(dict.fromkeys(words)),
    )
    return [Problem("wrong-cone", message, overridable=True, about=mark)]


def why_a_stand(facts: LoadFacts, *, kind: FiringKind) -> str:
    """Why this piece must not touch the kiln shelf in this firing; empty when it may."""
    if kind != FiringKind.GLAZE:
        return ""
    running = [glaze.name for glaze in facts.glazes if glaze.runs]
    if running:
        return say("{running} runs.", running=running[0])
    if any(glaze.on_foot for glaze in facts.glazes):
        return say("There is glaze on its foot.")
    if not facts.bare_foot and facts.glazes:
        return say("It is glazed all round.")
    return ""


def stand_problems(facts: LoadFacts, *, kind: FiringKind, stand_mm: int) -> list[Problem]:
    why = why_a_stand(facts, kind=kind)
    if not why or stand_mm:
        return []
    mark = facts.piece.mark
    return [
        Problem(
            "needs-stand",
            say(
                "{mark} would stick to the kiln shelf. {why} Give it a stand and say how high that is.",
                mark=mark,
                why=why,
            ),
            overridable=True,
            about=mark,
        )
    ]
