"""Every action on a piece is undone by a second event that leaves it as it was before."""

from datetime import timedelta

import pytest
from django.forms.models import model_to_dict

from studio.actions.pieces import enter_piece, move_piece, put_on_shelf
from studio.actions.pieces_change import give_piece, replan_piece, resize_piece
from studio.actions.pieces_end import collect_pieces, lose_piece, reclaim_piece, unclaim_piece
from studio.actions.pieces_glaze import Coat, glazes_as_noted, note_glazes
from studio.actions.pieces_jobs import add_job, finish_job, refire_piece
from studio.actions.undo import last_undoable, undo
from studio.actions.unload import SeenFlaw, answer_place
from studio.domain.problems import Refused
from studio.models import Event, FinishingJob, Firing, Notice, Piece, Tag
from studio.queries.notices import correction_offered
from studio.queries.piece_facts import facts_of, refired_free
from tests import factories
from tests.actions.replay import agrees

pytestmark = pytest.mark.django_db
NOW = factories.NOW
cid = factories.client_id


def state(piece: Piece) -> dict:
    """All that is kept of a piece, apart from its history."""
    row = Piece.objects.get(pk=piece.pk)
    return {
        "columns": model_to_dict(row),
        "since": (row.stage_since, row.ended_at),
        "glazes": glazes_as_noted(row),
        "open jobs": sorted(
            row.jobs.filter(done_at__isnull=True, withdrawn_at__isnull=True).values_list("code", flat=True)
        ),
        "slip": Tag.objects.get(piece=row, retired_at__isnull=True).code,
    }


def act(**more: object) -> dict:
    return {"by": factories.tutor(), "client_id": cid(), "now": NOW, **more}


ACTS = {
    "moved": ("wet", lambda p: move_piece(piece=p, to="bone-dry", **act())),
    "shelved": ("wet", lambda p: put_on_shelf(piece=p, shelf=factories.shelf(), **act())),
    "glazes noted": (
        "bisqued",
        lambda p: note_glazes(piece=p, coats=[Coat("inside", factories.glaze())], **act()),
    ),
    "measured again": (
        "bone-dry",
        lambda p: resize_piece(
            piece=p,
            is_round=False,
            width_mm=104,
            depth_mm=99,
            height_mm=90,
            base_mm=7,
            measured_stage="bone-dry",
            bare_foot=False,
            **act(),
        ),
    ),
    "route changed": (
        "bisqued",
        lambda p: replan_piece(
            piece=p,
            route="bisque-only",
            clay=factories.clay(),
            due_on=(NOW + timedelta(days=9)).date(),
            new_set_name="Tea set",
            session=factories.session(),
            **act(),
        ),
    ),
    "given": ("glazed", lambda p: give_piece(piece=p, maker=factories.student("Tobias"), **act())),
    "made the studio's": ("ready", lambda p: give_piece(piece=p, maker=None, studios_own=True, **act())),
    "a job asked": ("ready", lambda p: add_job(piece=p, kind="sand-foot", **act())),
    "a job done": ("finishing", lambda p: finish_job(job=p.jobs.get(), **act())),
    "refired": ("finishing", lambda p: refire_piece(piece=p, reason="A dry patch inside", **act())),
    "collected": ("ready", lambda p: collect_pieces(pieces=[p], **act())[0]),
    "lost": ("leather-hard", lambda p: lose_piece(piece=p, cause="broken", note="Knocked off", **act())),
    "reclaimed": ("bone-dry", lambda p: reclaim_piece(piece=p, **act())),
    "unclaimed": (
        "ready",
        lambda p: unclaim_piece(piece=p, kept=True, override_reason="Moved abroad", **act()),
    ),
}


@pytest.mark.parametrize("name", ACTS)
def test_an_undo_leaves_the_piece_as_it_was_and_keeps_the_history(name: str) -> None:
    factories.studio()
    stage, do = ACTS[name]
    piece = factories.piece(stage=stage, shelf=factories.shelf("Rack"), due_on=NOW.date())
    oak = factories.glaze("Oak ash")
    note_glazes(piece=piece, coats=[Coat("outside", oak, notes="thin")], **act())
    Piece.objects.filter(pk=piece.pk).update(stage=stage, stage_since=NOW - timedelta(days=21))
    if stage == "bisqued":  # noting glazes glazed it
        Event.objects.filter(piece=piece, kind="glazes").update(to_stage=stage)
    if stage == "finishing":
        FinishingJob.objects.create(piece=piece, kind="grind-spur", asked_at=NOW)
    piece.refresh_from_db()
    before = state(piece)
    event = do(piece)
    assert state(piece) != before, "the action did nothing"
    assert agrees(piece)
    second = undo(event=event, by=factories.helper(), client_id=cid(), now=NOW + timedelta(minutes=2))
    assert state(piece) == before
    assert agrees(piece)
    assert (second.kind, second.undoes, second.to_stage) == ("undone", event, stage)
    assert list(piece.events.order_by("pk"))[-2:] == [event, second]
    with pytest.raises(Refused, match="undone already"):
        undo(event=event, by=factories.helper(), client_id=cid(), now=NOW)
    with pytest.raises(Refused, match="An undo can't be undone"):
        undo(event=second, by=factories.helper(), client_id=cid(), now=NOW)


