"""What glazes are likely to do: each rule by its name, in words that say what to do."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain.glaze_hint_facts import Glazed, Hint, Laid, Layered, Record, Tone
from studio.domain.glaze_hints import FLAWED_FROM, REMEDIES, hints, speaks, to_mind, without_met

CHALK = Laid("inside", "Chalk Satin", food_contact="suitable")
EMBER = Laid("outside", "Ember Matte", movement="runs", food_contact="unstated")
MERE = Laid("outside", "Mere Blue", movement="moves", food_contact="suitable")
TIN = Laid("rim", "Tin Lustre", metallic=True, food_contact="unsuitable")


def glazed(*laid: Laid, **values: object) -> Glazed:
    return Glazed(
        **{"form": "mug", "clay": "Quill stoneware", "clay_cones": ("6", "6"), "laid": laid, **values}
    )


def codes(found: list[Hint]) -> list[str]:
    return [hint.code for hint in found]


# Common practice, no source: what the rules say and where they begin to.


@pytest.mark.parametrize(
    ("piece", "code"),
    [
        (glazed(EMBER), "off-the-foot"),
        (glazed(MERE), "off-the-foot"),
        (glazed(replace(MERE, surface="inside"), form="bowl"), "pools"),
        (glazed(replace(MERE, surface="inside", coats=3), form="mug"), "pools"),
        (glazed(replace(EMBER, surface="inside"), form="vase"), "pools"),
        (glazed(MERE, replace(EMBER, order=2)), "moving-overlap"),
        (glazed(MERE, replace(CHALK, surface="outside", order=2)), "untried"),
        (glazed(replace(CHALK, coats=4)), "thick"),
        (glazed(TIN), "decorative-only"),
        (glazed(replace(EMBER, surface="inside", food_contact="unsuitable")), "decorative-only"),
        (glazed(replace(EMBER, surface="inside"), for_food=True), "food-not-stated"),
        (glazed(Laid("outside", "Gold", kind="lustre")), "low-firing"),
        (glazed(Laid("outside", "Barley", cone_from="05", cone_to="03")), "clay-and-glaze"),
        (glazed(CHALK, clay_cones=("06", "04")), "clay-and-glaze"),
        (
            glazed(CHALK, replace(MERE, cone_from="9", cone_to="10"), clay_cones=("6", "10")),
            "glaze-and-glaze",
        ),
        (glazed(EMBER, stand_why="Ember Matte runs."), "stand"),
    ],
)
def test_each_rule_speaks_where_it_should(piece: Glazed, code: str) -> None:
    assert code in codes(hints(piece))


@pytest.mark.parametrize(
    ("piece", "code"),
    [
        (glazed(CHALK), "off-the-foot"),
        (glazed(replace(MERE, surface="inside"), form="mug"), "pools"),
        (glazed(replace(CHALK, surface="inside"), form="bowl"), "pools"),
        (glazed(CHALK, MERE), "moving-overlap"),
        (glazed(CHALK, MERE), "untried"),
        (glazed(replace(CHALK, coats=3)), "thick"),
        (glazed(replace(TIN, surface="outside")), "decorative-only"),
        (glazed(EMBER, for_food=True), "food-not-stated"),
        (glazed(Laid("outside", "Gold", kind="lustre"), low_firings=1), "low-firing"),
        (glazed(Laid("outside", "Gold", kind="lustre", cone_from="018", cone_to="018")), "clay-and-glaze"),
        (glazed(CHALK, clay_cones=("5", "7")), "clay-and-glaze"),
        (glazed(CHALK), "stand"),
    ],
)
def test_and_nowhere_else(piece: Glazed, code: str) -> None:
    assert code not in codes(hints(piece))


def test_the_studios_word_on_layers_is_the_gravest_and_its_note_goes_with_it() -> None:
    piece = glazed(replace(CHALK, surface="outside"), replace(EMBER, order=2))
    never = Layered("Ember Matte", "Chalk Satin", "never", "It slides off in sheets.")
    first = hints(piece, known=[never])[0]
    assert (first.code, first.tone, first.why) == ("layered-never", Tone.STOP, "It slides off in sheets.")
    careful = hints(piece, known=[replace(never, word="careful")])
    assert "layered-careful" in codes(careful)
    assert "untried" not in codes(careful)
    good = hints(piece, known=[replace(never, word="good")])
    assert not {"layered-never", "layered-careful", "untried"} & set(codes(good))
    turned = hints(piece, known=[replace(never, over="Chalk Satin", under="Ember Matte")])
    assert "layered-never" not in codes(turned)


def test_what_happened_here_is_said_with_its_number_and_interval() -> None:
    record = Record("Ember Matte", ("outside",), sound=14, flawed=4, lost=0, flaws={"running": 4})
    [seen] = [hint for hint in hints(glazed(EMBER), records=[record]) if hint.code == "seen-running"]
    assert seen.words == "Ran on 4 of 18 with Ember Matte. Put it on a stand, and thin it towards the foot."
    # Wilson's interval of 4 of 18 is 0.0900 to 0.4521 (worked out with statsmodels'
    # proportion_confint(4, 18, method="wilson")).
    assert seen.why == "Of 100 here, likely 9 to 45."
    assert without_met([seen], stand_mm=10) == []
    assert without_met([seen], stand_mm=0) == [seen]


@pytest.mark.parametrize(
    ("count", "pieces", "spoken"), [(1, 1, False), (2, 3, True), (2, 40, False), (0, 9, False)]
)
def test_one_bad_pot_is_no_rule(count: int, pieces: int, spoken: bool) -> None:
    assert (speaks(count, pieces) is not None) is spoken


def test_reliable_and_take_care_are_the_stated_rules() -> None:
    good = hints(glazed(CHALK), records=[Record("Chalk Satin", ("inside",), sound=27, flawed=1, lost=0)])
    assert codes(good) == ["reliable"]
    assert to_mind(good) == []
    poor = hints(glazed(CHALK), records=[Record("Chalk Satin", ("inside",), sound=6, flawed=6, lost=2)])
    assert codes(poor) == ["take-care"]
    few = hints(glazed(CHALK), records=[Record("Chalk Satin", ("inside",), sound=3, flawed=0, lost=0)])
    assert few == []


def test_flaws_that_no_glaze_answers_for_are_not_held_against_it() -> None:
    record = Record("Chalk Satin", ("inside",), sound=5, flawed=9, lost=0, flaws={"s-crack": 9, "warp": 4})
    assert not [code for code in codes(hints(glazed(CHALK), records=[record])) if code.startswith("seen-")]


def test_a_bare_piece_is_told_nothing() -> None:
    assert hints(glazed(), records=[Record("x", (), 1, 1, 1)]) == []


laid = st.builds(
    Laid,
    surface=st.sampled_from(["inside", "outside", "rim", "foot", "decoration"]),
    name=st.sampled_from(["A", "B", "C"]),
    order=st.integers(1, 3),
    coats=st.integers(1, 9),
    cone_from=st.sampled_from(["06", "6"]),
    cone_to=st.sampled_from(["6", "10"]),
    movement=st.sampled_from(["still", "moves", "runs"]),
    food_contact=st.sampled_from(["suitable", "unsuitable", "unstated"]),
    metallic=st.booleans(),
    kind=st.sampled_from(["glaze", "slip", "lustre", "wax"]),
)
records = st.builds(
    Record,
    words=st.sampled_from(["A", "B over A"]),
    surfaces=st.just(("inside",)),
    sound=st.integers(0, 40),
    flawed=st.integers(0, 40),
    lost=st.integers(0, 40),
    flaws=st.dictionaries(st.sampled_from(sorted(REMEDIES)), st.integers(0, 60)),
)


@given(st.lists(laid, min_size=1, max_size=8), st.lists(records, max_size=3), st.booleans())
def test_whatever_lies_on_it_every_hint_has_words_and_none_is_said_twice(
    on: list[Laid], seen: list[Record], for_food: bool
) -> None:
    found = hints(glazed(*on, for_food=for_food), records=seen)
    assert all(hint.words.endswith(".") for hint in found)
    assert len(set(found)) == len(found)
    tones = [list(Tone).index(hint.tone) for hint in found]
    assert tones == sorted(tones)
    for hint in found:
        if hint.code.startswith("seen-"):
            low = int(hint.why.split("likely ")[1].split(" to")[0])
            assert low >= round(100 * FLAWED_FROM)
