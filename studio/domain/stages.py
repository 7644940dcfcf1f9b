"""The stages of a piece, the routes it may take, and which step may follow which.

The one home of the stage enum and its named sets. Everything here is a rule of the studio (common practice);
the stage of a real piece is what its events say.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from .problems import Problem
from .say import later, midway, say


class Stage(StrEnum):
    WET = "wet"
    LEATHER_HARD = "leather-hard"
    BONE_DRY = "bone-dry"
    BISQUE_FIRING = "bisque-firing"
    BISQUED = "bisqued"
    GLAZED = "glazed"
    GLAZE_FIRING = "glaze-firing"
    LOW_FIRING = "low-firing"
    FIRED = "fired"
    FINISHING = "finishing"
    READY = "ready"
    COLLECTED = "collected"
    LOST = "lost"
    RECLAIMED = "reclaimed"
    UNCLAIMED = "unclaimed"
    WITHDRAWN = "withdrawn"


STAGE_WORDS: dict[Stage, str] = {
    Stage.WET: later("Wet"),
    Stage.LEATHER_HARD: later("Leather-hard"),
    Stage.BONE_DRY: later("Bone dry"),
    Stage.BISQUE_FIRING: later("In the bisque firing"),
    Stage.BISQUED: later("Bisqued"),
    Stage.GLAZED: later("Glazed"),
    Stage.GLAZE_FIRING: later("In the glaze firing"),
    Stage.LOW_FIRING: later("In a low firing"),
    Stage.FIRED: later("Fired"),
    Stage.FINISHING: later("Finishing"),
    Stage.READY: later("Ready"),
    Stage.COLLECTED: later("Collected"),
    Stage.LOST: later("Lost"),
    Stage.RECLAIMED: later("Reclaimed"),
    Stage.UNCLAIMED: later("Unclaimed"),
    Stage.WITHDRAWN: later("Entered by mistake"),
}


class Route(StrEnum):
    BISQUE_THEN_GLAZE = "bisque-then-glaze"
    BISQUE_ONLY = "bisque-only"
    SINGLE_FIRED = "single-fired"


ROUTE_WORDS: dict[Route, str] = {
    Route.BISQUE_THEN_GLAZE: later("Bisque, then glaze"),
    Route.BISQUE_ONLY: later("Bisque only"),
    Route.SINGLE_FIRED: later("Single fired"),
}


class FiringKind(StrEnum):
    BISQUE = "bisque"
    GLAZE = "glaze"
    LOW = "low"


FIRING_WORDS: dict[FiringKind, str] = {
    FiringKind.BISQUE: later("Bisque firing"),
    FiringKind.GLAZE: later("Glaze firing"),
    FiringKind.LOW: later("Low firing"),
}


class Outcome(StrEnum):
    SOUND = "sound"
    FLAWED = "flawed"
    LOST = "lost"


GREENWARE = frozenset({Stage.WET, Stage.LEATHER_HARD, Stage.BONE_DRY})
IN_KILN = frozenset({Stage.BISQUE_FIRING, Stage.GLAZE_FIRING, Stage.LOW_FIRING})
AFTER_LAST_FIRING = frozenset({Stage.FIRED, Stage.FINISHING, Stage.READY})
ENDED = frozenset({Stage.COLLECTED, Stage.LOST, Stage.RECLAIMED, Stage.UNCLAIMED, Stage.WITHDRAWN})
LIVE = frozenset(Stage) - ENDED
#: A piece can be slaked down only while no fire has touched it.
CAN_BE_RECLAIMED = GREENWARE

STAGE_IN_FIRING: dict[FiringKind, Stage] = {
    FiringKind.BISQUE: Stage.BISQUE_FIRING,
    FiringKind.GLAZE: Stage.GLAZE_FIRING,
    FiringKind.LOW: Stage.LOW_FIRING,
}

#: The steps a person may take by hand, outside kilns: from -> allowed next stages.
_BY_HAND: dict[Stage, frozenset[Stage]] = {
    Stage.WET: frozenset({Stage.LEATHER_HARD, Stage.BONE_DRY}),
    Stage.LEATHER_HARD: frozenset({Stage.WET, Stage.BONE_DRY}),
    Stage.BONE_DRY: frozenset({Stage.LEATHER_HARD, Stage.GLAZED}),
    Stage.BISQUED: frozenset({Stage.GLAZED}),
    Stage.GLAZED: frozenset({Stage.BISQUED, Stage.BONE_DRY}),
    Stage.FIRED: frozenset({Stage.FINISHING, Stage.READY}),
    Stage.FINISHING: frozenset({Stage.READY}),
    Stage.READY: frozenset({Stage.FINISHING}),
}


@dataclass(frozen=True, slots=True)
class PieceFacts:
    """What the stage rules need to know of a piece.

    ``surfaces_glazed`` counts surfaces that carry a glaze; ``low_firings_left`` counts lustre or transfer
    firings still wanted; ``open_jobs`` counts finishing jobs not done; ``bisqued_before`` is true once it has
    been through a bisque firing.
    """

    mark: str
    stage: Stage
    route: Route
    surfaces_glazed: int = 0
    low_firings_left: int = 0
    open_jobs: int = 0
    bisqued_before: bool = False


def by_hand(facts: PieceFacts) -> list[Stage]:
    """Stages this piece may be moved to by hand now, in working order."""
    order = list(Stage)
    allowed = [stage for stage in _BY_HAND.get(facts.stage, frozenset()) if not move_problems(facts, stage)]
    return sorted(allowed, key=order.index)


def move_problems(facts: PieceFacts, to: Stage) -> list[Problem]:
    """Why a person may not move this piece to the stage ``to`` by hand; empty when they may."""
    mark, stage = facts.mark, facts.stage
    if to == stage:
        return [
            Problem(
                "already-there",
                say("{mark} is already {stage_words}.", mark=mark, stage_words=midway(STAGE_WORDS[stage])),
                about=mark,
            )
        ]
    if stage in ENDED:
        return [
            Problem(
                "ended",
                say(
                    "{mark} is {stage_words}. Undo that first to move it.",
                    mark=mark,
                    stage_words=midway(STAGE_WORDS[stage]),
                ),
                about=mark,
            )
        ]
    if stage in IN_KILN:
        return [
            Problem(
                "in-kiln", say("{mark} is in a kiln. Unload the firing to move it on.", mark=mark), about=mark
            )
        ]
    if to not in _BY_HAND.get(stage, frozenset()):
        return [
            Problem(
                "no-such-step",
                say(
                    "{mark} is {stage_words}; it can't become {stage_words_2} by hand.",
                    mark=mark,
                    stage_words=midway(STAGE_WORDS[stage]),
                    stage_words_2=midway(STAGE_WORDS[to]),
                ),
                about=mark,
            )
        ]
    if to == Stage.GLAZED and stage == Stage.BONE_DRY and facts.route != Route.SINGLE_FIRED:
        return [
            Problem(
                "not-single-fired",
                say(
                    "{mark} is to be bisqued first. Change its route to single fired to glaze it raw.",
                    mark=mark,
                ),
                about=mark,
            )
        ]
    if to == Stage.GLAZED and facts.route == Route.BISQUE_ONLY:
        return [
            Problem(
                "bisque-only",
                say("{mark} is bisque only. Change its route to have it glaze fired.", mark=mark),
                about=mark,
            )
        ]
    if stage == Stage.GLAZED and to == Stage.BISQUED and not facts.bisqued_before:
        return [
            Problem(
                "never-bisqued",
                say("{mark} has not been bisqued. Move it back to bone dry.", mark=mark),
                about=mark,
            )
        ]
    if stage == Stage.GLAZED and to == Stage.BONE_DRY and facts.bisqued_before:
        return [
            Problem(
                "was-bisqued", say("{mark} has been bisqued. Move it back to bisqued.", mark=mark), about=mark
            )
        ]
    if to == Stage.READY and facts.open_jobs:
        return [
            Problem(
                "jobs-open",
                (
                    say(
                        "{mark} still has {open_jobs} finishing jobs. Tick them off first.",
                        mark=mark,
                        open_jobs=facts.open_jobs,
                    )
                    if facts.open_jobs > 1
                    else say(
                        "{mark} still has {open_jobs} finishing job. Tick them off first.",
                        mark=mark,
                        open_jobs=facts.open_jobs,
                    )
                ),
                about=mark,
            )
        ]
    return []


def firing_wanted(facts: PieceFacts) -> FiringKind | None:
    """The kind of firing this piece is waiting for, or None. Greenware waits for its first one."""
    if facts.stage in GREENWARE:
        return FiringKind.GLAZE if facts.route == Route.SINGLE_FIRED else FiringKind.BISQUE
    if facts.stage in {Stage.BISQUED, Stage.GLAZED}:
        return None if facts.route == Route.BISQUE_ONLY else FiringKind.GLAZE
    if facts.stage in {Stage.FIRED, Stage.READY} and facts.low_firings_left:
        return FiringKind.LOW
    return None


def load_problems(facts: PieceFacts, kind: FiringKind) -> list[Problem]:
    """Why this piece may not go into a firing of this kind, by its stage alone (size and cone: elsewhere)."""
    mark, stage = facts.mark, facts.stage
    if stage in ENDED:
        return [
            Problem(
                "ended",
                say("{mark} is {stage_words}.", mark=mark, stage_words=midway(STAGE_WORDS[stage])),
                about=mark,
            )
        ]
    if stage in IN_KILN:
        return [Problem("in-kiln", say("{mark} is in a kiln already.", mark=mark), about=mark)]
    wanted = firing_wanted(facts)
    if wanted is None:
        return [Problem("wants-no-firing", say("{mark} is not waiting for a firing.", mark=mark), about=mark)]
    if wanted != kind:
        waits_for, this = FIRING_WORDS[wanted].lower(), FIRING_WORDS[kind].lower()
        return [
            Problem(
                "wrong-kind",
                say(
                    "{mark} is waiting for a {waits_for}, not a {this}.",
                    mark=mark,
                    waits_for=waits_for,
                    this=this,
                ),
                about=mark,
            )
        ]
    if stage in {Stage.WET, Stage.LEATHER_HARD}:
        return [
            Problem(
                "not-bone-dry",
                say(
                    "{mark} is {stage_words}. Wait until it is bone dry: steam bursts damp ware.",
                    mark=mark,
                    stage_words=midway(STAGE_WORDS[stage]),
                ),
                overridable=True,
                about=mark,
            )
        ]
    if kind == FiringKind.GLAZE and stage != Stage.GLAZED:
        return [
            Problem("unglazed", say("{mark} is not glazed yet.", mark=mark), overridable=True, about=mark)
        ]
    return []


def after_unload(
    *, kind: FiringKind, route: Route, outcome: Outcome, jobs: int, low_firings_left: int
) -> Stage:
    """The stage of a piece once it is answered at unload.

    A flawed piece after its last firing stays ``fired`` until the tutor decides: ready as it is, refire, or
    lost. ``low_firings_left`` counts those still wanted after this firing.
    """
    if outcome == Outcome.LOST:
        return Stage.LOST
    if kind == FiringKind.BISQUE and route != Route.BISQUE_ONLY:
        return Stage.BISQUED
    if jobs:
        return Stage.FINISHING
    if outcome == Outcome.FLAWED or low_firings_left:
        return Stage.FIRED
    return Stage.READY


def track(route: Route, *, low_firings: int = 0, finishing: bool = False) -> list[Stage]:
    """The stages on this route from wet to collected, in order, for a stage track on a page."""
    stages = [Stage.WET, Stage.LEATHER_HARD, Stage.BONE_DRY]
    if route != Route.SINGLE_FIRED:
        stages.append(Stage.BISQUE_FIRING)
    if route == Route.BISQUE_THEN_GLAZE:
        stages.append(Stage.BISQUED)
    if route != Route.BISQUE_ONLY:
        stages += [Stage.GLAZED, Stage.GLAZE_FIRING]
    if low_firings:
        stages.append(Stage.LOW_FIRING)
    if finishing:
        stages.append(Stage.FINISHING)
    return [*stages, Stage.READY, Stage.COLLECTED]
