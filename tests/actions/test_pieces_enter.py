"""Entering pieces: marks, sizes, days, words; who may enter whose."""

from datetime import date, timedelta
from random import Random

import pytest

from studio.actions.pieces import enter_piece
from studio.domain import marks
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.models import Event, Piece, Tag
from studio.queries.piece_marks import find_by_mark
from tests import factories
from tests.actions.replay import agrees

pytestmark = pytest.mark.django_db
NOW = factories.NOW


def enter(**values: object) -> Piece:
    maker = values.pop("maker", None) or factories.student()
    return enter_piece(
        **{
            "by": maker,
            "maker": maker,
            "form": "mug",
            "technique": "thrown",
            "clay": values.pop("clay", None) or factories.clay(),
            "is_round": True,
            "width_mm": 95,
            "depth_mm": 95,
            "height_mm": 110,
            "client_id": factories.client_id(),
            "now": NOW,
            **values,
        }
    )


def test_ines_enters_a_mug_and_gets_a_mark_to_scratch_into_its_foot() -> None:
    shelf = factories.shelf("Drying trolley")
    mug = enter(shelf=shelf, due_on=date(2025, 12, 20), notes="Ash on the rim")
    mug.refresh_from_db()
    assert marks.is_mark(mug.mark)
    assert (mug.stage, mug.shelf, mug.stage_since) == (Stage.WET, shelf, NOW)
    assert Tag.objects.get(piece=mug).retired_at is None
    assert [event.kind for event in mug.events.all()] == [Event.Kind.MADE]
    assert agrees(mug)


def test_the_same_form_sent_twice_enters_one_piece() -> None:
    ines, clay, sent = factories.student(), factories.clay(), factories.client_id()
    first = enter(maker=ines, clay=clay, client_id=sent)
    second = enter(maker=ines, clay=clay, client_id=sent)
    assert first == second
    assert Piece.objects.count() == 1
    assert Tag.objects.count() == 1


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        ("width_mm", 0, "The diameter of 0 mm can't be right"),
        ("width_mm", -90, "can't be right"),
        ("height_mm", 10_000, "The height of 10 m can't be right"),
        ("height_mm", None, "The height is missing"),
        ("width_mm", 4, "5 mm to 150 cm"),
    ],
)
def test_sizes_no_pot_can_have_are_refused_in_words(column: str, value: int | None, words: str) -> None:
    with pytest.raises(Refused, match=words):
        enter(**{column: value})
    assert not Piece.objects.exists()


def test_the_smallest_and_the_largest_piece_are_taken() -> None:
    assert enter(width_mm=5, height_mm=1500).depth_mm == 5


