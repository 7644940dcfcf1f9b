"""Lead and cadmium release: a laboratory's figures held against the limits of the chosen scheme.

Sources: Council Directive 84/500/EEC, Article 2 (read); US FDA Compliance Policy Guides 545.400 and 545.450
(read; cups and mugs partly from memory); ISO 6486-2:1999 (from memory). Limits and schemes change: this is no
verdict. What counts is the standard in force and the laboratory's own report.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import isfinite

from .problems import DomainError
from .say import figure, later, say

#: Up to this depth ware is flat, mm.
FLAT_MM = 25.0
#: From this capacity on hollow ware is large, litres.
LARGE_L = 1.1
STORAGE_ISO_L = 3.0
STORAGE_EEC_L = 3.0
#: Results from this share of the limit on are called close to it (common practice).
CLOSE_FROM = 0.8


class Scheme(StrEnum):
    EEC = "84/500/EEC"
    FDA = later("FDA CPG 545.400 and 545.450")
    ISO = "ISO 6486-2:1999"


class Kind(StrEnum):
    """What it is used as, where that decides the category."""

    OTHER = "other"
    CUP_OR_MUG = later("cup or mug")
    PITCHER = "pitcher"
    COOKING = later("cooking ware")
    STORAGE = later("storage or packaging")


class Category(StrEnum):
    EEC_1 = later("category 1: flat, or not to be filled")
    EEC_2 = later("category 2: all other that can be filled")
    EEC_3 = later("category 3: cooking ware, storage over 3 L")
    FLAT = "flatware"
    SMALL = later("small hollow-ware")
    LARGE = later("large hollow-ware")
    STORAGE = later("storage hollow-ware")
    CUP = later("cups and mugs")
    PITCHER = "pitchers"
    COOKING = later("cooking ware")


class Rule(StrEnum):
    EACH = later("every specimen")
    MEAN = later("the mean")
    ANY_OF_SIX = later("any one of six")
    MEAN_OF_SIX = later("the average of six")


@dataclass(frozen=True, slots=True)
class Limit:
    lead: float
    cadmium: float
    unit: str
    rule: Rule


LIMITS: dict[tuple[Scheme, Category], Limit] = {
    (Scheme.EEC, Category.EEC_1): Limit(0.8, 0.07, "mg/dm²", Rule.EACH),
    (Scheme.EEC, Category.EEC_2): Limit(4.0, 0.3, "mg/L", Rule.EACH),
    (Scheme.EEC, Category.EEC_3): Limit(1.5, 0.1, "mg/L", Rule.EACH),
    (Scheme.FDA, Category.FLAT): Limit(3.0, 0.5, "µg/mL", Rule.MEAN_OF_SIX),
    (Scheme.FDA, Category.SMALL): Limit(2.0, 0.5, "µg/mL", Rule.ANY_OF_SIX),
    (Scheme.FDA, Category.LARGE): Limit(1.0, 0.25, "µg/mL", Rule.ANY_OF_SIX),
    # Cadmium of cups and pitchers has no figure of its own here: that of small and large hollow ware holds.
    (Scheme.FDA, Category.CUP): Limit(0.5, 0.5, "µg/mL", Rule.ANY_OF_SIX),
    (Scheme.FDA, Category.PITCHER): Limit(0.5, 0.25, "µg/mL", Rule.ANY_OF_SIX),
    (Scheme.ISO, Category.FLAT): Limit(0.8, 0.07, "mg/dm²", Rule.MEAN),
    (Scheme.ISO, Category.SMALL): Limit(2.0, 0.5, "mg/L", Rule.EACH),
    (Scheme.ISO, Category.LARGE): Limit(1.0, 0.25, "mg/L", Rule.EACH),
    (Scheme.ISO, Category.STORAGE): Limit(0.5, 0.25, "mg/L", Rule.EACH),
    (Scheme.ISO, Category.CUP): Limit(0.5, 0.25, "mg/L", Rule.EACH),
    (Scheme.ISO, Category.COOKING): Limit(0.5, 0.05, "mg/L", Rule.EACH),
}


def category(
    *,
    scheme: Scheme,
    depth_mm: float,
    capacity_l: float | None = None,
    kind: Kind = Kind.OTHER,
    can_be_filled: bool = True,
) -> Category:
    """The ware category of a scheme, from measures.

    ``depth_mm`` is from the lowest point inside to the plane of the rim: 25.0 is flat, 25.1 is not.
    ``capacity_l`` decides between small and large: 1.099 is small, 1.100 is large. Raises `DomainError`
    when a measure that decides is missing or nonsense.
    """
    if not isfinite(depth_mm) or not 0 <= depth_mm <= 2000:
        raise DomainError(say("The inside depth must be between 0 and 2,000 mm."), code="depth")
    if capacity_l is not None and (not isfinite(capacity_l) or not 0 < capacity_l <= 500):
        raise DomainError(say("The capacity must be above 0 and at most 500 litres."), code="capacity")
    if scheme == Scheme.EEC:
        return _eec(depth_mm, capacity_l, kind, can_be_filled)
    special = {
        Scheme.FDA: {Kind.CUP_OR_MUG: Category.CUP, Kind.PITCHER: Category.PITCHER},
        Scheme.ISO: {Kind.CUP_OR_MUG: Category.CUP, Kind.COOKING: Category.COOKING},
    }[scheme]
    if kind in special:
        return special[kind]
    if depth_mm <= FLAT_MM or not can_be_filled:
        return Category.FLAT
    litres = _needed(capacity_l)
    if scheme == Scheme.ISO and litres >= STORAGE_ISO_L:
        return Category.STORAGE
    return Category.LARGE if litres >= LARGE_L else Category.SMALL


def _eec(depth_mm: float, capacity_l: float | None, kind: Kind, can_be_filled: bool) -> Category:
    if kind == Kind.COOKING:
        return Category.EEC_3
    if kind == Kind.STORAGE and _needed(capacity_l) > STORAGE_EEC_L:
        return Category.EEC_3
    if not can_be_filled or depth_mm <= FLAT_MM:
        return Category.EEC_1
    return Category.EEC_2


def _needed(capacity_l: float | None) -> float:
    if capacity_l is None:
        raise DomainError(say("The capacity decides here. Measure it and enter litres."), code="capacity")
    return capacity_l


class Finding(StrEnum):
    BELOW = "below"
    CLOSE = "close"
    ABOVE = "above"
    RETEST = "retest"


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the figures say against one limit. ``worst_share`` is the deciding figure ÷ its limit.

    ``retest`` is 84/500/EEC's tolerance: one specimen above, by half the limit at most, is let pass if three
    more identical ones have a mean within the limits and none above the tolerance. ``reasons`` are sentences.
    """

    finding: Finding
    worst_share: float
    limit: Limit
    reasons: tuple[str, ...]


