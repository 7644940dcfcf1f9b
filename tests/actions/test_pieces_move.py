"""Moving pieces by hand, shelves, and the same act sent twice or from a page used before."""

from datetime import timedelta

import pytest

from studio.actions.pieces import move_piece, put_on_shelf
from studio.actions.pieces_change import give_piece, replan_piece, resize_piece
from studio.actions.pieces_end import collect_pieces
from studio.actions.pieces_glaze import Coat, note_glazes
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.models import Event, Notice, Piece
from studio.queries.piece_facts import facts_for, facts_of
from tests import factories
from tests.actions.replay import agrees

pytestmark = pytest.mark.django_db
NOW = factories.NOW
cid = factories.client_id


@pytest.fixture
def ivo():
    return factories.helper()


def test_a_piece_dries_is_bisqued_elsewhere_glazed_and_each_step_is_an_event(ivo) -> None:
    bowl = factories.piece()
    move_piece(piece=bowl, to="leather-hard", by=ivo, client_id=cid(), now=NOW)
    event = move_piece(piece=bowl, to=Stage.BONE_DRY, by=ivo, client_id=cid(), note="Light to lift", now=NOW)
    bowl.refresh_from_db()
    assert (bowl.stage, bowl.stage_since, event.from_stage) == ("bone-dry", NOW, "leather-hard")
    assert agrees(bowl)


@pytest.mark.parametrize(
    ("stage", "to", "code"),
    [
        ("wet", "wet", "already-there"),
        ("wet", "glazed", "no-such-step"),
        ("bone-dry", "glazed", "not-single-fired"),
        ("collected", "ready", "ended"),
        ("wet", "nowhere", "no-such-choice"),
    ],
)
def test_a_step_the_studio_does_not_know_is_refused(ivo, stage: str, to: str, code: str) -> None:
    piece = factories.piece(stage=stage)
    with pytest.raises(Refused) as refused:
        move_piece(piece=piece, to=to, by=ivo, client_id=cid(), now=NOW)
    assert refused.value.codes == [code]
    assert piece.events.count() == 1


def test_a_student_moves_nothing_and_neither_does_a_helper_who_left(ivo) -> None:
    piece = factories.piece()
    for by in (piece.maker, factories.helper("Ada", left_at=NOW)):
        with pytest.raises(Refused, match="Only the tutor or a helper"):
            move_piece(piece=piece, to="leather-hard", by=by, client_id=cid(), now=NOW)


def test_the_same_scan_twice_is_one_event_and_a_used_page_is_refused(ivo) -> None:
    piece, sent = factories.piece(), cid()
    first = move_piece(piece=piece, to="leather-hard", by=ivo, client_id=sent, now=NOW)
    assert move_piece(piece=piece, to="leather-hard", by=ivo, client_id=sent, now=NOW) == first
    assert piece.events.count() == 2
    # Gone back to the page and pressed something else: said, not swallowed.
    with pytest.raises(Refused, match="sent before, for something else"):
        move_piece(piece=piece, to="bone-dry", by=ivo, client_id=sent, now=NOW)
    with pytest.raises(Refused, match="sent before, for something else"):
        move_piece(piece=factories.piece(), to="leather-hard", by=ivo, client_id=sent, now=NOW)


def test_what_was_undone_since_stays_undone_when_the_scan_is_sent_again(ivo) -> None:
    from studio.actions.undo import undo

    piece, sent = factories.piece(), cid()
    first = move_piece(piece=piece, to="leather-hard", by=ivo, client_id=sent, now=NOW)
    undo(event=first, by=ivo, client_id=cid(), now=NOW)
    move_piece(piece=piece, to="leather-hard", by=ivo, client_id=sent, now=NOW)
    piece.refresh_from_db()
    assert piece.stage == "wet"


def test_a_scan_keeps_the_time_of_its_own_clock_but_not_one_ahead(ivo) -> None:
    piece, then = factories.piece(), NOW - timedelta(hours=5)
    event = move_piece(piece=piece, to="leather-hard", by=ivo, client_id=cid(), at=then, now=NOW)
    piece.refresh_from_db()
    assert (event.at, event.recorded_at, piece.stage_since) == (then, NOW, then)
    with pytest.raises(Refused, match="in the future"):
        move_piece(piece=piece, to="bone-dry", by=ivo, client_id=cid(), at=NOW + timedelta(days=2), now=NOW)