def test_undoing_the_entry_withdraws_piece_and_slip_and_frees_nothing_else() -> None:
    ines = factories.student()
    mug = enter_piece(
        by=ines,
        maker=ines,
        form="mug",
        technique="thrown",
        clay=factories.clay(),
        is_round=True,
        width_mm=95,
        depth_mm=95,
        height_mm=110,
        client_id=cid(),
        now=NOW,
    )
    undo(event=mug.events.get(), by=ines, client_id=cid(), now=NOW)
    mug.refresh_from_db()
    assert (mug.stage, mug.is_live, mug.maker) == ("withdrawn", False, ines)
    assert not Tag.objects.filter(piece=mug, retired_at__isnull=True).exists()
    assert agrees(mug)


def test_what_came_later_is_undone_first_and_the_sentence_says_what() -> None:
    ivo, piece = factories.helper(), factories.piece()
    first = move_piece(piece=piece, to="leather-hard", by=ivo, client_id=cid(), now=NOW)
    second = put_on_shelf(piece=piece, shelf=factories.shelf(), by=ivo, client_id=cid(), now=NOW)
    with pytest.raises(Refused, match=f"Undo “put on a shelf” of {piece.mark} first"):
        undo(event=first, by=ivo, client_id=cid(), now=NOW)
    assert last_undoable(piece) == second
    undo(event=second, by=ivo, client_id=cid(), now=NOW)
    assert last_undoable(piece) == first
    undo(event=first, by=ivo, client_id=cid(), now=NOW)
    piece.refresh_from_db()
    assert piece.stage == "wet"
    assert agrees(piece)


def test_an_undo_sent_twice_is_one_event() -> None:
    ivo, piece, sent = factories.helper(), factories.piece(), cid()
    event = move_piece(piece=piece, to="leather-hard", by=ivo, client_id=cid(), now=NOW)
    assert undo(event=event, by=ivo, client_id=sent, now=NOW) == undo(
        event=event, by=ivo, client_id=sent, now=NOW
    )
    assert piece.events.count() == 3


def test_members_undo_what_they_did_and_nothing_else() -> None:
    bowl = factories.piece(stage="bisqued")
    coats = [Coat("inside", factories.glaze())]
    own = note_glazes(piece=bowl, coats=coats, by=bowl.maker, client_id=cid(), now=NOW)
    with pytest.raises(Refused, match="what you did yourself"):
        undo(event=own, by=factories.student("Tobias"), client_id=cid(), now=NOW)
    undo(event=own, by=bowl.maker, client_id=cid(), now=NOW)
    bowl.refresh_from_db()
    assert bowl.stage == "bisqued"


def test_undone_before_the_notice_goes_nobody_is_told_and_after_it_a_correction_is_offered() -> None:
    factories.studio()
    ivo, mug = factories.helper(), factories.piece(stage="fired")
    early = move_piece(piece=mug, to="ready", by=ivo, client_id=cid(), now=NOW)
    assert Notice.objects.filter(pieces=mug, state="waiting").exists()
    undo(event=early, by=ivo, client_id=cid(), now=NOW)
    assert not Notice.objects.filter(pieces=mug, state="waiting").exists()
    assert correction_offered(mug, now=NOW) is None

    late = move_piece(piece=mug, to="ready", by=ivo, client_id=cid(), now=NOW)
    gone = Notice.objects.get(pieces=mug, state="waiting")
    sent_to = mug.maker.email
    Notice.objects.filter(pk=gone.pk).update(state="sent", sent_at=NOW, sent_to=sent_to)
    undo(event=late, by=ivo, client_id=cid(), now=NOW + timedelta(hours=1))
    assert correction_offered(mug, now=NOW + timedelta(hours=1)) == gone


