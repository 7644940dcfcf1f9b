"""What may be said about food on a piece: decorative only, not known, or tested. Never a promise.

The rules are the studio's, on the careful side of common practice; the limits behind "tested" are in
`release`. Whatever comes out names its reasons, and says that a laboratory and local rules decide. Lead and
cadmium release is measured by ISO 6486 or ASTM C738; no test at home replaces that, so none counts here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from .say import later, listed, lower_first, say

#: Belongs under every advice, on page, mail and card.
CAUTION = later(
    "This is advice, not a promise. Whether a piece may hold food is decided by a "
    "laboratory's test of its glaze and firing, and by local rules. Tests at home, with "
    "lemon juice or a microwave, prove nothing."
)


class FoodUse(StrEnum):
    DECORATIVE_ONLY = "decorative-only"
    NOT_KNOWN = "not-known"
    TESTED = "tested"

    @property
    def words(self) -> str:
        """As people read it: decorative only, not known, tested."""
        return str(_USES[self])


_USES = {
    FoodUse.DECORATIVE_ONLY: later("decorative only"),
    FoodUse.NOT_KNOWN: later("not known"),
    FoodUse.TESTED: later("tested"),
}


@dataclass(frozen=True, slots=True)
class Coat:
    """One coat on one surface: inside, outside, rim, foot or decoration.

    ``glaze`` is its name, empty for clay left bare on purpose. ``food_contact`` is the glaze maker's word:
    ``suitable``, ``unsuitable`` or ``unstated``. ``on_food_side`` says for a decoration whether food or lips
    come to it; None means that nobody said.
    """

    surface: str
    glaze: str = ""
    food_contact: str = "unstated"
    metallic: bool = False
    on_food_side: bool | None = None


@dataclass(frozen=True, slots=True)
class Seen:
    """A flaw seen at unload. An empty ``surface``, or None for ``through_to_body``: nobody said."""

    kind: str
    surface: str = ""
    through_to_body: bool | None = None


class LabOutcome(StrEnum):
    """What a laboratory's figures say of the combination it tested (see `release.judge`)."""

    BELOW = "below"
    CLOSE = "close"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class LabResult:
    """Lead and cadmium release as tested; ``scheme``, ``method`` and ``on`` (its date) are words to print.

    ``same_combination`` and ``same_firing`` say whether the figures are of these glazes on this body, and of
    this cone and kiln: `laboratory` has the rules. ``differs`` is a sentence that says how they are not, and
    ``retest`` one that says why they are due to be tested again.
    """

    outcome: LabOutcome
    scheme: str
    method: str
    on: str
    same_combination: bool = True
    same_firing: bool = True
    differs: str = ""
    retest: str = ""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why: ``code`` for programs, ``message`` a plain sentence, ``points_to`` the advice it leads to."""

    code: str
    message: str
    points_to: FoodUse

    def __str__(self) -> str:
        return self.message


@dataclass(frozen=True, slots=True)
class Advice:
    """``reasons`` is never empty and holds all that were found, those that decided first."""

    use: FoodUse
    reasons: tuple[Reason, ...]
    caution: str = CAUTION

    @property
    def deciding(self) -> tuple[Reason, ...]:
        """The reasons that lead to this advice, without those that would have led to a less careful one."""
        return tuple(reason for reason in self.reasons if reason.points_to == self.use)


#: Where lips, food and drink touch.
_TOUCHED = ("inside", "rim")
_WHERE = {
    "inside": "inside",
    "rim": later("on the rim, where lips touch"),
    "decoration": later("in the decoration"),
}
_EVERYWHERE = {
    "s-crack": later("It has an S-crack; what seeps in can't be washed out."),
    "rim-crack": later("It has a crack in the rim."),
    "body-crack": later("It has a crack in the body."),
    "dunt": later("It has a dunt, a crack from cooling that can grow."),
    "crazing": later("Its glaze is crazed: the piece may be weaker and soak up what it holds."),
    "shivering": later("Its glaze shivers off in sharp flakes."),
    "underfired": later(
        "It was underfired, so its glaze may not have matured and the body may soak up water."
    ),
}
#: Harmless on the outside; a reason where food touches, or where nobody said which surface it is on.
_WHERE_FOOD_TOUCHES = {
    "pinholes": later("There are pinholes in its glaze; they may go through to the body."),
    "blisters": later("There are blisters in its glaze; they break and leave sharp edges."),
    "crawling": later("Its glaze has crawled and left clay bare."),
    "dry-patch": later("There is a dry patch in its glaze."),
}


#: What another glaze firing may mend, so that only what was seen after it counts (common practice).
MENDED_BY_FIRE = frozenset({"pinholes", "blisters", "crawling", "dry-patch", "underfired"})


def food_advice(
    *,
    coats: Iterable[Coat],
    flaws: Iterable[Seen] = (),
    unfinished: bool = False,
    underfired: bool = False,
    overlap_tested: bool = False,
    lab: LabResult | None = None,
) -> Advice:
    """What to tell its maker about eating and drinking from a fired piece, with every reason found.

    The most careful reason decides: decorative only, then not known, then tested. ``unfinished``: a finishing
    job, such as a spur to grind, is still open. ``underfired``: the firing did not reach the glaze's cone.
    Two glazes over each other are an untested overlap unless ``overlap_tested``: each being suitable does not
    prove the two together. ``lab`` counts when it is of this combination and this firing; even then it does
    not excuse an unsuitable glaze or a flaw.
    """
    coats = list(coats)
    reasons = [
        *(_decorative(code, message) for code, message in _unsuitable(coats)),
        *(_decorative(code, message) for code, message in _flawed(flaws, unfinished, underfired)),
    ]
    if lab is not None and lab.same_combination and lab.outcome == LabOutcome.ABOVE:
        tested = say("A laboratory ({method}, {on})", method=lab.method, on=lab.on)
        reasons.append(
            _decorative(
                "lab-above",
                say(
                    "{tested} found more lead or cadmium than {scheme} allows.",
                    tested=tested,
                    scheme=lab.scheme,
                ),
            )
        )
    if lab is None or not (lab.same_combination and lab.same_firing):
        unknown = [*_not_known(coats, overlap_tested), *_not_tested(coats, lab)]
        reasons += [Reason(code, message, FoodUse.NOT_KNOWN) for code, message in unknown]
    elif lab.outcome != LabOutcome.ABOVE:
        reasons.append(Reason("lab-below", _below(lab), FoodUse.TESTED))
        if lab.retest:
            due = say("It is due to be tested again: {retest}", retest=lower_first(lab.retest))
            reasons.append(Reason("lab-retest", due, FoodUse.TESTED))
    order = list(FoodUse)
    reasons = sorted(dict.fromkeys(reasons), key=lambda reason: order.index(reason.points_to))
    return Advice(reasons[0].points_to, tuple(reasons))


def _decorative(code: str, message: str) -> Reason:
    return Reason(code, message, FoodUse.DECORATIVE_ONLY)


def _unsuitable(coats: list[Coat]) -> Iterable[tuple[str, str]]:
    for coat in coats:
        touched = coat.surface in _TOUCHED if coat.on_food_side is None else coat.on_food_side
        if not touched or not coat.glaze:
            continue
        where = _WHERE.get(coat.surface, say("on the {surface}", surface=coat.surface))
        if coat.metallic:
            yield (
                "lustre",
                say(
                    "{glaze} is {where}, and holds metal that vinegar, juice or wine can draw out.",
                    glaze=coat.glaze,
                    where=where,
                ),
            )
        elif coat.food_contact == "unsuitable":
            yield (
                "unsuitable",
                say(
                    "{glaze} is {where}, and its maker says it is not meant for food.",
                    glaze=coat.glaze,
                    where=where,
                ),
            )


def _flawed(flaws: Iterable[Seen], unfinished: bool, underfired: bool) -> Iterable[tuple[str, str]]:
    for seen in flaws:
        if seen.kind in _EVERYWHERE:
            yield seen.kind, _EVERYWHERE[seen.kind]
        elif seen.kind == "pinholes" and seen.through_to_body is not None:
            if seen.through_to_body:
                yield "pinholes", say("It has pinholes through to the body.")
        elif seen.kind in _WHERE_FOOD_TOUCHES and seen.surface not in ("outside", "foot"):
            yield seen.kind, _WHERE_FOOD_TOUCHES[seen.kind]
        elif seen.kind == "sharp-spur" and unfinished:
            yield "sharp-spur", say("It has a sharp spur.")
    if underfired:
        yield "underfired", _EVERYWHERE["underfired"]
    if unfinished:
        yield "unfinished", say("Its finishing is not done, so an edge may still be sharp.")


def _not_known(coats: list[Coat], overlap_tested: bool) -> Iterable[tuple[str, str]]:
    for surface in _TOUCHED:
        here = [coat for coat in coats if coat.surface == surface]
        glazed = {coat.glaze: coat for coat in here if coat.glaze}
        for coat in glazed.values():
            if coat.food_contact not in ("suitable", "unsuitable") and not coat.metallic:
                yield (
                    "not-stated",
                    say("The maker of {glaze} does not say whether it may touch food.", glaze=coat.glaze),
                )
        if len(glazed) > 1 and not overlap_tested:
            names = listed(sorted(glazed))
            yield (
                "overlap",
                say(
                    "{names} overlap {where}; nobody tested the two together.",
                    names=names,
                    where=_WHERE[surface],
                ),
            )
        if not here:
            where = later("inside") if surface == "inside" else later("rim")
            yield "not-recorded", say("What is on the {where} is not written down.", where=where)
        elif not glazed and surface == "inside":
            yield "bare", say("The inside is bare clay, and nobody tested whether it is tight.")
    for coat in coats:
        doubtful = coat.metallic or coat.food_contact != "suitable"
        if coat.surface == "decoration" and coat.glaze and coat.on_food_side is None and doubtful:
            yield (
                "decoration",
                say("{glaze} is in the decoration, and may come near lips or food.", glaze=coat.glaze),
            )


def _not_tested(coats: list[Coat], lab: LabResult | None) -> Iterable[tuple[str, str]]:
    if lab is not None:
        other = say("another combination of glazes") if not lab.same_combination else say("another firing")
        yield "lab-other", lab.differs or say("The laboratory's figures are for {other}.", other=other)
        return
    touching = [coat for coat in coats if coat.surface in _TOUCHED and coat.glaze]
    names = sorted({coat.glaze for coat in touching})
    if names and all(coat.food_contact == "suitable" for coat in touching):
        says = say("The maker of") if len(names) == 1 else say("The makers of")
        call = say("calls it") if len(names) == 1 else say("call them")
        yield (
            "makers-word",
            say(
                "{says} {names} {call} suitable for food, but no laboratory has tested it here.",
                says=says,
                names=listed(names),
                call=call,
            ),
        )
    else:
        yield "not-tested", say("No laboratory has tested this combination and firing for lead and cadmium.")


def _below(lab: LabResult) -> str:
    close = say(", though close to them: have it tested again") if lab.outcome == LabOutcome.CLOSE else ""
    return say(
        "A laboratory ({method}, {on}) tested this combination and firing for lead and "
        "cadmium: below the limits of {scheme}{close}.",
        method=lab.method,
        on=lab.on,
        scheme=lab.scheme,
        close=close,
    )
