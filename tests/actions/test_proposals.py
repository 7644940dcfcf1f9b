"""Loads worked out by the machine: asked for once, worked on in processes of their own, taken whole or not.

What is legal is said by the checker of loads, which shares no arithmetic with the planner.
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from studio.actions import (
    load_changes,
    loads,
    loads_arrange,
    loads_many,
    loads_places,
    pieces_change,
    proposals,
    proposals_work,
)
from studio.actions.load_changes import snapshot
from studio.domain.loading import problems as problems_of_load
from studio.domain.problems import Refused
from studio.models import Firing, Layer, LoadChange, Piece, Placement, Proposal
from studio.queries import proposals as queries
from studio.queries.loads import plan_of
from studio.queries.queue import queue_found
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    factories.studio()
    return factories.tutor()


@pytest.fixture
def works(monkeypatch, django_capture_on_commit_callbacks):
    """Asks, and works out at once what would be worked on beside the pages; a short search will do."""

    def ask(ask_for, *, then: bool = True, **values) -> Proposal:
        begun = []
        monkeypatch.setattr(proposals_work, "start", lambda proposal, jobs: begun.append((proposal, jobs)))
        with django_capture_on_commit_callbacks(execute=True):
            row = ask_for(**{"client_id": factories.client_id(), **values})
        for proposal, jobs in begun if then else ():
            for job in jobs:
                job["seconds"] = job["each_s"] = 0.15
            proposals_work.work_on(proposal.pk, jobs)
        row.refresh_from_db()
        return row

    return ask


def glazed(count: int, **values) -> list[Piece]:
    return [factories.piece(stage="glazed", **values) for _ in range(count)]


def take(row: Proposal, by, way: str = "oldest") -> LoadChange | None:
    return proposals.take(proposal=row, way=way, by=by, client_id=factories.client_id())


def loaded(pots: list[Piece], by) -> Firing:
    """A planned firing that these stand in already."""
    firing = factories.firing(pieces=[])
    loads_many.load_pieces(firing=firing, pieces=pots, by=by)
    return firing


def standing(firing: Firing) -> dict[str, Placement]:
    rows = firing.placements.filter(taken_out_at__isnull=True).select_related("piece", "layer")
    return {row.piece.mark: row for row in rows}


def test_an_empty_kiln_is_filled_taken_and_undone_in_one(maud, works):
    ware = glazed(12)
    firing = factories.firing(pieces=[])
    row = works(proposals.ask_for_load, firing=firing, by=maud)
    assert row.state == Proposal.State.READY, row.found
    assert [way["way"] for way in row.found["ways"]] == ["oldest", "fullest"]
    assert standing(firing) == {}

    change = take(row, maud)
    assert set(standing(firing)) == {piece.mark for piece in ware}
    assert change.kind == LoadChange.Kind.FILLED
    assert change.words == "Filled, oldest first: 12 pieces"
    plan = plan_of(firing)
    assert problems_of_load(load=plan.load, items=plan.items.values()) == []
    row.refresh_from_db()
    assert row.taken_way == "oldest"

    load_changes.undo_load_change(change=change, by=maud)
    assert standing(firing) == {}
    assert not Placement.objects.filter(holds_piece__isnull=False).exists()
    assert firing.layers.count() == 1


def test_what_stands_stays_and_what_is_pinned_stays_when_it_is_filled_anew(maud, works):
    ware = glazed(10)
    firing = loaded(ware[:2], maud)
    before = {mark: (p.x_mm, p.y_mm, p.layer.number) for mark, p in standing(firing).items()}
    row = works(proposals.ask_for_load, firing=firing, by=maud)
    take(row, maud)
    after = standing(firing)
    assert len(after) == 10
    assert all((after[m].x_mm, after[m].y_mm, after[m].layer.number) == at for m, at in before.items())

    pinned = after[ware[0].mark]
    loads_arrange.pin_placement(placement=pinned, pinned=True, by=maud)
    was = snapshot(firing)
    row = works(proposals.ask_for_load, firing=firing, by=maud, anew=True)
    assert list(row.seen["kept"]) == [ware[0].mark]
    change = take(row, maud, "fullest")
    now = standing(firing)
    assert set(now) == {piece.mark for piece in ware}
    assert now[ware[0].mark].pk == pinned.pk
    if change is not None:
        load_changes.undo_load_change(change=change, by=maud)
    assert snapshot(firing) == was


def test_a_glaze_that_runs_gets_a_stand(maud, works):
    runny = factories.glaze("Treacle", movement="runs", cone_from="5", cone_to="7")
    (piece,) = glazed(1)
    piece.glazes_on.create(surface="outside", glaze=runny, put_on_at=factories.NOW)
    firing = factories.firing(pieces=[], cone="6")
    take(works(proposals.ask_for_load, firing=firing, by=maud), maud)
    assert standing(firing)[piece.mark].stand_mm == queries.STAND_MM


def test_each_piece_that_may_not_go_in_is_named_with_what_would_help(maud, works):
    glazed(1)
    cool = factories.glaze("Low Blue", cone_from="06", cone_to="04")
    other = glazed(1)[0]
    other.glazes_on.create(surface="outside", glaze=cool, put_on_at=factories.NOW)
    bare = factories.piece(stage="bisqued")
    vase = glazed(1, height_mm=900)[0]
    firing = factories.firing(pieces=[], cone="6")
    row = works(proposals.ask_for_load, firing=firing, by=maud)
    told = {each.piece.mark: (each.why, each.would_help) for each in queries.barred(row)}
    assert set(told) == {other.mark, bare.mark, vase.mark}
    assert "cone 6" in told[other.mark][0]
    assert told[other.mark][1] == "A firing to cone 06 would take it."
    assert "Glaze it" in told[bare.mark][1]
    assert "tall" in told[vase.mark][0]


@pytest.mark.parametrize(
    "meanwhile", ["other-load", "lost", "resized", "moved-up", "put-in", "lit-elsewhere"]
)
def test_a_queue_that_changed_meanwhile_refuses_the_whole(maud, works, meanwhile):
    ware = glazed(6)
    firing = loaded(ware[:1], maud)
    row = works(proposals.ask_for_load, firing=firing, by=maud)
    piece = ware[3]
    if meanwhile == "other-load":
        factories.firing(pieces=[piece])
    elif meanwhile == "lost":
        Piece.objects.filter(pk=piece.pk).update(stage="lost", ended_at=factories.NOW)
    elif meanwhile == "resized":
        Piece.objects.filter(pk=piece.pk).update(height_mm=piece.height_mm + 40)
    elif meanwhile == "moved-up":
        place = standing(firing)[ware[0].mark]
        Placement.objects.filter(pk=place.pk).update(x_mm=place.x_mm + 20)
    elif meanwhile == "put-in":
        loads_places.load_piece(firing=firing, piece=piece, layer=firing.layers.get(), by=maud)
    else:
        firing.state = Firing.State.CANCELLED
        firing.save()
    was = snapshot(firing)
    with pytest.raises(Refused):
        take(row, maud)
    assert snapshot(firing) == was
    assert not LoadChange.objects.filter(kind="filled").exists()


def test_a_second_press_takes_nothing_twice(maud, works):
    glazed(3)
    firing = factories.firing(pieces=[])
    row = works(proposals.ask_for_load, firing=firing, by=maud)
    number = factories.client_id()
    first = proposals.take(proposal=row, way="oldest", by=maud, client_id=number)
    assert proposals.take(proposal=row, way="oldest", by=maud, client_id=number) == first
    assert len(standing(firing)) == 3


def test_asking_twice_is_once_and_a_new_one_stops_the_old(maud, works):
    glazed(3)
    firing = factories.firing(pieces=[])
    number = factories.client_id()
    first = works(proposals.ask_for_load, firing=firing, by=maud, client_id=number, then=False)
    assert works(proposals.ask_for_load, firing=firing, by=maud, client_id=number, then=False) == first
    works(proposals.ask_for_load, firing=firing, by=maud, then=False)
    first.refresh_from_db()
    assert first.state == Proposal.State.STOPPED
    with pytest.raises(Refused, match="not worked out"):
        take(first, maud)


def test_nothing_to_fill_with_is_said(maud):
    firing = factories.firing(pieces=[])
    with pytest.raises(Refused, match="No piece waits"):
        proposals.ask_for_load(firing=firing, by=maud, client_id=factories.client_id())
    with pytest.raises(Refused, match="Nothing waits"):
        proposals.ask_for_queue(by=maud, client_id=factories.client_id())
    assert not Proposal.objects.exists()


def test_a_student_asks_and_takes_nothing(maud, works):
    glazed(2)
    firing = factories.firing(pieces=[])
    row = works(proposals.ask_for_load, firing=firing, by=maud)
    ines = factories.student()
    for act in (
        lambda: proposals.ask_for_load(firing=firing, by=ines, client_id=factories.client_id()),
        lambda: proposals.ask_for_queue(by=ines, client_id=factories.client_id()),
        lambda: take(row, ines),
        lambda: proposals.stop(proposal=row, by=ines),
    ):
        with pytest.raises(Refused):
            act()


# The work itself


def job(**values) -> dict:
    firing = factories.firing(pieces=[])
    gathered = queries.gather(firing, now=timezone.now(), seconds=values.pop("seconds", 0.15))
    return {**gathered.jobs[0], **values}


def test_who_stops_it_ends_the_processes(maud):
    glazed(60, width_mm=190, depth_mm=190, height_mm=150)  # more than a kiln takes
    told = []

    def beat(percent: int) -> bool:
        told.append(percent)
        return len(told) < 3

    assert proposals_work.run_jobs([job(seconds=30), job(seconds=30)], beat=beat) is None
    assert len(told) == 3


def test_it_says_how_far_it_is(maud):
    glazed(60, width_mm=190, depth_mm=190, height_mm=150)
    told = []
    (found,) = proposals_work.run_jobs([job(seconds=2.5)], beat=lambda percent: not told.append(percent))
    assert found["places"]
    assert told == sorted(told)
    assert told[0] < 100


def test_a_load_that_cannot_be_built_on_is_told_as_such(maud):
    pots = glazed(3)
    firing = factories.firing(pieces=pots[:2])
    firing.placements.update(x_mm=0, y_mm=0)
    gathered = queries.gather(firing, now=timezone.now(), seconds=0.1)
    with pytest.raises(proposals_work.CannotPlan, match="what is fixed"):
        proposals_work.run_jobs(gathered.jobs[:1])


def test_a_child_that_dies_gives_up_in_words(maud, works, monkeypatch):
    glazed(2)
    firing = factories.firing(pieces=[])
    row = works(proposals.ask_for_load, firing=firing, by=maud, then=False)
    monkeypatch.setattr(proposals_work.pickle, "dumps", lambda job: b"no job")
    proposals_work.work_on(row.pk, [{}])
    row.refresh_from_db()
    assert row.state == Proposal.State.GIVEN_UP
    assert row.found["why"]


def test_a_beat_that_has_stopped_is_a_server_started_anew(maud, works):
    glazed(2)
    row = works(proposals.ask_for_load, firing=factories.firing(pieces=[]), by=maud, then=False)
    assert not queries.is_lost(row, row.beat_at + timedelta(seconds=5))
    assert queries.is_lost(row, row.beat_at + timedelta(seconds=16))


def test_work_on_a_stopped_one_changes_nothing(maud, works):
    glazed(2)
    row = works(proposals.ask_for_load, firing=factories.firing(pieces=[]), by=maud, then=False)
    proposals.stop(proposal=row, by=maud)
    proposals_work.work_on(row.pk, [job(seconds=5)])
    row.refresh_from_db()
    assert row.state == Proposal.State.STOPPED
    assert row.found == {}


# The queue


def test_the_queue_makes_firings_by_kind_and_cone(maud, works):
    cool = factories.glaze("Low Blue", cone_from="06", cone_to="04")
    kiln = factories.kiln("Bertha")
    dry = [factories.piece(stage="bone-dry") for _ in range(5)]
    hot, low = glazed(4), glazed(2)
    for piece in low:
        piece.glazes_on.create(surface="outside", glaze=cool, put_on_at=factories.NOW)
    wet = factories.piece(stage="wet")
    tall = factories.piece(stage="bone-dry", height_mm=950)
    row = works(proposals.ask_for_queue, by=maud)
    found = queue_found(row, now=timezone.localtime())
    made = {(load.kind, load.cone): set(load.marks) for load in found.loads}
    assert made == {
        ("bisque", "04"): {piece.mark for piece in dry},
        ("glaze", "6"): {piece.mark for piece in hot},
        ("glaze", "06"): {piece.mark for piece in low},
    }
    assert {each.piece for each in found.not_yet} == {wet, tall}
    assert found.few == (kiln.name,)
    assert all(load.when.earliest <= load.when.likely <= load.when.latest for load in found.loads)
    assert all(load.when.earliest >= timezone.now() - timedelta(minutes=1) for load in found.loads)


def test_clay_that_stands_less_makes_a_cooler_firing(maud, works):
    factories.kiln()
    red = factories.clay("Red", cone="04")
    glazed(2, clay=red)
    (buff,) = glazed(1, clay=factories.clay("Buff", cone="8"))
    row = works(proposals.ask_for_queue, by=maud)
    found = queue_found(row, now=timezone.localtime())
    assert {load.cone: len(load.marks) for load in found.loads} == {"04": 2, "6": 1}
    asked = works(proposals.ask_for_load, firing=factories.firing(pieces=[], cone="6"), by=maud)
    told = {each.would_help for each in queries.barred(asked)}
    assert told == {"A firing to cone 04 would take it."}
    assert set(asked.seen["pieces"]) == {buff.mark}


def test_more_than_a_kiln_takes_makes_another_firing(maud, works):
    factories.kiln("Small", height_mm=200, whole_shelves=1)
    for _ in range(24):
        factories.piece(stage="glazed", width_mm=150, depth_mm=150, height_mm=120)
    row = works(proposals.ask_for_queue, by=maud)
    found = queue_found(row, now=timezone.localtime())
    assert len(found.loads) >= 2
    marks = [mark for load in found.loads for mark in load.marks]
    assert len(marks) == len(set(marks)) == 24


def test_layers_are_planned_from_the_props_in_stock(maud, works):
    for _ in range(40):
        factories.piece(stage="glazed", width_mm=150, depth_mm=150, height_mm=120)
    firing = factories.firing(pieces=[], kiln=factories.kiln(props={150: 3}))
    take(works(proposals.ask_for_load, firing=firing, by=maud), maud)
    heights = list(Layer.objects.filter(firing=firing).order_by("number").values_list("prop_mm", flat=True))
    assert heights == [150, 0]
    loads.set_layers(firing=firing, props_mm=heights, by=maud)


def test_pieces_measured_again_are_named(maud, works):
    ware = glazed(2)
    firing = factories.firing(pieces=[])
    row = works(proposals.ask_for_load, firing=firing, by=maud)
    pieces_change.resize_piece(
        piece=ware[0],
        by=maud,
        client_id=factories.client_id(),
        width_mm=120,
        depth_mm=120,
        height_mm=99,
        measured_stage="glazed",
    )
    with pytest.raises(Refused, match=f"{ware[0].mark} has been measured again"):
        take(row, maud)
