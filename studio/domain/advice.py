"""Advice on using a piece for food and drink. It is advice, never a promise, and always names its reasons.

The rules are the studio's (common practice); what a laboratory and local rules say comes before them. Lead
and cadmium release is measured by ISO 6486 or ASTM C738; no test at home replaces that, so none counts here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class FoodUse(StrEnum):
    DECORATIVE_ONLY = "decorative-only"
    NOT_KNOWN = "not-known"
    MAKERS_WORD = "makers-word"


@dataclass(frozen=True, slots=True)
class Coat:
    """One coat on one surface. ``glaze`` is its name, empty for clay left bare on purpose.

    ``food_contact`` is the glaze maker's word: ``suitable``, ``unsuitable`` or ``unstated``.
    """

    surface: str
    glaze: str = ""
    food_contact: str = "unstated"
    metallic: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """A flaw seen at unload; ``surface`` may be empty when nobody said where."""

    kind: str
    surface: str = ""


@dataclass(frozen=True, slots=True)
class Advice:
    use: FoodUse
    reasons: tuple[str, ...]


#: Where lips, food and drink touch.
_TOUCHED = ("inside", "rim")
_WHERE = {"inside": "inside", "rim": "on the rim, where lips touch"}
_CRACKS = {
    "s-crack": "It has an S-crack; what seeps in can't be washed out.",
    "rim-crack": "It has a crack in the rim.",
    "body-crack": "It has a crack in the body.",
    "dunt": "It has a dunt, a crack from cooling that can grow.",
}
_EVERYWHERE = {
    **_CRACKS,
    "crazing": "Its glaze is crazed; the fine cracks hold what they soak up.",
    "shivering": "Its glaze shivers off in sharp flakes.",
    "underfired": "It was underfired, so its glaze may not be sealed or hold what it is made of.",
}
#: Harmless on the outside; a reason where food touches, or where nobody said which surface it is on.
_WHERE_FOOD_TOUCHES = {
    "pinholes": "There are pinholes in its glaze; they may go through to the body.",
    "blisters": "There are blisters in its glaze; they break and leave sharp edges.",
    "crawling": "Its glaze has crawled and left clay bare.",
    "dry-patch": "There is a dry patch in its glaze.",
}
_SHARP = {"sharp-spur": "It has a sharp spur."}


def food_advice(*, coats: Iterable[Coat], flaws: Iterable[Seen] = (), unfinished: bool = False) -> Advice:
    """What to tell its maker about eating and drinking from a fired piece, with every reason found.

    ``unfinished``: a finishing job, such as a spur to grind, is still open.
    """
    coats = list(coats)
    stop: list[str] = []
    unknown: list[str] = []
    for surface in _TOUCHED:
        here = [coat for coat in coats if coat.surface == surface]
        glazed = {coat.glaze: coat for coat in here if coat.glaze}
        for coat in glazed.values():
            if coat.metallic or coat.food_contact == "unsuitable":
                stop.append(_unsuitable(coat))
            elif coat.food_contact != "suitable":
                unknown.append(f"The maker of {coat.glaze} does not say whether it may touch food.")
        if len(glazed) > 1:
            unknown.append(
                f"{' and '.join(sorted(glazed))} overlap {_WHERE[surface]}; nobody tested the two together."
            )
        if not here:
            unknown.append(
                "What is on the inside is not written down."
                if surface == "inside"
                else "What is on the rim is not written down."
            )
        elif not glazed and surface == "inside":
            unknown.append("The inside is bare clay, and nobody tested whether it is tight.")
    for coat in coats:
        if coat.surface == "decoration" and (coat.metallic or coat.food_contact == "unsuitable"):
            unknown.append(f"{coat.glaze} is in the decoration, and may come near lips or food.")
    for flaw in flaws:
        if flaw.kind in _EVERYWHERE:
            stop.append(_EVERYWHERE[flaw.kind])
        elif flaw.kind in _WHERE_FOOD_TOUCHES and flaw.surface in {"", *_TOUCHED}:
            stop.append(_WHERE_FOOD_TOUCHES[flaw.kind])
        elif flaw.kind in _SHARP and unfinished:
            stop.append(_SHARP[flaw.kind])
    if unfinished:
        stop.append("Its finishing is not done, so an edge may still be sharp.")
    if stop:
        return Advice(FoodUse.DECORATIVE_ONLY, _once(stop))
    if unknown:
        return Advice(FoodUse.NOT_KNOWN, _once(unknown))
    names = sorted({coat.glaze for coat in coats if coat.surface in _TOUCHED and coat.glaze})
    makers = "maker says it is" if len(names) == 1 else "makers say they are"
    return Advice(
        FoodUse.MAKERS_WORD,
        (f"Inside and on the rim is {' and '.join(names)}; the {makers} suitable.",),
    )


def _unsuitable(coat: Coat) -> str:
    why = "holds metal that vinegar, juice or wine can draw out" if coat.metallic else "is not meant for food"
    return f"{coat.glaze} is {_WHERE[coat.surface]}, and {why}."


def _once(reasons: list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(reasons))