def test_a_handing_over_undone_tells_nobody_a_second_time() -> None:
    factories.studio()
    ivo, mug = factories.helper(), factories.piece(stage="fired")
    move_piece(piece=mug, to="ready", by=ivo, client_id=cid(), now=NOW)
    Notice.objects.filter(pieces=mug).update(state="sent", sent_at=NOW, sent_to=mug.maker.email)
    event = collect_pieces(pieces=[mug], by=ivo, client_id=cid(), now=NOW)[0]
    undo(event=event, by=ivo, client_id=cid(), now=NOW)
    mug.refresh_from_db()
    assert mug.stage == "ready"
    assert Notice.objects.filter(pieces=mug).count() == 1


def test_a_piece_does_not_come_back_when_its_mark_has_gone_to_another() -> None:
    ivo, old = factories.helper(), factories.piece(mark="7KD", stage="ready")
    event = collect_pieces(pieces=[old], by=ivo, client_id=cid(), now=NOW)[0]
    factories.piece(mark="7KA")
    with pytest.raises(Refused, match="The mark 7KD has gone to another piece"):
        undo(event=event, by=ivo, client_id=cid(), now=NOW)


def test_an_answer_at_unload_is_undone_from_the_piece_too_while_the_kiln_is_being_unloaded() -> None:
    ivo, firing = factories.helper(), factories.firing("unloading", pieces=2)
    placement = firing.placements.first()
    answer = answer_place(
        placement=placement,
        outcome="flawed",
        flaws=[SeenFlaw("pinholes", "inside")],
        by=ivo,
        client_id=cid(),
        now=NOW,
    )
    piece = placement.piece
    assert last_undoable(piece) == answer.event
    undo(event=answer.event, by=ivo, client_id=cid(), now=NOW)
    piece.refresh_from_db()
    assert piece.stage == "glaze-firing"
    assert not piece.flaws.filter(withdrawn_at__isnull=True).exists()
    assert agrees(piece)
    again = answer_place(placement=placement, outcome="sound", by=ivo, client_id=cid(), now=NOW)
    Firing.objects.update(state="closed", closed_at=NOW)
    assert last_undoable(piece) is None
    with pytest.raises(Refused, match="is closed"):
        undo(event=again.event, by=ivo, client_id=cid(), now=NOW)


def test_a_refire_at_the_studio_s_cost_is_free_once() -> None:
    tutor, bowl = factories.tutor(), factories.piece(stage="fired")
    refire_piece(piece=bowl, reason="Cold spot", studio_at_fault=True, by=tutor, client_id=cid(), now=NOW)
    bowl.refresh_from_db()
    assert refired_free([bowl]) == {bowl.pk}
    firing = factories.firing("unloading", pieces=[bowl], lit_at=NOW)
    assert refired_free([bowl]) == {bowl.pk}
    answer_place(placement=firing.placements.get(), outcome="sound", by=tutor, client_id=cid(), now=NOW)
    assert refired_free([bowl]) == set()


def test_a_lit_kiln_is_put_out_on_its_own_page() -> None:
    firing = factories.firing("firing", pieces=1)
    lit = Event.objects.get(kind="lit")
    with pytest.raises(Refused, match=f"firing {firing.number}"):
        undo(event=lit, by=factories.tutor(), client_id=cid(), now=NOW)
    assert last_undoable(lit.piece) is None


def test_what_a_planned_load_stands_on_is_not_undone_under_it() -> None:
    tutor, piece = factories.tutor(), factories.piece(stage="leather-hard")
    event = move_piece(piece=piece, to="bone-dry", by=tutor, client_id=cid(), now=NOW)
    firing = factories.firing("planned", kind="bisque", pieces=[piece])
    with pytest.raises(Refused, match=f"in the load of firing {firing.number}"):
        undo(event=event, by=tutor, client_id=cid(), now=NOW)


# Finishing, refiring and the ends, beyond their undo


def test_the_last_job_done_makes_a_piece_ready_and_tells_its_maker() -> None:
    factories.studio()
    ivo, jug = factories.helper(), factories.piece(stage="fired")
    add_job(piece=jug, kind="grind-spur", by=ivo, client_id=cid(), now=NOW)
    add_job(piece=jug, kind="other", note="Glue nothing; wash it", by=ivo, client_id=cid(), now=NOW)
    first, second = jug.jobs.all()
    finish_job(job=first, by=ivo, client_id=cid(), now=NOW)
    jug.refresh_from_db()
    assert jug.stage == "finishing"
    with pytest.raises(Refused, match="1 finishing job"):
        move_piece(piece=jug, to="ready", by=ivo, client_id=cid(), now=NOW)
    sent = cid()
    assert finish_job(job=second, by=ivo, client_id=sent, now=NOW) == finish_job(
        job=second, by=ivo, client_id=sent, now=NOW
    )
    jug.refresh_from_db()
    assert jug.stage == "ready"
    assert Notice.objects.filter(pieces=jug, state="waiting").count() == 1
    with pytest.raises(Refused, match="done already"):
        finish_job(job=second, by=ivo, client_id=cid(), now=NOW)
    with pytest.raises(Refused, match="Write down what is to be done"):
        add_job(piece=jug, kind="other", by=ivo, client_id=cid(), now=NOW)
    with pytest.raises(Refused, match="Finishing comes after its last firing"):
        add_job(piece=factories.piece(), kind="sand-foot", by=ivo, client_id=cid(), now=NOW)


