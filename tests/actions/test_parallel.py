"""Many phones at once, on whichever database the tests run on: threads with connections of their own."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from random import Random
from threading import Barrier

import pytest
from django.db import connection

from studio.actions.pieces import enter_piece, move_piece, put_on_shelf
from studio.actions.pieces_end import collect_pieces
from studio.actions.undo import undo
from studio.domain import marks
from studio.domain.problems import Refused
from studio.models import Event, Piece
from tests import factories
from tests.actions.replay import agrees

pytestmark = pytest.mark.django_db(transaction=True)
NOW = factories.NOW
PHONES = 50


def at_once(act: Callable[[int], object], phones: int = PHONES) -> list[object]:
    """What each phone got, all having waited for each other first; a refusal is what it got, too."""
    start = Barrier(phones)

    def one(number: int) -> object:
        try:
            connection.ensure_connection()
            start.wait(timeout=60)
            return act(number)
        except Refused as refused:
            return refused.codes
        finally:
            connection.close()

    with ThreadPoolExecutor(phones) as pool:
        return list(pool.map(one, range(phones)))


def test_fifty_identical_scans_are_one_event_and_no_phone_sees_an_error() -> None:
    ivo, piece, shelf, sent = factories.helper(), factories.piece(), factories.shelf(), factories.client_id()
    got = at_once(lambda n: put_on_shelf(piece=piece, shelf=shelf, by=ivo, client_id=sent, now=NOW))
    assert len(set(got)) == 1
    assert isinstance(got[0], Event)
    assert Event.objects.filter(piece=piece).count() == 2
    assert agrees(piece)


def test_fifty_scans_of_one_slip_from_fifty_phones_move_it_once() -> None:
    ivo, piece = factories.helper(), factories.piece()
    got = at_once(
        lambda n: move_piece(piece=piece, to="bone-dry", by=ivo, client_id=factories.client_id(), now=NOW)
    )
    assert sum(isinstance(each, Event) for each in got) == 1
    assert got.count(["already-there"]) == PHONES - 1
    assert Event.objects.filter(piece=piece).count() == 2
    assert agrees(piece)


def test_the_same_undo_and_the_same_handing_over_from_many_phones_happen_once() -> None:
    ivo, piece, sent = factories.helper(), factories.piece(stage="ready"), factories.client_id()
    handed = at_once(lambda n: collect_pieces(pieces=[piece], by=ivo, client_id=sent, now=NOW)[0], 20)
    assert len(set(handed)) == 1
    event = Event.objects.get(kind="collected")
    undone = at_once(lambda n: undo(event=event, by=ivo, client_id=f"phone-{n % 2}", now=NOW), 20)
    assert sum(isinstance(each, Event) for each in undone) == 10
    assert undone.count(["undone-already"]) == 10
    assert Event.objects.filter(piece=piece).count() == 3
    assert agrees(piece)


def test_two_tutors_handing_over_the_same_table_in_opposite_order_do_not_block_each_other() -> None:
    ivo, pieces = factories.helper(), [factories.piece(stage="ready") for _ in range(8)]

    def hand_over(number: int) -> object:
        table = pieces if number % 2 else pieces[::-1]
        return collect_pieces(pieces=table, by=ivo, client_id=f"table-{number}", now=NOW)

    got = at_once(hand_over, 10)
    assert sum(isinstance(each[0], Event) for each in got) == 1
    assert Event.objects.filter(kind="collected").count() == 8


def test_pieces_entered_at_once_have_marks_two_apart_and_one_page_enters_one_piece() -> None:
    ines, clay = factories.student(), factories.clay()

    def enter(number: int) -> Piece:
        return enter_piece(
            by=ines,
            maker=ines,
            form="bowl",
            technique="thrown",
            clay=clay,
            is_round=True,
            width_mm=150,
            depth_mm=150,
            height_mm=80,
            client_id=f"page-{number // 2}",
            now=NOW,
            random=Random(number % 3),  # drawing alike, so that they would clash
        )

    got = at_once(enter)
    assert len(set(got)) == Piece.objects.count() == PHONES // 2
    drawn = list(Piece.objects.values_list("mark", flat=True))
    for place, one in enumerate(drawn):
        assert all(marks.distance(one, other) >= 2 for other in drawn[place + 1 :])
