"""Glazes written down at the table: by whom, until when, and doing a known one again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import glaze_diary, pieces_glaze, undo
from studio.actions.pieces_glaze import Coat
from studio.domain.problems import Refused
from studio.models import DiaryNote, Event, GlazeOnPiece, Person, Piece
from tests import factories

pytestmark = pytest.mark.django_db

NOW = factories.NOW


@pytest.fixture
def ines() -> Person:
    factories.studio()
    factories.tutor()
    return factories.student("Ines")


def note(piece: Piece, by: Person, *coats: Coat, **values: object) -> Event:
    return pieces_glaze.note_glazes(
        piece=piece, coats=coats, by=by, client_id=factories.client_id(), now=NOW, **values
    )


def test_a_student_says_it_is_glazed_and_it_waits_for_the_kiln(ines: Person) -> None:
    piece = factories.piece(maker=ines, stage="bisqued")
    event = note(piece, ines, Coat("outside", factories.glaze("Chalk Satin")))
    piece.refresh_from_db()
    assert (piece.stage, event.to_stage, event.by) == ("glazed", "glazed", ines)
    undo.undo(event=event, by=ines, client_id=factories.client_id(), now=NOW + timedelta(minutes=1))
    piece.refresh_from_db()
    assert piece.stage == "bisqued"
    assert not piece.glazes_on.exists()


def test_a_plan_is_noted_and_moves_nothing(ines: Person) -> None:
    piece = factories.piece(maker=ines, stage="bisqued")
    note(piece, ines, Coat("outside", factories.glaze("Chalk Satin")), only_planned=True)
    piece.refresh_from_db()
    assert piece.stage == "bisqued"
    assert piece.glazes_on.count() == 1


@pytest.mark.parametrize("stage", ["fired", "finishing", "ready"])
def test_after_the_firing_only_staff_put_it_right(ines: Person, stage: str) -> None:
    piece = factories.piece(maker=ines, stage=stage)
    glaze = factories.glaze("Chalk Satin")
    with pytest.raises(Refused, match="its glazes are on record now") as refused:
        note(piece, ines, Coat("outside", glaze))
    assert refused.value.codes == ["after-firing"]
    assert not piece.glazes_on.exists()
    note(piece, factories.helper(), Coat("outside", glaze))
    piece.refresh_from_db()
    assert (piece.stage, piece.glazes_on.count()) == (stage, 1)


def test_in_the_glaze_kiln_it_is_too_late_and_in_the_bisque_kiln_it_is_early(ines: Person) -> None:
    glaze = factories.glaze("Chalk Satin")
    piece = factories.piece(maker=ines, stage="bone-dry")
    factories.firing("firing", kind="bisque", pieces=[piece])
    note(piece, ines, Coat("outside", glaze))
    piece.refresh_from_db()
    assert piece.stage == "bisque-firing"
    late = factories.piece(maker=ines, stage="glazed")
    factories.firing("firing", kind="glaze", pieces=[late])
    with pytest.raises(Refused):
        note(late, ines, Coat("outside", glaze))


def test_a_guardian_writes_for_the_young_and_nobody_else_does(ines: Person) -> None:
    sam = factories.young_person()
    piece = factories.piece(maker=sam, stage="bisqued")
    note(piece, sam.guardian, Coat("outside", factories.glaze("Chalk Satin")))
    with pytest.raises(Refused, match="your own pieces"):
        note(piece, ines)
    kept = glaze_diary.write_diary(piece=piece, words="Sam poured it.", by=sam.guardian, now=NOW)
    assert kept.maker == sam
    with pytest.raises(Refused, match="its maker’s own"):
        glaze_diary.write_diary(piece=piece, words="Not mine", by=ines, now=NOW)
    with pytest.raises(Refused):
        glaze_diary.write_diary(piece=piece, words="Not mine", by=factories.tutor("Maud"), now=NOW)


def test_the_diary_is_written_after_the_firing_too_and_emptied(ines: Person) -> None:
    piece = factories.piece(maker=ines, stage="collected")
    glaze_diary.write_diary(piece=piece, words="Thinner\nnext time", by=ines, now=NOW)
    glaze_diary.write_diary(piece=piece, words="Two coats next time", by=ines, now=NOW)
    assert [note.words for note in DiaryNote.objects.all()] == ["Two coats next time"]
    assert glaze_diary.write_diary(piece=piece, words=" ", by=ines, now=NOW) is None
    assert not DiaryNote.objects.exists()
    with pytest.raises(Refused, match="1,000"):
        glaze_diary.write_diary(piece=piece, words="x" * 1001, by=ines, now=NOW)


def test_done_again_it_is_the_same_but_for_the_notes(ines: Person) -> None:
    chalk, mere = factories.glaze("Chalk Satin"), factories.glaze("Mere Blue")
    like = factories.piece(maker=ines, stage="bisqued")
    note(
        like,
        ines,
        Coat("outside", mere, coats=2, method="brushed", notes="Dripped on the left"),
        Coat("outside", chalk, order=2),
        Coat("foot", None),
    )
    piece = factories.piece(maker=ines, stage="bisqued")
    number = factories.client_id()
    for _ in range(2):
        pieces_glaze.repeat_glazes(piece=piece, like=like, by=ines, client_id=number, now=NOW)
    rows = GlazeOnPiece.objects.filter(piece=piece).values_list(
        "surface", "order", "glaze__name", "coats", "method", "notes"
    )
    assert set(rows) == {
        ("outside", 1, "Mere Blue", 2, "brushed", ""),
        ("outside", 2, "Chalk Satin", 1, "dipped", ""),
        ("foot", 1, None, 1, "dipped", ""),
    }
    assert piece.events.filter(kind="glazes").count() == 1


def test_a_piece_with_nothing_on_it_is_nothing_to_go_by(ines: Person) -> None:
    piece, bare = (factories.piece(maker=ines, stage="bisqued") for _ in range(2))
    with pytest.raises(Refused, match="Nothing is noted on"):
        pieces_glaze.repeat_glazes(piece=piece, like=bare, by=ines, client_id=factories.client_id(), now=NOW)


def test_a_glaze_out_of_use_is_not_put_on_again(ines: Person) -> None:
    old = factories.glaze("Old Celadon")
    like, piece = (factories.piece(maker=ines, stage="bisqued") for _ in range(2))
    note(like, ines, Coat("outside", old))
    old.retired_at = NOW
    old.save()
    with pytest.raises(Refused, match="not in use any more"):
        pieces_glaze.repeat_glazes(piece=piece, like=like, by=ines, client_id=factories.client_id(), now=NOW)