def test_shelves_know_what_stands_on_them(ivo) -> None:
    trolley, rack = factories.shelf("Trolley"), factories.shelf("Rack")
    piece = factories.piece(shelf=trolley)
    put_on_shelf(piece=piece, shelf=rack, by=ivo, client_id=cid(), now=NOW)
    assert list(rack.pieces.all()) == [piece]
    assert not trolley.pieces.exists()
    with pytest.raises(Refused, match="is on Rack already"):
        put_on_shelf(piece=piece, shelf=rack, by=ivo, client_id=cid(), now=NOW)
    put_on_shelf(piece=piece, shelf=None, by=ivo, client_id=cid(), now=NOW)
    with pytest.raises(Refused, match="on no shelf already"):
        put_on_shelf(piece=piece, shelf=None, by=ivo, client_id=cid(), now=NOW)
    with pytest.raises(Refused, match="not in use any more"):
        put_on_shelf(
            piece=piece, shelf=factories.shelf("Old", retired_at=NOW), by=ivo, client_id=cid(), now=NOW
        )
    assert agrees(piece)


def test_a_piece_in_a_kiln_stays_there_and_one_in_a_planned_load_keeps_what_the_load_needs(ivo) -> None:
    in_kiln = factories.piece(stage="bone-dry")
    factories.firing("cooling", kind="bisque", pieces=[in_kiln])
    for act in (
        lambda: move_piece(piece=in_kiln, to="bisqued", by=ivo, client_id=cid(), now=NOW),
        lambda: put_on_shelf(piece=in_kiln, shelf=factories.shelf(), by=ivo, client_id=cid(), now=NOW),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert refused.value.codes == ["in-kiln"]
    planned = factories.piece(stage="bone-dry")
    firing = factories.firing("planned", kind="bisque", pieces=[planned])
    with pytest.raises(Refused, match=f"in the load of firing {firing.number}. Take it out of there first"):
        move_piece(piece=planned, to="leather-hard", by=ivo, client_id=cid(), now=NOW)
    with pytest.raises(Refused, match="in the load"):
        resize_piece(
            piece=planned,
            width_mm=90,
            height_mm=90,
            measured_stage="bone-dry",
            by=ivo,
            client_id=cid(),
            now=NOW,
        )
    damp = factories.piece(stage="leather-hard")
    factories.firing("planned", kind="bisque", pieces=[damp])
    move_piece(piece=damp, to="bone-dry", by=ivo, client_id=cid(), now=NOW)


def test_glazes_are_noted_by_the_maker_and_turn_a_bisqued_piece_glazed() -> None:
    oak, tin = factories.glaze("Oak ash"), factories.glaze("Tin white")
    bowl = factories.piece(stage="bisqued")
    event = note_glazes(
        piece=bowl,
        coats=[
            Coat("outside", oak, coats=2, method="brushed"),
            Coat("outside", tin, order=2, notes="a band under the rim"),
            Coat("foot", None),
        ],
        by=bowl.maker,
        client_id=cid(),
        now=NOW,
    )
    bowl.refresh_from_db()
    assert (bowl.stage, event.kind, event.from_stage) == ("glazed", Event.Kind.GLAZES, "bisqued")
    assert facts_of(bowl).surfaces_glazed == 1
    note_glazes(piece=bowl, coats=[Coat("inside", tin)], by=bowl.maker, client_id=cid(), now=NOW)
    assert [(row.surface, row.glaze) for row in bowl.glazes_on.all()] == [("inside", tin)]
    assert agrees(bowl)


def test_bare_clay_alone_glazes_nothing_and_a_raw_glazed_piece_needs_its_route() -> None:
    oak = factories.glaze()
    bare, raw, usual = (
        factories.piece(stage="bisqued"),
        factories.piece(stage="bone-dry", route="single-fired"),
        factories.piece(stage="bone-dry"),
    )
    for piece, coat, stage in (
        (bare, Coat("outside", None), "bisqued"),
        (raw, Coat("outside", oak), "glazed"),
        (usual, Coat("decoration", oak), "bone-dry"),
    ):
        note_glazes(piece=piece, coats=[coat], by=piece.maker, client_id=cid(), now=NOW)
        piece.refresh_from_db()
        assert piece.stage == stage


@pytest.mark.parametrize(
    ("coats", "code"),
    [
        (lambda g: [Coat("outside", g), Coat("outside", g)], "order-twice"),
        (lambda g: [Coat("lid", g)], "no-such-choice"),
        (lambda g: [Coat("outside", g, coats=0)], "number-out-of-range"),
        (lambda g: [Coat("outside", g, notes="\x07")], "unseen-signs"),
        (lambda g: [Coat("outside", factories.glaze(retired_at=NOW))], "glaze-retired"),
    ],
)
def test_a_list_of_glazes_is_taken_whole_or_not_at_all(coats, code: str) -> None:
    oak = factories.glaze()
    bowl = factories.piece(stage="bisqued")
    note_glazes(piece=bowl, coats=[Coat("rim", oak)], by=bowl.maker, client_id=cid(), now=NOW)
    with pytest.raises(Refused) as refused:
        note_glazes(piece=bowl, coats=coats(oak), by=bowl.maker, client_id=cid(), now=NOW)
    assert refused.value.codes == [code]
    assert [row.surface for row in bowl.glazes_on.all()] == ["rim"]
    with pytest.raises(Refused, match="your own pieces"):
        note_glazes(piece=bowl, coats=[], by=factories.student("Tobias"), client_id=cid(), now=NOW)


def test_a_change_of_route_takes_the_piece_where_that_route_has_it(ivo) -> None:
    tile = factories.piece(stage="ready", route="bisque-only")
    replan_piece(piece=tile, route="bisque-then-glaze", by=ivo, client_id=cid(), now=NOW)
    tile.refresh_from_db()
    assert (tile.stage, tile.route) == ("bisqued", "bisque-then-glaze")
    replan_piece(piece=tile, route="bisque-only", cone_wanted="04", by=ivo, client_id=cid(), now=NOW)
    tile.refresh_from_db()
    assert (tile.stage, tile.cone_wanted) == ("ready", "04")
    with pytest.raises(Refused, match="Nothing was changed"):
        replan_piece(piece=tile, cone_wanted="04", by=ivo, client_id=cid(), now=NOW)
    bisqued = factories.piece(stage="bisqued")
    with pytest.raises(Refused, match="can't be single fired any more"):
        replan_piece(piece=bisqued, route="single-fired", by=ivo, client_id=cid(), now=NOW)
    glazed = factories.piece(stage="glazed")
    with pytest.raises(Refused, match="Move it back to bisqued"):
        replan_piece(piece=glazed, route="bisque-only", by=ivo, client_id=cid(), now=NOW)
    assert agrees(tile)


def test_a_due_day_that_has_passed_since_may_stand_but_no_past_one_is_set(ivo) -> None:
    late = factories.piece(due_on=(NOW - timedelta(days=3)).date())
    replan_piece(piece=late, use="outdoor", by=ivo, client_id=cid(), now=NOW)
    with pytest.raises(Refused, match="has passed"):
        replan_piece(piece=late, due_on=(NOW - timedelta(days=2)).date(), by=ivo, client_id=cid(), now=NOW)


def test_a_ready_piece_given_to_another_maker_is_told_of_to_them_alone(ivo) -> None:
    factories.studio()
    ines, tobias = factories.student(), factories.student("Tobias")
    mug = factories.piece(maker=ines, stage="fired")
    move_piece(piece=mug, to="ready", by=ivo, client_id=cid(), now=NOW)
    assert [notice.recipient for notice in Notice.objects.filter(state="waiting")] == [ines]
    give_piece(piece=mug, maker=tobias, by=ivo, client_id=cid(), now=NOW)
    assert [notice.recipient for notice in Notice.objects.filter(state="waiting")] == [tobias]
    with pytest.raises(Refused, match="down for them already"):
        give_piece(piece=mug, maker=tobias, by=ivo, client_id=cid(), now=NOW)
    give_piece(piece=mug, maker=None, studios_own=True, by=ivo, client_id=cid(), now=NOW)
    mug.refresh_from_db()
    assert mug.studios_own
    assert not Notice.objects.filter(state="waiting").exists()
    assert agrees(mug)


def test_facts_of_many_pieces_cost_as_many_queries_as_of_one(django_assert_num_queries) -> None:
    pieces = [factories.piece(stage="bisqued") for _ in range(30)]
    with django_assert_num_queries(4):
        facts_for(pieces[:1])
    with django_assert_num_queries(4):
        facts = facts_for(pieces)
    assert all(fact.bisqued_before for fact in facts.values())


def test_handing_over_ten_pieces_writes_ten_events_and_takes_them_off_their_shelves(ivo) -> None:
    shelf, ines = factories.shelf(), factories.student()
    pieces = [factories.piece(maker=ines, stage="ready", shelf=shelf) for _ in range(10)]
    sent = cid()
    events = collect_pieces(pieces=pieces, by=ivo, client_id=sent, now=NOW)
    assert collect_pieces(pieces=[*pieces, *pieces], by=ivo, client_id=sent, now=NOW) == events
    assert Event.objects.filter(kind=Event.Kind.COLLECTED).count() == 10
    assert not shelf.pieces.exists()
    assert Piece.objects.filter(stage="collected", ended_at=NOW).count() == 10
    assert all(agrees(piece) for piece in pieces)
    with pytest.raises(Refused, match="collected already"):
        collect_pieces(pieces=pieces[:1], by=ivo, client_id=cid(), now=NOW)


def test_one_piece_that_is_not_ready_holds_the_whole_handing_over_back(ivo) -> None:
    ready, glazed = factories.piece(stage="ready"), factories.piece(stage="glazed")
    with pytest.raises(Refused, match=f"{glazed.mark} is glazed, not ready. Leave it out."):
        collect_pieces(pieces=[ready, glazed], by=ivo, client_id=cid(), now=NOW)
    ready.refresh_from_db()
    assert ready.stage == "ready"
    with pytest.raises(Refused, match="No piece was chosen"):
        collect_pieces(pieces=[], by=ivo, client_id=cid(), now=NOW)
