"""What makers ask of the studio: Ines and Ruth ask, Maud says yes or no, and what a yes does."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from studio.actions.pieces_end import collect_pieces, unclaim_piece
from studio.actions.undo import undo
from studio.actions.wishes import ask_wish, decline_wish, grant_wish, take_answer_back, withdraw_wish
from studio.domain.problems import Refused
from studio.models import Event, Person, Piece, Wish
from studio.queries import keeping
from studio.queries import today as today_queries
from studio.queries import wishes as queries
from tests import factories as make
from tests.actions.replay import agrees

pytestmark = pytest.mark.django_db
NOW = make.NOW
DAY = timedelta(days=1)


@pytest.fixture
def maud() -> Person:
    make.studio()
    return make.tutor()


@pytest.fixture
def ines(maud: Person) -> Person:
    return make.student()


def ask(piece: Piece, kind: str, by: Person | None = None, **values: Any) -> Wish:
    return ask_wish(
        **{"piece": piece, "kind": kind, "by": by or piece.maker, "client_id": make.client_id(), "now": NOW}
        | values
    )


def yes(wish: Wish, maud: Person, **values: Any) -> Wish:
    return grant_wish(**{"wish": wish, "by": maud, "client_id": make.client_id(), "now": NOW} | values)


def code_of(refused: pytest.ExceptionInfo[Refused]) -> str:
    return refused.value.problems[0].code


def test_a_day_is_asked_for_and_a_yes_puts_it_on_the_piece(ines: Person, maud: Person) -> None:
    piece = make.piece(maker=ines, stage="bone-dry")
    wish = ask(piece, "due", wanted_on=date(2025, 12, 20), words="For my mother’s birthday")
    piece.refresh_from_db()
    assert piece.due_on is None  # asking changes nothing
    assert list(queries.waiting()) == [wish]
    done = yes(wish, maud, word="We will try.")
    piece.refresh_from_db()
    assert piece.due_on == date(2025, 12, 20)
    assert (done.said_yes, done.word, done.event.kind) == (True, "We will try.", "replanned")
    assert not queries.waiting().exists()
    assert agrees(piece)


def test_what_it_is_for(ines: Person, maud: Person) -> None:
    piece = make.piece(maker=ines, stage="ready", use="food")
    yes(ask(piece, "use", wanted_use="decorative"), maud)
    piece.refresh_from_db()
    assert piece.use == "decorative"
    again = yes(ask(piece, "use", wanted_use="decorative"), maud)  # it is so already: a yes, no event
    assert (again.said_yes, again.event) == (True, None)


def test_a_refire_is_carried_out_with_her_reason_and_the_studio_may_bear_it(
    ines: Person, maud: Person
) -> None:
    piece = make.piece(maker=ines, stage="ready")
    wish = ask(piece, "refire", words="The inside is dry")
    yes(wish, maud, studio_at_fault=True)
    piece.refresh_from_db()
    event = piece.events.get(kind="refire")
    assert piece.stage == "glazed"
    assert event.note == "The inside is dry"
    assert event.before["studio_at_fault"] is True


def test_given_away_to_the_studio_or_to_somebody(ines: Person, maud: Person) -> None:
    to_studio, to_tobias = (make.piece(maker=ines, stage="ready") for _ in range(2))
    tobias = make.student("Tobias")
    yes(ask(to_studio, "give-away", words="The studio may have it"), maud)
    yes(ask(to_tobias, "give-away", words="To Tobias"), maud, to=tobias)
    to_studio.refresh_from_db()
    to_tobias.refresh_from_db()
    assert (to_studio.maker, to_studio.studios_own) == (None, True)
    assert to_tobias.maker == tobias
    assert agrees(to_studio)
    assert {wish.piece_id for wish in queries.news_for([ines], now=NOW)} == {to_studio.pk, to_tobias.pk}
    assert queries.wishes_of(to_tobias, viewer=tobias) == []  # what Ines asked is not his to read


def test_kept_until_a_day_is_respected_by_reminders_and_the_unclaimed(ines: Person, maud: Person) -> None:
    long_ago = NOW - timedelta(weeks=9)
    piece = make.piece(maker=ines, stage="ready", made_at=long_ago)
    studio = make.studio()
    until = (NOW + 30 * DAY).date()
    assert keeping.kept_to(piece, studio=studio) < NOW.date()
    assert keeping.not_kept(Piece.objects.all(), now=NOW).exists()
    yes(ask(piece, "keep", wanted_on=until), maud)
    piece.refresh_from_db()
    assert piece.kept_until == until
    assert keeping.kept_to(piece, studio=studio) == until
    assert not keeping.not_kept(Piece.objects.all(), now=NOW).exists()
    assert keeping.not_kept(Piece.objects.all(), now=NOW + 30 * DAY).exists()
    jobs = today_queries.jobs_for(person=maud, studio=studio, now=NOW, firings=[], openings={})
    assert not [job for job in jobs if job.title.startswith("Ask again")]
    with pytest.raises(Refused) as refused:
        unclaim_piece(piece=piece, kept=True, by=maud, client_id="early", now=NOW)
    assert "still-kept" in {problem.code for problem in refused.value.problems}


def test_no_keeps_the_piece_as_it_is_and_needs_a_line(ines: Person, maud: Person) -> None:
    piece = make.piece(maker=ines, stage="ready")
    wish = ask(piece, "refire", words="More blue")
    with pytest.raises(Refused):
        decline_wish(wish=wish, by=maud, word=" ", now=NOW)
    decline_wish(wish=wish, by=maud, word="Blue would run off it; let us try on the next.", now=NOW)
    piece.refresh_from_db()
    assert piece.stage == "ready"
    assert piece.events.count() == 1
    assert not queries.waiting().exists()
    ask(piece, "refire", words="Then a little more white")  # asking again is allowed
    assert queries.waiting().count() == 1


def test_a_double_press_is_one_wish(ines: Person) -> None:
    piece = make.piece(maker=ines, stage="ready")
    first = ask(piece, "keep", wanted_on=date(2025, 12, 20), client_id="press")
    assert ask(piece, "keep", wanted_on=date(2025, 12, 20), client_id="press") == first
    assert ask(piece, "keep", wanted_on=date(2025, 12, 20)) == first  # another page, the same wish
    with pytest.raises(Refused) as refused:
        ask(piece, "keep", wanted_on=date(2025, 12, 21))
    assert code_of(refused) == "asked-already"
    with pytest.raises(Refused) as refused:
        ask(piece, "use", wanted_use="food", client_id="press")
    assert code_of(refused) == "page-used"
    assert Wish.objects.count() == 1


def test_a_double_yes_is_one_event(ines: Person, maud: Person) -> None:
    piece = make.piece(maker=ines, stage="ready")
    wish = ask(piece, "refire", words="Underfired")
    first = yes(wish, maud, client_id="yes")
    assert yes(wish, maud, client_id="yes") == first
    assert yes(wish, maud) == first
    assert piece.events.filter(kind="refire").count() == 1


def test_who_may_ask(ines: Person, maud: Person) -> None:
    piece = make.piece(maker=ines, stage="ready")
    for somebody in (make.student("Tobias"), make.helper(), maud):
        with pytest.raises(Refused) as refused:
            ask(piece, "keep", by=somebody, wanted_on=date(2025, 12, 20))
        assert code_of(refused) == "not-yours"
    sam = make.young_person()
    sams = make.piece(maker=sam, stage="ready")
    assert ask(sams, "give-away", by=sam.guardian, words="To his gran").maker == sam
    with pytest.raises(Refused) as refused:
        ask(make.piece(maker=sam, stage="ready"), "give-away", by=sam, words="To a friend")
    assert code_of(refused) == "ask-guardian"
    assert ask(make.piece(maker=sam, stage="ready"), "keep", by=sam, wanted_on=date(2025, 12, 20))


@pytest.mark.parametrize(
    ("stage", "kind"), [("wet", "refire"), ("ready", "due"), ("collected", "keep"), ("lost", "refire")]
)
def test_what_makes_no_sense_now_is_refused(ines: Person, stage: str, kind: str) -> None:
    piece = make.piece(maker=ines, stage=stage)
    with pytest.raises(Refused):
        ask(piece, kind, words="Please", wanted_on=date(2025, 12, 20))
    assert not Wish.objects.exists()


@pytest.mark.parametrize("values", [{}, {"wanted_on": NOW.date() - DAY}])
def test_a_day_must_be_said_and_lie_ahead(ines: Person, values: dict) -> None:
    with pytest.raises(Refused):
        ask(make.piece(maker=ines), "due", **values)


def test_only_the_tutor_answers(ines: Person, maud: Person) -> None:
    wish = ask(make.piece(maker=ines, stage="ready"), "refire", words="Please")
    for somebody in (ines, make.helper()):
        with pytest.raises(Refused):
            grant_wish(wish=wish, by=somebody, client_id=make.client_id())
        with pytest.raises(Refused):
            decline_wish(wish=wish, by=somebody, word="No")
        with pytest.raises(Refused):
            take_answer_back(wish=wish, by=somebody, client_id=make.client_id())


def test_taken_back_by_its_maker_while_it_waits(ines: Person, maud: Person) -> None:
    wish = ask(make.piece(maker=ines, stage="ready"), "refire", words="Please")
    with pytest.raises(Refused):
        withdraw_wish(wish=wish, by=make.student("Tobias"))
    withdraw_wish(wish=wish, by=ines, now=NOW)
    withdraw_wish(wish=wish, by=ines, now=NOW)
    assert not queries.waiting().exists()
    with pytest.raises(Refused) as refused:
        yes(wish, maud)
    assert code_of(refused) == "withdrawn"
    answered = yes(ask(wish.piece, "refire", words="Please"), maud)
    with pytest.raises(Refused) as refused:
        withdraw_wish(wish=answered, by=ines)
    assert code_of(refused) == "answered"


def test_an_answer_is_taken_back_and_what_it_did_with_it(ines: Person, maud: Person) -> None:
    piece = make.piece(maker=ines, stage="ready")
    wish = yes(ask(piece, "refire", words="Underfired"), maud)
    take_answer_back(wish=wish, by=maud, client_id="back", now=NOW)
    piece.refresh_from_db()
    assert piece.stage == "ready"
    assert list(queries.waiting()) == [wish]
    assert agrees(piece)
    decline_wish(wish=wish, by=maud, word="Not this one", now=NOW)
    take_answer_back(wish=wish, by=maud, client_id="back-2", now=NOW)
    assert list(queries.waiting()) == [wish]
    until = date(2025, 12, 20)
    keep = yes(ask(piece, "keep", wanted_on=until), maud)
    take_answer_back(wish=keep, by=maud, client_id="back-3", now=NOW)
    piece.refresh_from_db()
    assert piece.kept_until is None


def test_undone_on_the_pieces_page_the_wish_waits_again(ines: Person, maud: Person) -> None:
    piece = make.piece(maker=ines, stage="ready")
    wish = yes(ask(piece, "keep", wanted_on=date(2025, 12, 20)), maud)
    undo(event=Event.objects.get(pk=wish.event_id), by=maud, client_id="undo", now=NOW)
    assert list(queries.waiting()) == [wish]
    assert yes(wish, maud).event.kind == "replanned"
    assert not queries.waiting().exists()


def test_a_piece_that_has_left_waits_for_no_answer(ines: Person, maud: Person) -> None:
    piece = make.piece(maker=ines, stage="ready")
    wish = ask(piece, "refire", words="Please")
    collect_pieces(pieces=[piece], by=maud, client_id="gone", now=NOW)
    assert not queries.waiting().exists()
    with pytest.raises(Refused):
        yes(wish, maud)
    wish.refresh_from_db()
    assert wish.answered_at is None  # refused whole


def test_after_it_changed_hands_nothing_is_carried_out(ines: Person, maud: Person) -> None:
    piece = make.piece(maker=ines, stage="ready")
    wish = ask(piece, "give-away", words="To the studio")
    Piece.objects.filter(pk=piece.pk).update(maker=make.student("Tobias"))
    with pytest.raises(Refused) as refused:
        yes(wish, maud)
    assert code_of(refused) == "changed-hands"
