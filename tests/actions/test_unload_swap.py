"""Two pieces answered in each other's place: one act puts it right, another takes that back."""

from __future__ import annotations

import pytest

from studio.actions import pieces_end, pieces_jobs, settling, unload
from studio.actions.pieces import put_on_shelf
from studio.actions.undo import undo
from studio.actions.unload_swap import swap_answers
from studio.actions.unload_undo import undo_answer
from studio.domain.problems import Refused
from studio.models import Event, Firing, Notice, Person, Photo, Piece, Placement
from tests import factories as make
from tests.actions.replay import agrees
from tests.views.world import photo_of

pytestmark = pytest.mark.django_db
NOW = make.NOW


def places() -> tuple[Placement, Placement]:
    make.studio()
    pots = [
        make.piece(maker=maker, stage="glazed") for maker in (make.student("Ines"), make.student("Tobias"))
    ]
    first, second = make.firing(Firing.State.UNLOADING, pieces=pots).placements.order_by("pk")
    return first, second


def swap(first: Placement, second: Placement, by: Person | None = None, sent: str = "") -> object:
    by = by or make.helper()
    return swap_answers(first=first, second=second, by=by, client_id=sent or make.client_id(), now=NOW)


def stands(place: Placement) -> tuple[object, ...]:
    """All that an answer has caused at a place, as plain values."""
    piece = Piece.objects.get(pk=place.piece_id)
    answer = unload.standing_answer(place)
    return (
        answer.outcome,
        answer.loss_cause,
        answer.note,
        answer.at,
        sorted(piece.flaws.filter(withdrawn_at__isnull=True).values_list("kind", "surface", "severity")),
        sorted((job.kind, job.done_at) for job in piece.jobs.filter(withdrawn_at__isnull=True)),
        piece.stage,
        piece.shelf_id,
        sorted(piece.photos.values_list("code", flat=True)),
    )


def test_everything_they_caused_changes_places_and_comes_back_with_undo() -> None:
    first, second = places()
    ready, seconds = make.shelf("Ready A"), make.shelf("Seconds")
    ivo = make.helper()
    make.unload_one(first, by=ivo, shelf=ready, now=NOW)
    make.unload_one(
        second,
        "flawed",
        by=ivo,
        shelf=seconds,
        note="a stand stuck",
        jobs=["grind-spur"],
        flaws=[unload.SeenFlaw("sharp-spur", "foot", 3)],
        now=NOW,
    )
    before_photo = photo_of(first.piece, ivo)
    for place in (first, second):
        photo_of(place.piece, ivo, firing=place.firing)
    was = stands(first), stands(second)

    swap(first, second, by=ivo)
    assert before_photo in first.piece.photos.all()  # it was taken before the kiln was opened
    now_first, now_second = stands(first), stands(second)
    assert now_first[:-1] == was[1][:-1]
    assert now_second[:-1] == was[0][:-1]
    assert set(now_second[-1]) == set(was[0][-1]) - {before_photo.code}
    for place in (first, second):
        assert agrees(place.piece)
        assert not Placement.objects.filter(pk=place.pk, holds_piece__isnull=False).exists()
        kinds = list(place.piece.events.values_list("kind", flat=True))
        assert kinds[-3:] == ["unloaded", "undone", "unloaded"]  # nothing rewritten

    undo(event=second.piece.events.last(), by=ivo, client_id=make.client_id(), now=NOW)
    assert (stands(first), stands(second)) == was
    assert agrees(first.piece)
    assert agrees(second.piece)
    answer = unload.standing_answer(first)
    undo_answer(answer=answer, by=ivo, client_id=make.client_id(), now=NOW)  # and now the place itself
    assert unload.standing_answer(first) is None
    assert unload.standing_answer(second) is not None


def test_a_lost_piece_and_a_sound_one_change_places() -> None:
    first, second = places()
    make.unload_one(first, "lost", now=NOW)
    make.unload_one(second, shelf=make.shelf(), now=NOW)
    swap(first, second)
    assert [Piece.objects.get(pk=place.piece_id).stage for place in (first, second)] == ["ready", "lost"]
    settling.close_firing(
        firing=first.firing, by=first.firing.made_by, client_id=make.client_id(), energy_kwh="60", now=NOW
    )
    sorry = Notice.objects.get(kind="loss")
    assert sorry.pieces.get() == second.piece
    assert Notice.objects.get(kind="ready").pieces.get() == first.piece


def test_what_followed_goes_along_a_job_done_and_another_shelf() -> None:
    first, second = places()
    ivo, drying = make.helper(), make.shelf("By the sink")
    make.unload_one(first, jobs=["sand-foot"], by=ivo, now=NOW)
    make.unload_one(second, by=ivo, now=NOW)
    job = first.piece.jobs.get()
    pieces_jobs.finish_job(job=job, by=ivo, client_id=make.client_id(), now=NOW)
    put_on_shelf(piece=first.piece, shelf=drying, by=ivo, client_id=make.client_id(), now=NOW)
    was = stands(first), stands(second)
    swap(first, second, by=ivo)
    assert (stands(second), stands(first)) == was
    assert agrees(first.piece)
    assert agrees(second.piece)


def test_what_has_gone_on_or_was_never_answered_is_refused_whole() -> None:
    first, second = places()
    make.unload_one(first, now=NOW)
    with pytest.raises(Refused) as refused:
        swap(first, second)
    assert refused.value.codes == ["no-answer"]
    make.unload_one(second, now=NOW)
    maud = first.firing.made_by
    pieces_end.collect_pieces(
        pieces=[Piece.objects.get(pk=first.piece_id)], by=maud, client_id=make.client_id(), now=NOW
    )
    events = Event.objects.count()
    with pytest.raises(Refused) as refused:
        swap(first, second)
    assert refused.value.codes == ["later-stands"]
    with pytest.raises(Refused) as refused:
        swap(first, first)
    assert refused.value.codes == ["which-pieces"]
    with pytest.raises(Refused) as refused:
        swap(first, second, by=make.student())
    assert refused.value.codes == ["staff-only"]
    assert Event.objects.count() == events
    settled = make.closed_firing()
    one = settled.placements.get()
    with pytest.raises(Refused):
        swap(one, first)


def test_sent_twice_is_one_swap() -> None:
    first, second = places()
    make.unload_one(first, "flawed", now=NOW)
    make.unload_one(second, now=NOW)
    sent, ivo = make.client_id(), make.helper()
    once = swap(first, second, by=ivo, sent=sent)
    again = swap(first, second, by=ivo, sent=sent)
    assert [answer.pk for answer in once] == [answer.pk for answer in again]
    assert unload.standing_answer(second).outcome == "flawed"
    assert Photo.objects.count() == 0