def test_a_piece_that_waits_for_a_lustre_firing_is_not_ready_after_its_jobs() -> None:
    ivo, cup = factories.helper(), factories.piece(stage="fired", low_firings_wanted=1)
    add_job(piece=cup, kind="sand-foot", by=ivo, client_id=cid(), now=NOW)
    finish_job(job=cup.jobs.get(), by=ivo, client_id=cid(), now=NOW)
    cup.refresh_from_db()
    assert cup.stage == "fired"


def test_a_refire_keeps_its_reason_and_who_bears_it() -> None:
    tutor, bowl, other = factories.tutor(), factories.piece(stage="fired"), factories.piece(stage="ready")
    event = refire_piece(
        piece=bowl, reason="Underfired", studio_at_fault=True, by=tutor, client_id=cid(), now=NOW
    )
    refire_piece(piece=other, reason="Another coat", by=tutor, client_id=cid(), now=NOW)
    assert event.note == "Underfired"
    assert refired_free([bowl, other]) == {bowl.pk}
    bowl.refresh_from_db()
    assert facts_of(bowl).stage == "glazed"
    for piece, reason, words in (
        (bowl, "Again", "Only fired ware"),
        (factories.piece(stage="ready"), " ", "reason is missing"),
        (factories.piece(stage="ready", route="bisque-only"), "x", "bisque only"),
    ):
        with pytest.raises(Refused, match=words):
            refire_piece(piece=piece, reason=reason, by=tutor, client_id=cid(), now=NOW)


def test_only_clay_that_no_fire_has_touched_is_slaked_down() -> None:
    tutor = factories.tutor()
    for stage in ("bisqued", "glazed", "ready"):
        with pytest.raises(Refused, match="can't be slaked down"):
            reclaim_piece(piece=factories.piece(stage=stage), by=tutor, client_id=cid(), now=NOW)


def test_a_piece_is_unclaimed_only_after_its_weeks_and_its_notice_or_with_the_tutor_s_reason() -> None:
    factories.studio(pickup_weeks=4)
    tutor, mug = factories.tutor(), factories.piece(stage="ready", made_at=NOW - timedelta(days=27))
    with pytest.raises(Refused) as refused:
        unclaim_piece(piece=mug, kept=False, by=tutor, client_id=cid(), now=NOW)
    assert refused.value.codes == ["still-kept", "not-told"]
    assert refused.value.overridable
    with pytest.raises(Refused):
        unclaim_piece(
            piece=mug, kept=False, override_reason="x", by=factories.helper(), client_id=cid(), now=NOW
        )
    notice = Notice.objects.create(
        key="ready:1",
        kind="ready",
        recipient=mug.maker,
        state="sent",
        sent_at=NOW,
        made_at=NOW,
        not_before=NOW,
    )
    notice.pieces.add(mug)
    later = NOW + timedelta(days=1)
    event = unclaim_piece(piece=mug, kept=False, by=tutor, client_id=cid(), now=later)
    assert (event.note, event.to_stage) == ("Disposed of", "unclaimed")


def test_a_loss_is_told_once_the_tutor_has_seen_it_and_not_when_undone() -> None:
    factories.studio()
    tutor, mug = factories.tutor(), factories.piece(stage="bisqued")
    event = lose_piece(piece=mug, cause="broken", note="Slipped", by=tutor, client_id=cid(), now=NOW)
    assert event.note == "Broken: Slipped"
    assert Notice.objects.get(pieces=mug).kind == "loss"
    undo(event=event, by=tutor, client_id=cid(), now=NOW)
    assert not Notice.objects.filter(pieces=mug, state="waiting").exists()
    with pytest.raises(Refused, match="Choose the cause"):
        lose_piece(piece=mug, cause="stolen", by=tutor, client_id=cid(), now=NOW)
