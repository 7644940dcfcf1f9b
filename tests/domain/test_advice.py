"""Food-use advice: every rule by its own story. The rules are the studio's (common practice, no source)."""

from itertools import product

import pytest

from studio.domain import advice
from studio.domain.advice import Coat, FoodUse, LabOutcome, LabResult, Seen, food_advice

RIM = Coat("rim", "Satin white", "suitable")
SATIN = [Coat("inside", "Satin white", "suitable"), RIM]
IRON_OVER = [*SATIN, Coat("inside", "Iron red", "suitable")]
COPPER = [Coat("inside", "Copper matt", "unsuitable"), RIM]
COPPER_OUTSIDE = [*SATIN, Coat("outside", "Copper matt", "unsuitable")]
BUCKET = [Coat("inside", "Old bucket"), RIM]
GOLD = [SATIN[0], Coat("rim", "Gold lustre", "suitable", metallic=True)]
BELOW = LabResult(LabOutcome.BELOW, "ISO 6486-2:1999", "ISO 6486-1", "3 March 2025")
ABOVE = LabResult(LabOutcome.ABOVE, "ISO 6486-2:1999", "ISO 6486-1", "3 March 2025")
OTHER_FIRING = LabResult(LabOutcome.BELOW, "ISO", "ISO 6486-1", "3 March 2025", same_firing=False)
OTHER_GLAZES = LabResult(LabOutcome.BELOW, "ISO", "ISO 6486-1", "3 March 2025", same_combination=False)
DECORATIVE, NOT_KNOWN, TESTED = FoodUse


def codes(given):
    return [reason.code for reason in given.reasons]


@pytest.mark.parametrize(
    ("known", "use", "code"),
    [
        ({"coats": SATIN, "lab": BELOW}, TESTED, "lab-below"),
        ({"coats": SATIN}, NOT_KNOWN, "makers-word"),
        ({"coats": BUCKET}, NOT_KNOWN, "not-stated"),
        ({"coats": []}, NOT_KNOWN, "not-recorded"),
        ({"coats": SATIN[:1]}, NOT_KNOWN, "not-recorded"),
        ({"coats": [Coat("inside"), RIM]}, NOT_KNOWN, "bare"),
        ({"coats": COPPER_OUTSIDE, "lab": BELOW}, TESTED, "lab-below"),
        ({"coats": IRON_OVER}, NOT_KNOWN, "overlap"),
        ({"coats": COPPER}, DECORATIVE, "unsuitable"),
        ({"coats": GOLD}, DECORATIVE, "lustre"),
        ({"coats": SATIN, "flaws": [Seen("crazing")]}, DECORATIVE, "crazing"),
        ({"coats": SATIN, "flaws": [Seen("crazing", "outside")]}, DECORATIVE, "crazing"),
        ({"coats": SATIN, "flaws": [Seen("rim-crack")]}, DECORATIVE, "rim-crack"),
        ({"coats": SATIN, "flaws": [Seen("body-crack")]}, DECORATIVE, "body-crack"),
        ({"coats": SATIN, "flaws": [Seen("s-crack")]}, DECORATIVE, "s-crack"),
        ({"coats": SATIN, "flaws": [Seen("dunt")]}, DECORATIVE, "dunt"),
        ({"coats": SATIN, "flaws": [Seen("shivering")]}, DECORATIVE, "shivering"),
        ({"coats": SATIN, "flaws": [Seen("underfired")], "lab": BELOW}, DECORATIVE, "underfired"),
        ({"coats": SATIN, "underfired": True, "lab": BELOW}, DECORATIVE, "underfired"),
        ({"coats": SATIN, "unfinished": True, "lab": BELOW}, DECORATIVE, "unfinished"),
        ({"coats": SATIN, "flaws": [Seen("sharp-spur")], "unfinished": True}, DECORATIVE, "sharp-spur"),
        ({"coats": SATIN, "flaws": [Seen("sharp-spur")], "lab": BELOW}, TESTED, "lab-below"),
        ({"coats": SATIN, "flaws": [Seen("crawling", "inside")], "lab": BELOW}, DECORATIVE, "crawling"),
        ({"coats": SATIN, "flaws": [Seen("crawling")], "lab": BELOW}, DECORATIVE, "crawling"),
        ({"coats": SATIN, "flaws": [Seen("crawling", "outside")], "lab": BELOW}, TESTED, "lab-below"),
        ({"coats": SATIN, "flaws": [Seen("pinholes", "inside")], "lab": BELOW}, DECORATIVE, "pinholes"),
        ({"coats": SATIN, "flaws": [Seen("pinholes", "foot")], "lab": BELOW}, TESTED, "lab-below"),
        ({"coats": SATIN, "flaws": [Seen("pinholes", "inside", False)], "lab": BELOW}, TESTED, "lab-below"),
        ({"coats": SATIN, "flaws": [Seen("pinholes", "foot", True)], "lab": BELOW}, DECORATIVE, "pinholes"),
        ({"coats": SATIN, "flaws": [Seen("colour-off")], "lab": BELOW}, TESTED, "lab-below"),
        ({"coats": SATIN, "lab": ABOVE}, DECORATIVE, "lab-above"),
        ({"coats": SATIN, "lab": OTHER_FIRING}, NOT_KNOWN, "lab-other"),
        ({"coats": SATIN, "lab": OTHER_GLAZES}, NOT_KNOWN, "lab-other"),
    ],
)
def test_each_rule(known, use, code):
    given = food_advice(**known)
    assert given.use == use
    assert {reason.points_to for reason in given.reasons if reason.code == code} == {use}


