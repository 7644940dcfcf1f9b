"""What a laboratory's figures say of one piece. The rules are the studio's (common practice, no source); the
limits behind them are checked in `test_release`."""

from dataclasses import replace
from datetime import date

import pytest

from studio.domain.advice import Coat as AdviceCoat
from studio.domain.advice import FoodUse, LabOutcome, food_advice
from studio.domain.laboratory import (
    Coating,
    Fire,
    clean_method,
    figures,
    held_against,
    number,
    retest_reasons,
    weigh,
)
from studio.domain.laboratory import Tested as Found
from studio.domain.problems import DomainError
from studio.domain.release import Finding, Kind, Scheme

CHALK = Coating("Chalk", 1, batch="11", on=date(2025, 3, 1))
IRON = Coating("Iron", 2, on=date(2025, 3, 1))
BIG = Fire("Big round", "6", ((100, 1000, 0), (60, 1222, 10)))
TEST = Found(
    (CHALK,), "Stoneware", BIG, date(2025, 2, 1), "1 February 2025", "ISO 6486-1", "ISO", Finding.BELOW
)
BOTH = {"inside": [CHALK], "rim": [CHALK]}


def weighed(tests=(TEST,), surfaces=BOTH, body="Stoneware", fires=(BIG,)):
    return weigh(tests, surfaces=surfaces, body=body, fires=fires)


def test_the_same_glaze_batch_body_and_firing_is_tested():
    lab = weighed()
    assert (lab.outcome, lab.same_combination, lab.same_firing) == (LabOutcome.BELOW, True, True)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"body": "Red"}, "The laboratory tested it on Stoneware, and this is Red."),
        (
            {"surfaces": {"inside": [replace(CHALK, batch="12")], "rim": []}},
            "The laboratory tested batch 11 of Chalk. This has batch 12.",
        ),
        (
            {"surfaces": {"inside": [replace(CHALK, batch="")], "rim": []}},
            "Which batch of Chalk is on it is not written down.",
        ),
        (
            {"tests": [replace(TEST, coatings=(replace(CHALK, batch=""),))]},
            "Which batch of Chalk the laboratory tested is not written down.",
        ),
        (
            {"surfaces": {"inside": [replace(CHALK, changed_on=date(2025, 2, 20))], "rim": []}},
            "Chalk is made in another way since the laboratory tested it.",
        ),
        (
            {"fires": [replace(BIG, kiln="Small")]},
            "The laboratory's pots were fired in Big round, and this was fired in Small.",
        ),
        (
            {"fires": [replace(BIG, cone="5")]},
            "The laboratory's pots were fired to cone 6, and this to cone 5.",
        ),
        (
            {"fires": [replace(BIG, programme=((50, 1222, 0),))]},
            "The laboratory's pots were fired with another programme.",
        ),
        (
            {"fires": [BIG, BIG]},
            "It was fired again after its glaze firing, and the laboratory's pots were not.",
        ),
        ({"fires": []}, "Which firing it went through is not written down."),
        (
            {"surfaces": {"inside": [CHALK]}},
            "What is on the rim is not written down, so no figures can be held to it.",
        ),
        ({"surfaces": {"inside": [CHALK], "rim": [IRON]}}, "What is on the rim was not tested."),
        (
            {"surfaces": {"inside": [], "rim": [CHALK]}},
            "The inside is bare clay, which the laboratory did not test.",
        ),
        (
            {"surfaces": {**BOTH, "decoration": [replace(IRON, doubtful=True)]}},
            "Its decoration was not part of the test.",
        ),
        (
            {"tests": [replace(TEST, finding=None, why="The capacity decides here.")]},
            "The capacity decides here.",
        ),
        (
            {"tests": [replace(TEST, finding=Finding.RETEST, why="Six specimens are asked for.")]},
            "Six specimens are asked for.",
        ),
    ],
)
def test_what_is_not_quite_the_same_says_how_and_is_not_known(changed, sentence):
    lab = weighed(**changed)
    assert not (lab.same_combination and lab.same_firing)
    assert lab.differs == sentence
    given = food_advice(
        coats=[AdviceCoat("inside", "Chalk", "suitable"), AdviceCoat("rim", "Chalk", "suitable")], lab=lab
    )
    assert given.use == FoodUse.NOT_KNOWN
    assert sentence in map(str, given.reasons)


