"""Marks against the definitions they rest on, worked out here by brute force.

Sources: Hamming, "Error detecting and error correcting codes", Bell System Technical Journal 29 (1950), for
the distance; Singleton, "Maximum distance q-nary codes", IEEE Trans. Inform. Theory 10 (1964), for the
greatest number of words two apart; ISO 2108 (ISBN-10), for why a weighted sum over a prime catches every
single error and every swap of neighbours.
"""

from datetime import date
from random import Random
from time import perf_counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain import marks
from studio.domain.marks import Clash, Match
from studio.domain.problems import DomainError

text_of_alphabet = st.text(alphabet=marks.ALPHABET, min_size=3, max_size=4)


def brute_hamming(first, second):
    return sum(a != b for a, b in zip(first, second, strict=True))


def brute_edit_distance(first, second):
    """Levenshtein's distance by the textbook table (Wagner and Fischer 1974)."""
    row = list(range(len(second) + 1))
    for i, a in enumerate(first, start=1):
        previous, row[0] = row[0], i
        for j, b in enumerate(second, start=1):
            previous, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, previous + (a != b))
    return row[-1]


def grow(count, seed, length=3):
    random, live = Random(seed), set()
    for _ in range(count):
        live.add(marks.propose(live=live, recent=(), random=random, length=length))
    assert len(live) == count
    return live


@pytest.fixture(scope="module")
def two_thousand():
    return grow(2000, seed=7)


@pytest.fixture(scope="module")
def five_thousand():
    return grow(5000, seed=8)


def test_the_alphabet_has_no_look_alikes():
    assert len(set(marks.ALPHABET)) == len(marks.ALPHABET) == 19
    assert not set(marks.ALPHABET) & set("0O1I5S8B6GQUVZ3LM")


@pytest.mark.parametrize(
    ("typed", "clean"),
    [
        ("k7f", "K7F"),
        (" k 7-f ", "K7F"),
        ("K.7.F", "K7F"),
        ("\uff2b\uff17\uff26", "K7F"),  # full-width
        ("k7f\n", "K7F"),
        ("k0f", "K0F"),
        ("", ""),
        ("🏺", ""),
    ],
)
def test_typing_is_forgiven(typed, clean):
    assert marks.normalise(typed) == clean


@pytest.mark.parametrize(
    ("first", "second", "apart"),
    [
        ("ACD", "ACD", 0),
        ("ACD", "ACE", 1),
        ("ACD", "ADC", 2),
        ("ACD", "EFH", 3),
        ("ACD", "ACDE", 1),
        ("ACD", "A9CD", 1),
        ("ACD", "ACE9", 2),
        ("ACDE", "EFH", 4),
    ],
)
def test_distance(first, second, apart):
    assert marks.distance(first, second) == apart
    assert marks.distance(second, first) == apart


@given(text_of_alphabet, text_of_alphabet)
def test_distance_agrees_with_textbook_definitions_on_who_is_one_apart(first, second):
    if len(first) == len(second):
        assert marks.distance(first, second) == brute_hamming(first, second)
    else:
        assert (marks.distance(first, second) == 1) == (brute_edit_distance(first, second) == 1)


@given(text_of_alphabet, st.sets(text_of_alphabet, max_size=40))
def test_free_means_two_apart_from_every_live_mark(candidate, live):
    expected = all(marks.distance(candidate, mark) >= 2 for mark in live)
    assert marks.is_free(candidate, live) is expected
    assert marks.is_free(candidate, list(live)) is expected


@given(text_of_alphabet, text_of_alphabet)
def test_clashes_name_every_swap_of_neighbours(candidate, other):
    swap = len(candidate) == len(other) and any(
        candidate[:i] + candidate[i + 1] + candidate[i] + candidate[i + 2 :] == other != candidate
        for i in range(len(candidate) - 1)
    )
    assert ((other, Clash.SWAP) in marks.clashes(candidate, {other})) is swap


@pytest.mark.parametrize("candidate", ["", "AC", "ACDEF", "AB9", "A 9", "acd"])
def test_what_is_no_mark_is_never_free(candidate):
    assert not marks.is_free(candidate, set())


def test_no_two_of_two_thousand_are_closer_than_two_by_brute_force(two_thousand):
    all_marks = sorted(two_thousand)
    for length in (3, 4):
        same = [mark for mark in all_marks if len(mark) == length]
        assert all(brute_hamming(a, b) >= 2 for i, a in enumerate(same) for b in same[:i])
    short = [mark for mark in all_marks if len(mark) == 3]
    whole = [mark for mark in all_marks if len(mark) == 4]
    assert len(short) > 300
    assert all(brute_edit_distance(a, b) >= 2 for a in short[:60] for b in whole)


def test_one_wrong_character_never_names_another_piece(two_thousand):
    """Every single misreading of every mark, the characters outside the alphabet among them."""
    wrong = 0
    for mark in two_thousand:
        for place in range(len(mark)):
            for other in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789":
                typed = mark[:place] + other + mark[place + 1 :]
                found = marks.resolve(typed, two_thousand)
                wrong += found.match == Match.EXACT and found.mark != mark
                assert found.mark in (None, mark)
    assert wrong == 0


def test_a_character_worn_away_never_names_another_piece(two_thousand):
    for mark in two_thousand:
        for place in range(len(mark)):
            assert marks.resolve(mark[:place] + mark[place + 1 :], two_thousand).match != Match.EXACT


