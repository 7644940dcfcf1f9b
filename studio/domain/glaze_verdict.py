"""What may be said of a combination of glazes from its results: reliable here, take care, or too few to say.

The rules are stated, the same for all, and read off the interval, not the rate, so that three good pots
prove nothing. The two limits are the studio's idea of reliable (common practice, no source); the interval is
Wilson's (see `intervals`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from .intervals import Rate, rate
from .say import later, say, say_many

#: Reliable: the true rate of sound pieces is very likely at least this.
RELIABLE_FROM = 0.70
#: Take care: it is very likely at most this.
CARE_UP_TO = 0.90

#: Faults of the making or of the kiln, which no glaze answers for.
NOT_THE_GLAZE: Mapping[str, str] = {
    "s-crack": later("a throwing fault and not the glaze"),
    "rim-crack": later("the making or the drying, not the glaze"),
    "body-crack": later("the making or the drying, not the glaze"),
    "warp": later("the making or the kiln, not the glaze"),
    "bloat": later("the clay or too hot a firing, not the glaze"),
    "dunt": later("cooled too fast, or glaze and clay do not fit"),
}


class Reliability(StrEnum):
    RELIABLE = later("reliable here")
    CARE = later("take care")
    TOO_FEW = later("too few to say")


@dataclass(frozen=True, slots=True)
class Verdict:
    """``sound``, ``flawed`` and ``lost`` with their intervals; ``why`` is the rule that spoke, in words."""

    reliability: Reliability
    sound: Rate
    flawed: Rate
    lost: Rate
    why: str

    @property
    def pieces(self) -> int:
        return self.sound.trials


def verdict(*, sound: int, flawed: int, lost: int) -> Verdict | None:
    """What may be said of so many pieces; None of no pieces. Raises `DomainError` for negative ones."""
    total = sound + flawed + lost
    if total == 0 and min(sound, flawed, lost) == 0:
        return None
    rates = [rate(successes=count, trials=total) for count in (sound, flawed, lost)]
    good = rates[0]
    low, high = round(100 * good.low), round(100 * good.high)
    if good.few:
        said = Reliability.TOO_FEW
        why = say_many(
            "{count} piece says little: it takes ten.", "{count} pieces say little: it takes ten.", total
        )
    elif good.low >= RELIABLE_FROM:
        said = Reliability.RELIABLE
        why = say("At least {low} of 100 are likely to come out sound.", low=low)
    elif good.high <= CARE_UP_TO:
        said = Reliability.CARE
        why = say("No more than {high} of 100 are likely to come out sound.", high=high)
    else:
        said = Reliability.TOO_FEW
        why = say(
            "Between {low} and {high} of 100 may come out sound: more pieces will tell.", low=low, high=high
        )
    return Verdict(said, *rates, why=why)


def outcome_on(*, outcome: str, flaw_surfaces: Iterable[str], surfaces: Iterable[str]) -> str:
    """How these surfaces of a piece came out: a flaw elsewhere does not speak against what is here.

    A lost piece is lost everywhere. A flaw whose surface nobody said counts for all of them, and so does a
    flawed piece of which no flaw was written down.
    """
    seen, here = list(flaw_surfaces), {"", *surfaces}
    if outcome == "flawed" and seen and not any(where in here for where in seen):
        return "sound"
    return outcome
