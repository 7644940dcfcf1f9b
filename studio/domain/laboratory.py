"""What a laboratory's figures say of one piece: whether they are of its glazes, its body and its firing.

The same combination: the same glazes over each other, on the same body; of the same batch wherever batches
are kept; and made in the same way as when they were tested. The same firing: the same kiln, to the same cone,
with the same programme where the tested one is known; and fired once, as the specimens were. These rules are
on the careful side of common practice (no source). Figures are held against limits by `release`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from . import release
from .advice import LabOutcome, LabResult
from .calendar_days import years_after
from .laboratory_tested import Coating, Fire, Tested, other_firing, other_glazing
from .problems import DomainError
from .say import later, say

#: Standards that measure what the limits are about, as reports name them.
_STANDARDS = re.compile(
    r"(ISO\s*6486|ASTM\s*C\s*-?738|EN\s*1388|84/500/EEC|ISO\s*4531|ASTM\s*C\s*-?927)", re.IGNORECASE
)
_AT_HOME = re.compile(
    r"lemon|vinegar|microwave|home|kitchen|kit\b|swab|dishwasher|bleach|citric|juice|wine|soda", re.IGNORECASE
)
_FIGURE = re.compile(r"(<?)\s*([0-9]{1,6}(?:[.,][0-9]{1,6})?)\Z")
MOST_SPECIMENS = 24
MG_L, MG_DM2 = "mg-l", "mg-dm2"
#: The units of limits -> ours. A microgram in a millilitre is a milligram in a litre.
_UNITS = {"mg/L": MG_L, "µg/mL": MG_L, "mg/dm²": MG_DM2}


def clean_method(text: str) -> str:
    """The method as the report names it. Raises `DomainError` for a test at home or no method."""
    text = text.strip()
    if _STANDARDS.search(text):
        return text
    if _AT_HOME.search(text):
        raise DomainError(
            say(
                "A test at home is good to have tried, but it can't show lead or cadmium, so it can't stand "
                "here as a result. Keep it as a note on the glaze, and ask a laboratory for ISO 6486 or "
                "ASTM C738."
            ),
            code="home-test",
        )
    raise DomainError(
        say(
            "Write the method as the report names it, such as ISO 6486-1 or ASTM C738: only those measure "
            "what the limits are about."
        ),
        code="method",
    )


def figures(text: str, *, what: str) -> list[str]:
    """Figures of specimens, parted by spaces, semicolons or lines: ``0.12 <0.02`` as ``["0.12", "<0.02"]``.

    ``<`` is the laboratory's limit of detection. A comma within a figure is a point.
    """
    found = []
    for word in re.sub(r"<\s+", "<", text.replace(";", " ")).split():
        figure = _FIGURE.match(word.rstrip(","))
        if figure is None:
            raise DomainError(
                say(
                    "“{word}” is no figure of {what}. Write one for each specimen with a space between, "
                    "like 0.12 0.15; where nothing was found, the limit of detection, like <0.02.",
                    word=word[:20],
                    what=what,
                ),
                code="figure",
            )
        found.append(f"{figure[1]}{figure[2].replace(',', '.')}")
    if len(found) > MOST_SPECIMENS:
        raise DomainError(
            say("That is more than {most} specimens. Check the figures.", most=MOST_SPECIMENS), code="figure"
        )
    return found


def number(figure: str) -> float:
    """A figure as a number; below detection counts as just there, which is on the careful side."""
    return float(figure.lstrip("<"))


@dataclass(frozen=True, slots=True)
class Held:
    """Figures held against a scheme: its category and judgement, or neither and ``problem``, a sentence."""

    scheme: release.Scheme
    category: release.Category | None = None
    judgement: release.Judgement | None = None
    problem: str = ""

    @property
    def finding(self) -> release.Finding | None:
        return self.judgement.finding if self.judgement else None


def held_against(
    *,
    scheme: release.Scheme,
    kind: release.Kind,
    depth_mm: int,
    capacity_ml: int | None,
    can_be_filled: bool,
    unit: str,
    lead: Sequence[str],
    cadmium: Sequence[str],
    further_lead: Sequence[str] = (),
    further_cadmium: Sequence[str] = (),
) -> Held:
    """What the figures come to by this scheme; never raises: what can't be judged says why."""
    try:
        category = release.category(
            scheme=scheme,
            depth_mm=depth_mm,
            capacity_l=None if capacity_ml is None else capacity_ml / 1000,
            kind=kind,
            can_be_filled=can_be_filled,
        )
        limit = release.LIMITS[scheme, category]
        if _UNITS[limit.unit] != unit:
            given = "mg/dm²" if unit == MG_DM2 else "mg/L"
            return Held(
                scheme,
                category,
                problem=say(
                    "{scheme} limits {category} in {unit}, and the figures are in {given}. Ask the "
                    "laboratory for the others.",
                    scheme=scheme,
                    category=category,
                    unit=limit.unit,
                    given=given,
                ),
            )
        judgement = release.judge(
            scheme=scheme,
            category=category,
            lead=[number(figure) for figure in lead],
            cadmium=[number(figure) for figure in cadmium],
            further_lead=[number(figure) for figure in further_lead],
            further_cadmium=[number(figure) for figure in further_cadmium],
        )
    except DomainError as error:
        return Held(scheme, problem=error.message)
    return Held(scheme, category, judgement)