def test_swapped_neighbours_are_caught_and_the_right_piece_suggested(two_thousand):
    swaps = caught = suggested = 0
    for mark in two_thousand:
        for i in range(len(mark) - 1):
            typed = mark[:i] + mark[i + 1] + mark[i] + mark[i + 2 :]
            if typed == mark:
                continue
            swaps += 1
            found = marks.resolve(typed, two_thousand)
            caught += found.match != Match.EXACT
            suggested += mark in found.suggestions
    assert swaps > 5000
    assert caught / swaps >= 0.998
    assert suggested == swaps


def test_a_single_misreading_suggests_the_right_piece_first_or_nearly(two_thousand):
    random = Random(3)
    for mark in random.sample(sorted(two_thousand), 300):
        place = random.randrange(len(mark))
        other = random.choice([c for c in marks.ALPHABET if c != mark[place]])
        typed = mark[:place] + other + mark[place + 1 :]
        assert mark in marks.near(typed, two_thousand, limit=60)


@pytest.mark.parametrize(
    ("typed", "live", "meant"),
    [
        ("0KT", {"DKT", "PKT"}, "DKT"),
        ("OKT", {"DKT", "PKT"}, "DKT"),
        ("1KT", {"7KT", "XKT"}, "7KT"),
        ("IKT", {"TKT", "XKT"}, "TKT"),
        ("KS9", {"KE9", "KX9"}, "KE9"),
        ("K59", {"KE9", "KX9"}, "KE9"),
        ("8A4", {"RA4", "YA4"}, "RA4"),
        ("BA4", {"RA4", "YA4"}, "RA4"),
        ("0BX", {"DRX", "KKK"}, "DRX"),  # two characters that cannot be in a mark
        ("K7", {"K7F"}, "K7F"),
        ("K7FFX", {"K7FX"}, "K7FX"),
        ("k-f7", {"K7F"}, "K7F"),
    ],
)
def test_did_you_mean(typed, live, meant):
    assert marks.near(typed, live)[0] == meant
    assert marks.resolve(typed, live).match == Match.NEAR
    assert marks.resolve(typed, live).mark is None


@pytest.mark.parametrize("typed", ["", "XY", "9999", "KKKKKKKKKKKKKKKK", "?!"])
def test_unknown_is_unknown(typed):
    assert marks.resolve(typed, {"ACD", "EFHJ"}).match == Match.UNKNOWN


def test_exact_is_exact():
    assert marks.resolve(" k7f", {"K7F"}) == marks.Resolution(Match.EXACT, "K7F", mark="K7F")


def test_short_marks_first_then_long_ones():
    """No more than 19² words of three can be two apart (Singleton 1964)."""
    live = grow(400, seed=2)
    short = [mark for mark in live if len(mark) == 3]
    assert 340 <= len(short) <= 361
    assert all(marks.is_mark(mark) for mark in live)


def test_the_same_draw_gives_the_same_marks():
    assert grow(50, seed=4) == grow(50, seed=4) != grow(50, seed=5)


def test_a_mark_that_rests_is_not_given_again():
    everything = set(marks._code_words(3))
    rest = everything - {"K7F"} if "K7F" in everything else everything - {min(everything)}
    free = (everything - rest).pop()
    assert marks.propose(live=(), recent=rest, random=Random(1)) == free
    assert len(marks.propose(live=(), recent=everything, random=Random(1))) == 4


def test_marks_chosen_by_hand_are_kept_clear_of():
    random = Random(6)
    by_hand = {"".join(random.choices(marks.ALPHABET, k=3)) for _ in range(60)}
    for _ in range(200):
        mark = marks.propose(live=by_hand, recent=(), random=random)
        assert marks.clashes(mark, by_hand) == []


def test_no_mark_left_is_said():
    everything = {a + b + c + d for a in marks.ALPHABET for b in marks.ALPHABET for c in "ACD" for d in "ACD"}
    full = everything | set(marks._code_words(3)) | set(marks._code_words(4))
    with pytest.raises(marks.NoFreeMark, match="Every mark is in use"):
        marks.propose(live=full, recent=(), random=Random(1))
    with pytest.raises(DomainError, match="3 or 4"):
        marks.propose(live=(), recent=(), random=Random(1), length=5)


def test_no_mark_is_unkind_or_unsure_which_way_up():
    words = marks._code_words(3) + marks._code_words(4)
    assert len(words) > 7000
    assert not any(
        rude in word.replace("4", "A").replace("7", "T") for word in words for rude in ("FAT", "KKK")
    )
    assert not any(set(word) <= set("HNX") for word in words)


@pytest.mark.parametrize(
    ("left", "again"),
    [
        (date(2025, 3, 1), date(2026, 3, 1)),
        (date(2024, 2, 29), date(2025, 3, 1)),
        (date(2023, 12, 31), date(2024, 12, 31)),
    ],
)
def test_a_mark_rests_for_a_year(left, again):
    assert marks.free_again_on(left) == again
    assert marks.still_recent([("ACD", left)], today=again) == set()
    day_before = date.fromordinal(again.toordinal() - 1)
    assert marks.still_recent([("ACD", left)], today=day_before) == {"ACD"}


def test_five_thousand_live_marks_are_searched_in_milliseconds(five_thousand):
    typed = ["K7F", "0O1I", "ACDE", "X9", "4H2", "TWTW"]
    times = []
    for text in typed * 20:
        start = perf_counter()
        marks.resolve(text, five_thousand)
        times.append(perf_counter() - start)
    assert sorted(times)[len(times) // 2] < 0.005