def test_a_laboratory_does_not_excuse_an_unsuitable_glaze():
    assert food_advice(coats=COPPER, lab=BELOW).use == DECORATIVE


def test_a_tested_combination_covers_its_own_overlap_and_silent_makers():
    given = food_advice(coats=[*BUCKET, *IRON_OVER], lab=BELOW)
    assert (given.use, codes(given)) == (TESTED, ["lab-below"])


def test_an_overlap_tested_by_itself_is_no_reason_any_more():
    assert "overlap" not in codes(food_advice(coats=IRON_OVER, overlap_tested=True))


def test_close_to_the_limit_asks_for_another_test():
    close = LabResult(LabOutcome.CLOSE, "ISO 6486-2:1999", "ISO 6486-1", "3 March 2025")
    given = food_advice(coats=SATIN, lab=close)
    assert given.use == TESTED
    assert "close" in given.reasons[0].message


def test_all_reasons_are_named_once_the_deciding_ones_first():
    flaws = [Seen("crazing"), Seen("crazing", "inside")]
    given = food_advice(coats=[*COPPER, Coat("inside", "Old bucket")], flaws=flaws)
    assert codes(given) == ["unsuitable", "crazing", "not-stated", "overlap", "not-tested"]


@pytest.mark.parametrize(("on_food_side", "use"), [(False, TESTED), (True, DECORATIVE), (None, NOT_KNOWN)])
def test_a_lustre_in_the_decoration(on_food_side, use):
    lustre = Coat("decoration", "Gold lustre", "unsuitable", metallic=True, on_food_side=on_food_side)
    lab = BELOW if on_food_side is not None else None
    assert food_advice(coats=[*SATIN, lustre], lab=lab).use == use


def every_case():
    coats = [[], SATIN, BUCKET, COPPER, GOLD, IRON_OVER, COPPER_OUTSIDE]
    kinds = [*advice._EVERYWHERE, *advice._WHERE_FOOD_TOUCHES, "sharp-spur", "warp"]
    flaws = [[], *([Seen(kind)] for kind in kinds)]
    labs = [None] + [
        LabResult(outcome, "ISO 6486-2:1999", "ISO 6486-1", "3 March", combination, firing)
        for outcome, combination, firing in product(LabOutcome, (True, False), (True, False))
    ]
    for coat, flaw, lab, unfinished, under in product(coats, flaws, labs, (True, False), (True, False)):
        yield food_advice(coats=coat, flaws=flaw, lab=lab, unfinished=unfinished, underfired=under)


def test_reasons_always_and_the_forbidden_word_never():
    seen = set()
    for given in every_case():
        seen.add(given.use)
        assert given.reasons
        assert given.reasons[0].points_to == given.use
        words = " ".join([given.use.words, given.caution, *map(str, given.reasons)]).lower()
        assert "safe" not in words
        assert all(reason.message.endswith(".") for reason in given.reasons)
    assert seen == set(FoodUse)
    assert [use.words for use in FoodUse] == ["decorative only", "not known", "tested"]


@pytest.mark.parametrize(
    ("coats", "sentence"),
    [
        (SATIN[:1], "What is on the rim is not written down."),
        (SATIN[1:], "What is on the inside is not written down."),
        (
            COPPER_OUTSIDE,
            "The maker of Satin white calls it suitable for food, but no laboratory has tested it here.",
        ),
        (
            [SATIN[0], Coat("rim", "Iron red", "suitable")],
            "The makers of Iron red and Satin white call them suitable for food, "
            "but no laboratory has tested it here.",
        ),
        (BUCKET, "The maker of Old bucket does not say whether it may touch food."),
        (IRON_OVER, "Iron red and Satin white overlap inside; nobody tested the two together."),
    ],
)
def test_the_sentences(coats, sentence):
    assert sentence in map(str, food_advice(coats=coats).reasons)


def test_the_caution_defers_to_laboratory_and_local_rules_and_names_home_tests_as_no_proof():
    for word in ("laboratory", "local rules", "lemon", "microwave", "prove nothing"):
        assert word in advice.CAUTION


def test_crazing_is_not_said_to_poison():
    message = food_advice(coats=SATIN, flaws=[Seen("crazing")]).reasons[0].message
    assert "weaker" in message
    assert "poison" not in message