_OUTCOMES = {
    release.Finding.BELOW: LabOutcome.BELOW,
    release.Finding.CLOSE: LabOutcome.CLOSE,
    release.Finding.ABOVE: LabOutcome.ABOVE,
}
_TOUCHED = {"inside": "inside", "rim": later("on the rim")}


def weigh(
    tests: Iterable[Tested],
    *,
    surfaces: Mapping[str, Sequence[Coating]],
    body: str,
    fires: Sequence[Fire],
) -> LabResult | None:
    """The one result that `advice.food_advice` is to hear of, the most careful one; None when nobody tested.

    ``surfaces`` holds what is on each surface that is written down, from the clay up, empty for bare clay.
    Every glaze that food or lips touch must have been tested, else the figures are of another combination.
    """
    tests = sorted(tests, key=lambda test: test.on, reverse=True)
    found: list[LabResult] = []
    missing = ""
    for surface, where in _TOUCHED.items():
        coatings = surfaces.get(surface)
        if coatings is None:
            missing = missing or say(
                "What is {where} is not written down, so no figures can be held to it.", where=where
            )
        elif not coatings:
            if surface == "inside":
                missing = missing or say("The inside is bare clay, which the laboratory did not test.")
        elif (result := _of_surface(tests, coatings, body, fires)) is not None:
            found.append(result)
        else:
            missing = missing or say("What is {where} was not tested.", where=where)
    if any(coat.doubtful for coat in surfaces.get("decoration", ())):
        missing = missing or say("Its decoration was not part of the test.")
    if not found:
        return None
    above = [lab for lab in found if lab.same_combination and lab.outcome == LabOutcome.ABOVE]
    if above:
        return above[0]
    unlike = [lab for lab in found if not (lab.same_combination and lab.same_firing)]
    if unlike:
        return unlike[0]
    careful = next((lab for lab in found if lab.outcome == LabOutcome.CLOSE), found[-1])
    if missing:
        return LabResult(
            careful.outcome,
            careful.scheme,
            careful.method,
            careful.on,
            same_combination=False,
            differs=missing,
        )
    return careful


def _of_surface(
    tests: Sequence[Tested], coatings: Sequence[Coating], body: str, fires: Sequence[Fire]
) -> LabResult | None:
    """The result that says most of one surface: the newest of just this, else the newest that comes near."""
    keys = [coat.key for coat in coatings]
    near = [test for test in tests if [coat.key for coat in test.coatings] == keys]
    results = [_result(test, coatings, body, fires) for test in near]
    for fits in (
        lambda lab: lab.same_combination and lab.same_firing,
        lambda lab: lab.same_combination and lab.outcome == LabOutcome.ABOVE,
        lambda lab: lab.same_combination,
        lambda lab: True,
    ):
        if best := next((lab for lab in results if fits(lab)), None):
            return best
    return None


def _result(test: Tested, coatings: Sequence[Coating], body: str, fires: Sequence[Fire]) -> LabResult:
    glazing, firing = other_glazing(test, coatings, body), other_firing(test.fire, fires)
    outcome = _OUTCOMES.get(test.finding) if test.finding else None
    settled = outcome is not None
    if glazing and outcome == LabOutcome.ABOVE:
        glazing += say(" It found more than {scheme} allows.", scheme=test.scheme)
    return LabResult(
        outcome or LabOutcome.BELOW,
        test.scheme,
        test.method,
        test.on_words,
        same_combination=not glazing,
        same_firing=settled and not firing,
        differs=glazing or ("" if settled else test.why) or firing,
        retest=test.retest,
    )


def retest_reasons(
    tested: Tested,
    *,
    today: date,
    years: int,
    open_batches: Mapping[str, Sequence[tuple[str, date]]],
) -> list[str]:
    """Why a combination should go to the laboratory again; empty while it need not.

    ``years`` 0: not by the calendar. ``open_batches`` has name and day of the batches in use of each glaze.
    """
    reasons = []
    if years and today >= years_after(tested.on, years):
        old = say("a year") if years == 1 else say("{years} years", years=years)
        reasons.append(
            say("The test is more than {old} old.", old=old)
            if today > years_after(tested.on, years)
            else say("The test is {old} old.", old=old)
        )
    for coat in dict.fromkeys(tested.coatings):
        if coat.changed_on and coat.changed_on >= tested.on:
            reasons.append(say("{glaze} is made in another way since.", glaze=coat.glaze))
        for name, opened_on in open_batches.get(coat.glaze, ()):
            if name != coat.batch and opened_on >= tested.on:
                reasons.append(say("Batch {name} of {glaze} was opened since.", name=name, glaze=coat.glaze))
    if tested.finding == release.Finding.RETEST:
        reasons.append(say("The figures call for more specimens."))
    elif tested.finding is None and tested.why:
        reasons.append(tested.why)
    return reasons
