"""A kiln is opened when it is cool, and every place in it answered once."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import pieces, pieces_jobs, unload
from studio.actions.unload import SeenFlaw
from studio.actions.unload_found import Unmarked, found_piece
from studio.actions.unload_undo import undo_answer
from studio.domain.problems import Refused
from studio.domain.stages import FiringKind, Stage
from studio.models import Event, Firing, Notice, Override, Piece, Placement, Reading, UnloadAnswer
from studio.queries.unload import orphans, reconcile, unload_of
from tests import factories as make

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def opened(*, kind: str = "glaze", pieces: object = 1, **values: object) -> Firing:
    make.studio()
    return make.firing(Firing.State.UNLOADING, kind=kind, pieces=pieces, **values)


def answer(placement: Placement, outcome: str = "sound", **values: object) -> UnloadAnswer:
    given = {"by": placement.added_by, "client_id": make.client_id(), "now": make.NOW}
    return unload.answer_place(placement=placement, outcome=outcome, **{**given, **values})


def undo(given: UnloadAnswer, **values: object) -> Event:
    values = {"by": given.by, "client_id": make.client_id(), "now": make.NOW + HOUR, **values}
    return undo_answer(answer=given, **values)


def events_of(piece: Piece) -> list[str]:
    return list(piece.events.values_list("kind", flat=True))


# Opening


def cooling(last_c: object = None) -> Firing:
    make.studio(opening_limit_c=50)
    firing = make.firing(Firing.State.COOLING, pieces=1)
    if last_c is not None:
        Reading.objects.create(firing=firing, at=firing.ended_at + 20 * HOUR, temperature_c=last_c)
    return firing


def test_a_kiln_is_opened_at_fifty_degrees() -> None:
    """At most 50 °C: common practice, no source; the studio may set another limit."""
    firing, ivo = cooling(50), make.helper()
    for _ in range(2):
        unload.start_unload(firing=firing, by=ivo, now=make.NOW)
    firing.refresh_from_db()
    assert (firing.state, firing.opened_at) == (Firing.State.UNLOADING, make.NOW)
    assert not Override.objects.exists()


@pytest.mark.parametrize(("last_c", "code"), [(51, "too-hot"), (139, "too-hot"), (None, "no-reading")])
def test_a_hot_kiln_stays_shut_unless_the_tutor_gives_a_reason(last_c: object, code: str) -> None:
    firing, ivo = cooling(last_c), make.helper()
    with pytest.raises(Refused) as refused:
        unload.start_unload(firing=firing, by=firing.made_by, now=make.NOW)
    assert refused.value.codes == [code]
    assert "50 °C" in str(refused.value)
    with pytest.raises(Refused):
        unload.start_unload(firing=firing, by=ivo, override_reason="In a hurry", now=make.NOW)
    unload.start_unload(firing=firing, by=firing.made_by, override_reason="The probe is broken", now=make.NOW)
    assert Override.objects.get().problem_code == code
    # Heat is asked about again each time.
    unload.undo_start_unload(firing=firing, by=firing.made_by)
    with pytest.raises(Refused):
        unload.start_unload(firing=firing, by=firing.made_by, now=make.NOW)


@pytest.mark.parametrize("state", [Firing.State.PLANNED, Firing.State.FIRING, Firing.State.CANCELLED])
def test_a_kiln_that_does_not_cool_is_not_unloaded_whatever_the_reason(state: str) -> None:
    firing = make.firing(state)
    with pytest.raises(Refused) as refused:
        unload.start_unload(firing=firing, by=firing.made_by, override_reason="All the same", now=make.NOW)
    assert refused.value.codes == ["not-cooling"]


def test_opening_stands_once_a_place_is_answered() -> None:
    firing = opened()
    given = answer(firing.placements.get())
    with pytest.raises(Refused):
        unload.undo_start_unload(firing=firing, by=firing.made_by)
    undo(given)
    unload.undo_start_unload(firing=firing, by=firing.made_by)
    firing.refresh_from_db()
    assert (firing.state, firing.opened_at) == (Firing.State.COOLING, None)


# Answers


@pytest.mark.parametrize(
    ("kind", "values", "outcome", "jobs", "becomes"),
    [
        ("bisque", {}, "sound", (), Stage.BISQUED),
        ("bisque", {}, "flawed", (), Stage.BISQUED),
        ("bisque", {"route": "bisque-only"}, "sound", (), Stage.READY),
        ("glaze", {}, "sound", (), Stage.READY),
        ("glaze", {}, "sound", ("knock-off-stand",), Stage.FINISHING),
        ("glaze", {}, "flawed", (), Stage.FIRED),
        ("glaze", {"low_firings_wanted": 1}, "sound", (), Stage.FIRED),
        ("low", {"low_firings_wanted": 1}, "sound", (), Stage.READY),
        ("low", {"low_firings_wanted": 2}, "sound", (), Stage.FIRED),
        ("glaze", {}, "lost", (), Stage.LOST),
    ],
)
def test_a_piece_moves_on_by_its_route(
    kind: str, values: dict[str, object], outcome: str, jobs: tuple[str, ...], becomes: Stage
) -> None:
    shelf = make.shelf()
    pot = make.piece(stage=make.READY_FOR[FiringKind(kind)], **values)
    placement = opened(kind=kind, pieces=[pot]).placements.get()
    given = answer(
        placement,
        outcome,
        jobs=jobs,
        shelf=shelf,
        flaws=[SeenFlaw("crazing", "inside", 2)] if outcome == "flawed" else (),
        loss_cause="cracked" if outcome == "lost" else "",
    )
    pot.refresh_from_db()
    assert pot.stage == becomes
    assert pot.shelf == (None if outcome == "lost" else shelf)
    assert (pot.ended_at is not None) == (outcome == "lost")
    assert [job.kind for job in pot.jobs.all()] == list(jobs)
    assert [(flaw.kind, flaw.surface, flaw.severity) for flaw in pot.flaws.all()] == (
        [("crazing", "inside", 2)] if outcome == "flawed" else []
    )
    assert given.event.kind == Event.Kind.UNLOADED
    assert given.event.firing == placement.firing
    assert not Placement.objects.filter(holds_piece=pot).exists()


def test_nobody_is_told_before_the_firing_is_closed() -> None:
    answer(opened().placements.get())
    assert not Notice.objects.exists()


def test_the_same_answer_sent_five_times_is_one() -> None:
    placement, tap = opened().placements.get(), make.client_id()
    first = answer(placement, client_id=tap)
    assert {answer(placement, client_id=tap).pk for _ in range(5)} == {first.pk}
    assert (UnloadAnswer.objects.count(), Event.objects.filter(kind="unloaded").count()) == (1, 1)
    undo(first)
    assert answer(placement, client_id=tap).pk == first.pk  # a late copy changes nothing
    placement.piece.refresh_from_db()
    assert placement.piece.stage == Stage.GLAZE_FIRING
    with pytest.raises(Refused) as refused:
        answer(placement, "flawed", client_id=tap, note="Dull")
    assert refused.value.codes == ["page-used"]


def test_the_second_tutor_is_told_who_answered_what() -> None:
    placement = opened(pieces=[make.piece(stage=Stage.GLAZED, mark="K7H")]).placements.get()
    answer(placement, by=make.helper("Ivo"))
    with pytest.raises(Refused, match="Ivo answered K7H at 11:20: sound") as refused:
        answer(placement, "lost", loss_cause="broken")
    assert refused.value.codes == ["answered"]


def test_the_phones_own_time_is_kept() -> None:
    at = make.NOW - timedelta(minutes=40)
    given = answer(opened().placements.get(), at=at)
    assert (given.at, given.event.at, given.event.recorded_at) == (at, at, make.NOW)


def test_answers_may_come_in_any_order() -> None:
    firing = opened(pieces=4, layers=2)
    for placement in firing.placements.order_by("layer__number"):
        answer(placement)
    assert unload_of(firing).left == 0


@pytest.mark.parametrize(
    ("outcome", "values", "code"),
    [
        ("superb", {}, "no-such-choice"),
        ("sound", {"flaws": [SeenFlaw("crazing")]}, "sound-with-flaws"),
        ("sound", {"loss_cause": "broken"}, "cause-without-loss"),
        ("flawed", {}, "no-flaw"),
        ("flawed", {"flaws": [SeenFlaw("ugly")]}, "no-such-choice"),
        ("flawed", {"flaws": [SeenFlaw("crazing", "lid")]}, "no-such-choice"),
        ("flawed", {"flaws": [SeenFlaw("crazing", "rim", 9)]}, "no-such-choice"),
        ("lost", {}, "no-such-choice"),
        ("lost", {"loss_cause": "stolen"}, "no-such-choice"),
        ("lost", {"loss_cause": "broken", "jobs": ["sand-foot"]}, "lost-with-jobs"),
        ("sound", {"jobs": ["polish"]}, "no-such-choice"),
        ("sound", {"jobs": ["other"]}, "missing"),
        ("sound", {"note": "x" * 301}, "too-long"),
        ("sound", {"client_id": "<>"}, "client-id"),
    ],
)
def test_answers_that_contradict_themselves_are_refused_whole(
    outcome: str, values: dict[str, object], code: str
) -> None:
    placement = opened().placements.get()
    with pytest.raises(Refused) as refused:
        answer(placement, outcome, **values)
    assert refused.value.codes == [code]
    assert not UnloadAnswer.objects.exists()
    placement.piece.refresh_from_db()
    assert placement.piece.stage == Stage.GLAZE_FIRING


def test_of_two_marks_for_one_flaw_the_worse_is_kept() -> None:
    placement = opened().placements.get()
    answer(placement, "flawed", flaws=[SeenFlaw("crazing", "rim", 1), SeenFlaw("crazing", "rim", 3)])
    assert [flaw.severity for flaw in placement.piece.flaws.all()] == [3]


def test_a_shelf_out_of_use_is_refused() -> None:
    with pytest.raises(Refused) as refused:
        answer(opened().placements.get(), shelf=make.shelf(retired_at=make.NOW))
    assert refused.value.codes == ["shelf-retired"]


@pytest.mark.parametrize("state", [Firing.State.PLANNED, Firing.State.FIRING, Firing.State.COOLING])
def test_a_kiln_that_is_shut_has_no_answers(state: str) -> None:
    with pytest.raises(Refused) as refused:
        answer(make.firing(state).placements.get())
    assert refused.value.codes == ["not-unloading"]


def test_a_student_answers_nothing() -> None:
    firing, ines = opened(), make.student()
    given = answer(firing.placements.get())
    for act in (
        lambda: answer(firing.placements.get(), by=ines),
        lambda: undo(given, by=ines),
        lambda: found_piece(firing=firing, by=ines, client_id=make.client_id(), piece=make.piece()),
        lambda: unload.start_unload(firing=firing, by=ines),
        lambda: unload.undo_start_unload(firing=firing, by=ines),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert refused.value.codes == ["staff-only"]


# Undo


def test_undo_puts_everything_back_and_keeps_the_history() -> None:
    pot = make.piece(stage=Stage.GLAZED)
    placement = opened(pieces=[pot]).placements.get()
    wrong = answer(
        placement, "flawed", flaws=[SeenFlaw("crawling", "rim")], jobs=["sand-foot"], shelf=make.shelf()
    )
    tap = make.client_id()
    assert undo(wrong, client_id=tap) == undo(wrong, client_id=tap)
    pot.refresh_from_db()
    assert (pot.stage, pot.shelf) == (Stage.GLAZE_FIRING, None)
    assert Placement.objects.get(holds_piece=pot) == placement
    wrong.refresh_from_db()
    assert wrong.undone_at == make.NOW + HOUR
    assert all(flaw.withdrawn_at for flaw in pot.flaws.all())
    assert all(job.withdrawn_at for job in pot.jobs.all())
    with pytest.raises(Refused) as refused:
        undo(wrong)
    assert refused.value.codes == ["undone-already"]
    answer(placement)
    pot.refresh_from_db()
    assert pot.stage == Stage.READY
    assert events_of(pot) == ["made", "lit", "unloaded", "undone", "unloaded"]


def test_a_lost_piece_comes_back_by_undo() -> None:
    pot = make.piece(stage=Stage.GLAZED)
    wrong = unload.missing_piece(
        placement=opened(pieces=[pot]).placements.get(),
        by=make.tutor(),
        client_id=make.client_id(),
        now=make.NOW,
    )
    pot.refresh_from_db()
    assert (pot.stage, pot.ended_at, wrong.event.note) == (Stage.LOST, make.NOW, "Not there")
    undo(wrong)
    pot.refresh_from_db()
    assert (pot.stage, pot.ended_at) == (Stage.GLAZE_FIRING, None)


def test_what_came_after_an_answer_is_undone_first() -> None:
    pot = make.piece(stage=Stage.GLAZED)
    given = answer(opened(pieces=[pot]).placements.get(), jobs=["sand-foot"])
    pieces_jobs.finish_job(job=pot.jobs.get(), by=given.by, client_id=make.client_id(), now=make.NOW)
    with pytest.raises(Refused, match="first") as refused:
        undo(given)
    assert refused.value.codes == ["later-stands"]


def test_a_piece_that_waits_in_another_load_is_taken_out_of_it_first() -> None:
    pot = make.piece(stage=Stage.BONE_DRY)
    given = answer(opened(kind="bisque", pieces=[pot]).placements.get())
    pot.refresh_from_db()
    make.firing(Firing.State.PLANNED, pieces=[pot])
    with pytest.raises(Refused) as refused:
        undo(given)
    assert refused.value.codes == ["in-load"]


# What is not where it should be


def test_a_piece_with_a_known_mark_is_found_in_the_kiln() -> None:
    shelf = make.shelf()
    stray = make.piece(stage=Stage.GLAZED, shelf=shelf)
    planned = make.firing(Firing.State.PLANNED, pieces=[stray])
    firing, tap = opened(), make.client_id()
    given = {"firing": firing, "by": firing.made_by, "client_id": tap, "now": make.NOW, "piece": stray}
    found = found_piece(**given)
    assert found_piece(**given) == found
    stray.refresh_from_db()
    assert (stray.stage, stray.shelf) == (Stage.READY, None)
    assert not Placement.objects.filter(holds_piece=stray).exists()
    assert [problem.code for problem in reconcile(firing)] == ["unanswered", "found"]
    with pytest.raises(Refused) as refused:
        found_piece(**{**given, "client_id": make.client_id()})
    assert refused.value.codes == ["in-this-load"]

    undo(found)
    stray.refresh_from_db()
    assert (stray.stage, stray.shelf) == (Stage.GLAZED, shelf)
    assert Placement.objects.get(holds_piece=stray).firing == planned
    assert unload_of(firing).total == 1


def test_a_piece_that_was_lost_is_found_again() -> None:
    stray = make.piece(stage=Stage.LOST)
    firing = opened(kind="bisque")
    found_piece(firing=firing, by=firing.made_by, client_id=make.client_id(), piece=stray, now=make.NOW)
    stray.refresh_from_db()
    assert (stray.stage, stray.ended_at) == (Stage.BISQUED, None)


def test_ready_ware_among_the_bisque_stays_ready() -> None:
    stray = make.piece(stage=Stage.READY)
    firing = opened(kind="bisque")
    found_piece(firing=firing, by=firing.made_by, client_id=make.client_id(), piece=stray, now=make.NOW)
    stray.refresh_from_db()
    assert stray.stage == Stage.READY


def test_an_unmarked_piece_goes_on_the_list_of_what_nobody_claims() -> None:
    firing = opened()
    found = found_piece(
        firing=firing,
        by=firing.made_by,
        client_id=make.client_id(),
        unmarked=Unmarked(width_mm=80, depth_mm=80, height_mm=60, form="bowl"),
        note="A small blue bowl",
        now=make.NOW,
    )
    piece = found.placement.piece
    assert (piece.maker, piece.stage, piece.clay) == (None, Stage.READY, firing.placements.first().piece.clay)
    assert list(orphans()) == [piece]
    assert "nobodys" in [problem.code for problem in reconcile(firing)]
    undo(found)
    piece.refresh_from_db()
    assert piece.stage == Stage.WITHDRAWN
    assert list(orphans()) == []
    assert events_of(piece) == ["made", "found", "undone", "undone"]
    assert not piece.tags.filter(retired_at__isnull=True).exists()


def test_a_find_names_a_piece_or_describes_one() -> None:
    firing = opened()
    for values in ({}, {"piece": make.piece(), "unmarked": Unmarked(80, 80, 60)}):
        with pytest.raises(Refused) as refused:
            found_piece(firing=firing, by=firing.made_by, client_id=make.client_id(), **values)
        assert refused.value.codes == ["which-piece"]


def test_reconciling_names_what_does_not_add_up() -> None:
    firing = opened(
        pieces=[make.piece(stage=Stage.GLAZED, mark="K7H"), make.piece(stage=Stage.GLAZED, mark="N4X")]
    )
    first, second = firing.placements.order_by("pk")
    assert [(problem.code, problem.about) for problem in reconcile(firing)] == [
        ("unanswered", "K7H"),
        ("unanswered", "N4X"),
    ]
    answer(first)
    unload.missing_piece(placement=second, by=firing.made_by, client_id=make.client_id(), now=make.NOW)
    (left,) = reconcile(firing)
    assert (left.code, left.about, left.overridable) == ("missing", "N4X", True)


def test_a_piece_moved_on_by_hand_meanwhile_is_not_answered_blindly() -> None:
    placement = opened().placements.get()
    with pytest.raises(Refused):
        pieces.move_piece(
            piece=placement.piece, to=Stage.READY, by=placement.added_by, client_id=make.client_id()
        )
    Piece.objects.filter(pk=placement.piece_id).update(stage=Stage.BISQUED)
    with pytest.raises(Refused) as refused:
        answer(placement)
    assert refused.value.codes == ["not-in-kiln"]