def test_a_programme_nobody_kept_with_the_test_is_not_asked_for():
    assert weighed(tests=[replace(TEST, fire=replace(BIG, programme=()))]).same_firing


def test_a_recipe_changed_after_the_pot_was_glazed_changes_nothing_for_it():
    later = replace(CHALK, changed_on=date(2025, 4, 1))
    assert weighed(surfaces={"inside": [later], "rim": [later]}).same_combination


def test_other_glazes_were_not_tested_at_all():
    assert weighed(surfaces={"inside": [IRON], "rim": [IRON]}) is None
    assert weighed(surfaces={"inside": [CHALK, IRON], "rim": [CHALK, IRON]}) is None


def test_the_newest_of_just_this_decides_and_one_above_elsewhere_still_warns():
    above = replace(TEST, finding=Finding.ABOVE, on=date(2024, 1, 1))
    assert weighed(tests=[above, TEST]).outcome == LabOutcome.BELOW
    assert weighed(tests=[TEST, replace(above, on=date(2025, 5, 1))]).outcome == LabOutcome.ABOVE
    elsewhere = [replace(TEST, fire=replace(BIG, kiln="Small")), replace(above, fire=replace(BIG, cone="5"))]
    assert weighed(tests=elsewhere).outcome == LabOutcome.ABOVE


def test_one_surface_above_decides_for_the_piece():
    iron_above = replace(TEST, coatings=(IRON,), finding=Finding.ABOVE)
    lab = weighed(tests=[TEST, iron_above], surfaces={"inside": [CHALK], "rim": [IRON]})
    assert lab.outcome == LabOutcome.ABOVE
    given = food_advice(coats=[AdviceCoat("inside", "Chalk", "suitable")], lab=lab)
    assert given.use == FoodUse.DECORATIVE_ONLY


def test_close_and_due_again_are_said():
    lab = weighed(tests=[replace(TEST, finding=Finding.CLOSE, retest="The test is 3 years old.")])
    given = food_advice(coats=[], lab=lab)
    assert given.use == FoodUse.TESTED
    assert "close" in given.reasons[0].message
    assert given.reasons[1].message == "It is due to be tested again: the test is 3 years old."


@pytest.mark.parametrize(
    "method", ["ISO 6486-1", "iso 6486-1:2019", "ASTM C738", "ASTM C738-94", "EN 1388-1"]
)
def test_methods_of_laboratories_are_taken(method):
    assert clean_method(f" {method} ") == method


@pytest.mark.parametrize("method", ["lemon overnight", "Vinegar test", "microwave", "home test kit", "swabs"])
def test_tests_at_home_are_refused_kindly(method):
    with pytest.raises(DomainError, match="good to have tried") as refused:
        clean_method(method)
    assert refused.value.code == "home-test"


def test_what_is_no_method_is_refused():
    with pytest.raises(DomainError, match="as the report names it"):
        clean_method("their own")


def test_figures_as_typed():
    assert figures("0.12 0,15; <0.02\n< 0.005, 3", what="lead") == ["0.12", "0.15", "<0.02", "<0.005", "3"]
    assert [number(each) for each in ("0.15", "<0.02")] == [0.15, 0.02]
    for wrong in ("n.d.", "-1", "0,1,2", "1e5", "=1"):
        with pytest.raises(DomainError, match="figure of lead"):
            figures(wrong, what="lead")
    with pytest.raises(DomainError, match="more than 24"):
        figures("1 " * 25, what="lead")


