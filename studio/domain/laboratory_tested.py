"""What a laboratory tested, and how a pot differs from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from . import release
from .say import say


@dataclass(frozen=True, slots=True)
class Coating:
    """One glaze of a combination: its name and its number in the books.

    ``batch`` is the name of the batch, empty where none is kept; ``changed_on`` when it was last made in
    another way; ``on`` when it was put on, or tested.
    ``doubtful``: metallic, or not called suitable for food by its maker.
    """

    glaze: str
    key: int = 0
    batch: str = ""
    changed_on: date | None = None
    on: date | None = None
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class Fire:
    """A glaze firing: kiln and cone by name, the programme's segments where they are known."""

    kiln: str
    cone: str
    programme: tuple[tuple[object, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Tested:
    """A laboratory's test. ``coatings`` from the clay up; ``why`` what its figures lack, or empty."""

    coatings: tuple[Coating, ...]
    body: str
    fire: Fire
    on: date
    on_words: str
    method: str
    scheme: str
    finding: release.Finding | None
    why: str = ""
    retest: str = ""


def other_glazing(tested: Tested, coatings: Sequence[Coating], body: str) -> str:
    """Why the figures are not of these glazes as they are on this body; empty when they are."""
    if [coat.key for coat in tested.coatings] != [coat.key for coat in coatings]:
        return say("The laboratory tested other glazes.")
    if tested.body != body:
        return say("The laboratory tested it on {body}, and this is {body_2}.", body=tested.body, body_2=body)
    for theirs, here in zip(tested.coatings, coatings, strict=True):
        if theirs.batch != here.batch:
            if not here.batch:
                return say("Which batch of {glaze} is on it is not written down.", glaze=here.glaze)
            if not theirs.batch:
                return say(
                    "Which batch of {glaze} the laboratory tested is not written down.", glaze=here.glaze
                )
            return say(
                "The laboratory tested batch {batch} of {glaze}. This has batch {here_batch}.",
                batch=theirs.batch,
                glaze=here.glaze,
                here_batch=here.batch,
            )
        if here.changed_on and here.on and tested.on <= here.changed_on <= here.on:
            return say("{glaze} is made in another way since the laboratory tested it.", glaze=here.glaze)
    return ""


def other_firing(tested: Fire, fires: Sequence[Fire]) -> str:
    """Why the figures are not of a firing like this piece's; empty when they are."""
    if not fires:
        return say("Which firing it went through is not written down.")
    if len(fires) > 1:
        return say("It was fired again after its glaze firing, and the laboratory's pots were not.")
    fire = fires[0]
    if fire.kiln != tested.kiln:
        return say(
            "The laboratory's pots were fired in {kiln}, and this was fired in {fire_kiln}.",
            kiln=tested.kiln,
            fire_kiln=fire.kiln,
        )
    if fire.cone != tested.cone:
        return say(
            "The laboratory's pots were fired to cone {cone}, and this to cone {fire_cone}.",
            cone=tested.cone,
            fire_cone=fire.cone,
        )
    if tested.programme and fire.programme != tested.programme:
        return say("The laboratory's pots were fired with another programme.")
    return ""