def test_a_rectangle_has_a_depth_of_its_own_and_a_round_one_none() -> None:
    assert enter(is_round=False, width_mm=200, depth_mm=120, form="tile", technique="slab").depth_mm == 120
    assert enter(is_round=True, width_mm=200, depth_mm=120).depth_mm == 200
    with pytest.raises(Refused, match="depth is missing"):
        enter(is_round=False, depth_mm=None)


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"due_on": (NOW - timedelta(days=1)).date()}, "due-passed"),
        ({"due_on": date(2099, 1, 1)}, "due-far"),
        ({"made_at": NOW + timedelta(days=3)}, "time-ahead"),
        ({"form": "teapot-shaped"}, "no-such-choice"),
        ({"measured_stage": "ready"}, "no-such-choice"),
        ({"measured_stage": "glaze-firing"}, "no-such-choice"),
        ({"cone_wanted": "99"}, "no-such-cone"),
        ({"low_firings_wanted": 6}, "number-out-of-range"),
        ({"base_mm": 0}, "number-out-of-range"),
        ({"notes": "a\x00b"}, "unseen-signs"),
        ({"notes": "x" * 2001}, "too-long"),
        ({"client_id": ""}, "client-id"),
        ({"client_id": "a b"}, "client-id"),
        ({"mark": "O0"}, "mark-shape"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_saved(values: dict, code: str) -> None:
    with pytest.raises(Refused) as refused:
        enter(**values)
    assert refused.value.codes == [code]
    assert not Piece.objects.exists()
    assert not Event.objects.exists()
    assert not Tag.objects.exists()


def test_due_today_is_not_past_where_the_studio_is() -> None:
    factories.studio(time_zone="Pacific/Auckland")
    late = NOW.replace(hour=12)  # 01:00 on the 19th in Auckland
    assert enter(due_on=date(2025, 11, 19), now=late).due_on == date(2025, 11, 19)
    with pytest.raises(Refused, match="18 November 2025 has passed"):
        enter(due_on=date(2025, 11, 18), now=late)


def test_members_enter_their_own_pieces_and_those_of_their_young_people_only() -> None:
    sam = factories.young_person()
    assert enter(maker=sam, by=sam.guardian).maker == sam
    tobias = factories.student("Tobias")
    with pytest.raises(Refused, match="your own pieces"):
        enter(maker=sam, by=tobias)
    with pytest.raises(Refused, match="your own pieces"):
        enter_piece(
            by=tobias,
            maker=None,
            studios_own=True,
            form="mug",
            technique="thrown",
            clay=factories.clay(),
            is_round=True,
            width_mm=95,
            depth_mm=95,
            height_mm=110,
            client_id=factories.client_id(),
        )
    assert enter(maker=tobias, by=factories.helper()).maker == tobias


def test_clay_and_shelf_that_are_not_in_use_are_refused() -> None:
    with pytest.raises(Refused, match="Choose another clay"):
        enter(clay=factories.clay(retired_at=NOW))
    with pytest.raises(Refused, match="Choose another shelf"):
        enter(shelf=factories.shelf(retired_at=NOW))
    with pytest.raises(Refused, match="has left the studio"):
        enter(maker=factories.student("Gone", left_at=NOW), by=factories.tutor())
    assert not Piece.objects.exists()


def test_a_jar_and_its_lid_become_a_set() -> None:
    jar = enter(form="jar", new_set_name="Honey jar")
    lid = enter(form="lid", piece_set=jar.piece_set)
    assert lid.piece_set.name == "Honey jar"
    assert set(jar.piece_set.pieces.all()) == {jar, lid}


def test_a_mark_chosen_by_hand_must_be_two_apart_from_live_ones_and_rested_for_a_year() -> None:
    mug = enter(mark="7KD")
    with pytest.raises(Refused, match="7KD is on another piece"):
        enter(mark="7kd")
    with pytest.raises(Refused, match="7KA could be read as 7KD"):
        enter(mark="7KA")
    with pytest.raises(Refused, match="7KDA could be read as 7KD"):
        enter(mark="7KDA")
    Piece.objects.filter(pk=mug.pk).update(stage=Stage.COLLECTED, ended_at=NOW)
    with pytest.raises(Refused, match="left less than a year ago"):
        enter(mark="7KD", now=NOW + timedelta(days=300))
    assert enter(mark="7KD", now=NOW + timedelta(days=366)).mark == "7KD"


def test_a_new_mark_keeps_off_those_that_an_undo_may_bring_back() -> None:
    gone = factories.piece(mark="AAC", stage=Stage.COLLECTED, made_at=NOW - timedelta(days=10))
    with pytest.raises(Refused, match="AAD could be read as AAC"):
        enter(mark="AAD")
    Piece.objects.filter(pk=gone.pk).update(ended_at=NOW - timedelta(days=100))
    assert enter(mark="AAD").mark == "AAD"


def test_marks_drawn_for_many_pieces_are_all_two_apart() -> None:
    ines, clay, random = factories.student(), factories.clay(), Random(5)
    drawn = [enter(maker=ines, clay=clay, random=random).mark for _ in range(60)]
    for place, one in enumerate(drawn):
        assert all(marks.distance(one, other) >= 2 for other in drawn[place + 1 :])


def test_a_near_miss_is_answered_with_did_you_mean_and_an_exact_mark_with_the_piece() -> None:
    mug, bowl = factories.piece(mark="7KD"), factories.piece(mark="4AH")
    assert find_by_mark(" 7k-d ").piece == mug
    near = find_by_mark("7KA")
    assert near.piece is None
    assert near.sentence == "No piece is marked 7KA. Did you mean 7KD?"
    assert [piece.mark for piece in find_by_mark("A4H").perhaps] == ["4AH"]
    assert "Look at the foot again" in find_by_mark("XXX").sentence
    assert "Type the mark" in find_by_mark("  ").sentence
    assert find_by_mark("x" * 5000).piece is None
    # A student is not told of marks that are not theirs.
    theirs = Piece.objects.filter(maker=bowl.maker)
    assert find_by_mark("7KA", theirs).perhaps == ()
    assert find_by_mark("7KD", theirs).piece is None


def test_no_mark_with_one_character_misread_names_another_live_piece() -> None:
    """Every single error in 40 of 120 live marks; of all swaps of neighbours at least 99.8 % are caught."""
    ines, clay, random = factories.student(), factories.clay(), Random(11)
    live = [enter(maker=ines, clay=clay, random=random).mark for _ in range(120)]
    for mark in live[::3]:
        for place in range(len(mark)):
            for other in set(marks.ALPHABET) - {mark[place]}:
                typed = mark[:place] + other + mark[place + 1 :]
                found = find_by_mark(typed)
                assert found.piece is None
                assert mark in [piece.mark for piece in found.perhaps] or len(found.perhaps) == 5
    swaps = [
        mark[:place] + mark[place + 1] + mark[place] + mark[place + 2 :]
        for mark in live
        for place in range(len(mark) - 1)
        if mark[place] != mark[place + 1]
    ]
    caught = sum(find_by_mark(typed).piece is None for typed in swaps)
    assert caught / len(swaps) >= 0.998


def test_a_collected_piece_is_not_found_by_its_mark() -> None:
    factories.piece(mark="7KD", stage=Stage.COLLECTED)
    assert find_by_mark("7KD").piece is None