#: As published: 84/500/EEC Article 2, FDA CPG 545.400/.450 (read), ISO 6486-2:1999 (from memory).
@pytest.mark.parametrize(
    ("scheme", "kind", "depth", "ml", "unit", "lead", "cadmium"),
    [
        (Scheme.EEC, Kind.OTHER, 25, None, "mg-dm2", "0.8", "0.07"),
        (Scheme.EEC, Kind.OTHER, 60, None, "mg-l", "4.0", "0.3"),
        (Scheme.EEC, Kind.COOKING, 60, None, "mg-l", "1.5", "0.1"),
        (Scheme.FDA, Kind.OTHER, 25, None, "mg-l", "3.0", "0.5"),
        (Scheme.FDA, Kind.OTHER, 60, 600, "mg-l", "2.0", "0.5"),
        (Scheme.FDA, Kind.OTHER, 60, 1100, "mg-l", "1.0", "0.25"),
        (Scheme.FDA, Kind.CUP_OR_MUG, 90, 300, "mg-l", "0.5", "0.25"),
        (Scheme.FDA, Kind.PITCHER, 90, 900, "mg-l", "0.5", "0.25"),
        (Scheme.ISO, Kind.OTHER, 25, None, "mg-dm2", "0.8", "0.07"),
        (Scheme.ISO, Kind.OTHER, 60, 600, "mg-l", "2.0", "0.5"),
        (Scheme.ISO, Kind.OTHER, 60, 1100, "mg-l", "1.0", "0.25"),
        (Scheme.ISO, Kind.STORAGE, 200, 3000, "mg-l", "0.5", "0.25"),
        (Scheme.ISO, Kind.CUP_OR_MUG, 90, 240, "mg-l", "0.5", "0.25"),
        (Scheme.ISO, Kind.COOKING, 90, 900, "mg-l", "0.5", "0.05"),
    ],
)
def test_the_advice_turns_at_every_published_limit(scheme, kind, depth, ml, unit, lead, cadmium):
    def use(lead, cadmium):
        held = held_against(
            scheme=scheme,
            kind=kind,
            depth_mm=depth,
            capacity_ml=ml,
            can_be_filled=True,
            unit=unit,
            lead=[lead] * 6,
            cadmium=[cadmium] * 6,
        )
        lab = weighed(tests=[replace(TEST, finding=held.finding, scheme=str(scheme))])
        return food_advice(coats=[AdviceCoat("inside", "Chalk"), AdviceCoat("rim", "Chalk")], lab=lab).use

    assert use(lead, "0") == FoodUse.TESTED
    assert use("0", cadmium) == FoodUse.TESTED
    # Half as much again is outside the tolerance of 84/500/EEC too.
    assert use(str(float(lead) * 1.51), "0") == FoodUse.DECORATIVE_ONLY
    assert use("0", str(float(cadmium) * 2.1)) == FoodUse.DECORATIVE_ONLY


def test_figures_in_the_wrong_unit_or_without_a_capacity_are_not_judged():
    ask = {
        "scheme": Scheme.ISO,
        "kind": Kind.OTHER,
        "depth_mm": 20,
        "capacity_ml": None,
        "can_be_filled": True,
        "unit": "mg-l",
        "lead": ["0.1"],
        "cadmium": ["0.01"],
    }
    flat = held_against(**ask)
    assert flat.finding is None
    assert "mg/dm²" in flat.problem
    deep = held_against(**{**ask, "depth_mm": 60})
    assert deep.problem == "The capacity decides here. Measure it and enter litres."


def test_when_it_is_due_again():
    def reasons(today, years=3, batches=None, test=TEST):
        return retest_reasons(test, today=today, years=years, open_batches=batches or {})

    assert reasons(date(2028, 1, 31)) == []
    assert reasons(date(2028, 2, 1)) == ["The test is 3 years old."]
    assert reasons(date(2029, 2, 1)) == ["The test is more than 3 years old."]
    assert reasons(date(2029, 2, 1), years=0) == []
    assert reasons(date(2025, 6, 1), batches={"Chalk": [("11", date(2025, 1, 1))]}) == []
    assert reasons(date(2025, 6, 1), batches={"Chalk": [("12", date(2025, 5, 1))]}) == [
        "Batch 12 of Chalk was opened since."
    ]
    changed = replace(TEST, coatings=(replace(CHALK, changed_on=date(2025, 5, 2)),))
    assert reasons(date(2025, 6, 1), test=changed) == ["Chalk is made in another way since."]
    leap = replace(TEST, on=date(2024, 2, 29))
    assert reasons(date(2025, 2, 28), years=1, test=leap) == []
    assert reasons(date(2025, 3, 1), years=1, test=leap) == ["The test is a year old."]