def judge(
    *,
    scheme: Scheme,
    category: Category,
    lead: Sequence[float],
    cadmium: Sequence[float],
    further_lead: Sequence[float] = (),
    further_cadmium: Sequence[float] = (),
) -> Judgement:
    """Hold a laboratory's figures, one per specimen and in the limit's unit, against a scheme's limits.

    At the limit counts as within it. ``further_…`` are the results of the further specimens of 84/500/EEC's
    tolerance. The FDA's rules ask for six specimens: fewer never come out as below. Raises `DomainError`
    for no, negative or uneven figures, and for a category the scheme does not have.
    """
    limit = LIMITS.get((scheme, category))
    if limit is None:
        raise DomainError(
            say("{scheme} has no category {category}.", scheme=scheme, category=category), code="category"
        )
    for name, figures in (
        ("lead", lead),
        ("cadmium", cadmium),
        ("lead", further_lead),
        ("cadmium", further_cadmium),
    ):
        if any(not isfinite(figure) or figure < 0 for figure in figures):
            raise DomainError(say("A {name} figure must be 0 or more.", name=name), code="figure")
    if not lead or len(lead) != len(cadmium) or len(further_lead) != len(further_cadmium):
        raise DomainError(say("Each specimen needs a lead and a cadmium figure."), code="figures")

    shares, reasons = {}, []
    for name, figures, most in ((say("Lead"), lead, limit.lead), (say("Cadmium"), cadmium, limit.cadmium)):
        mean = limit.rule in (Rule.MEAN, Rule.MEAN_OF_SIX)
        decides = _mean(figures) if mean else _exact(max(figures))
        shares[name] = float(decides / _exact(most))
        what = say("mean") if mean else say("highest")
        reasons.append(
            say(
                "{name}: {what} {float} of at most {most} {unit}.",
                name=name,
                what=what,
                float=figure(float(decides), "g"),
                most=figure(most, "g"),
                unit=limit.unit,
            )
        )
    worst = max(shares.values())
    finding = Finding.ABOVE if worst > 1 else Finding.CLOSE if worst >= CLOSE_FROM else Finding.BELOW
    if finding == Finding.ABOVE and scheme == Scheme.EEC:
        finding = _tolerance(limit, lead, cadmium, further_lead, further_cadmium, reasons)
    if limit.rule in (Rule.ANY_OF_SIX, Rule.MEAN_OF_SIX) and len(lead) < 6 and finding != Finding.ABOVE:
        finding = Finding.RETEST
        reasons.append(
            say("{scheme} asks for six specimens; there are {count}.", scheme=scheme, count=len(lead))
        )
    if finding == Finding.CLOSE and worst <= 1:
        reasons.append(
            say(
                "That is {worst} of the limit: close to it. Have it tested again after any change.",
                worst=figure(worst, ".0%"),
            )
        )
    return Judgement(finding, worst, limit, tuple(reasons))


def _tolerance(
    limit: Limit,
    lead: Sequence[float],
    cadmium: Sequence[float],
    further_lead: Sequence[float],
    further_cadmium: Sequence[float],
    reasons: list[str],
) -> Finding:
    """84/500/EEC, Article 2(5): one may exceed by at most 50 % if at least three more like it pass."""
    pairs = ((lead, further_lead, limit.lead), (cadmium, further_cadmium, limit.cadmium))
    over = {place for first, _, most in pairs for place, figure in enumerate(first) if figure > most}
    half_more = Fraction(3, 2)
    if len(over) > 1 or any(
        _exact(figure) > half_more * _exact(most) for first, _, most in pairs for figure in first
    ):
        reasons.append(say("That is more than the tolerance of half the limit on one specimen allows."))
        return Finding.ABOVE
    if len(further_lead) < 3:
        reasons.append(
            say("One specimen is above by half the limit at most: three more like it must be tested.")
        )
        return Finding.RETEST
    for _, further, most in pairs:
        if _mean(further) > _exact(most) or any(
            _exact(figure) > half_more * _exact(most) for figure in further
        ):
            reasons.append(say("The further specimens do not bear it out."))
            return Finding.ABOVE
    reasons.append(
        say(
            "One is above within the tolerance, and {count} further ones bear it out.",
            count=len(further_lead),
        )
    )
    return Finding.CLOSE


def _exact(figure: float) -> Fraction:
    # As written in the report: 0.07 is seven hundredths, not the nearest binary fraction.
    return Fraction(str(figure))


def _mean(figures: Sequence[float]) -> Fraction:
    return sum((_exact(figure) for figure in figures), start=Fraction(0)) / len(figures)
