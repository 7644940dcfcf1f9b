"""Two tutors at one kiln, and a button pressed by many at once, on whichever database the tests run on."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import firings, loads, loads_places, money, pieces_jobs, settling, unload
from studio.actions.unload_undo import undo_answer
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.models import (
    Charge,
    Event,
    Firing,
    Notice,
    Payment,
    Placement,
    Settlement,
    UnloadAnswer,
)
from studio.queries.money import balance
from tests import factories as make
from tests.actions.replay import agrees
from tests.actions.test_parallel import at_once

pytestmark = pytest.mark.django_db(transaction=True)
NOW = make.NOW
PHONES = 20


def test_numbers_of_firings_have_no_gaps_and_no_doubles() -> None:
    maud, kiln = make.tutor(), make.kiln()
    at_once(lambda n: loads.plan_firing(kiln=kiln, kind="bisque", cone="04", by=maud, now=NOW), PHONES)
    assert sorted(Firing.objects.values_list("number", flat=True)) == list(range(1, PHONES + 1))


def test_a_piece_put_into_many_loads_at_once_stands_in_one() -> None:
    maud, kiln, pot = make.tutor(), make.kiln(), make.piece(stage=Stage.GLAZED)
    planned = [loads.plan_firing(kiln=kiln, kind="glaze", cone="6", by=maud, now=NOW) for _ in range(8)]

    def put(number: int) -> object:
        firing = planned[number]
        return loads_places.load_piece(firing=firing, piece=pot, layer=firing.layers.get(), by=maud, now=NOW)

    got = at_once(put, 8)
    assert sum(isinstance(each, Placement) for each in got) == 1
    assert got.count(["in-load"]) == 7
    assert Placement.objects.filter(piece=pot).count() == 1


def test_pieces_put_in_at_once_do_not_stand_in_the_same_place() -> None:
    maud = make.tutor()
    firing = loads.plan_firing(kiln=make.kiln(), kind="glaze", cone="6", by=maud, now=NOW)
    pots = [make.piece(stage=Stage.GLAZED) for _ in range(8)]
    layer = firing.layers.get()
    got = at_once(
        lambda n: loads_places.load_piece(firing=firing, piece=pots[n], layer=layer, by=maud, now=NOW), 8
    )
    assert all(isinstance(each, Placement) for each in got)
    assert len({(place.x_mm, place.y_mm) for place in got}) == 8
    firings.light(
        firing=firing, by=maud, client_id=make.client_id(), now=NOW
    )  # the checker has no word against it


def test_lit_by_many_it_is_lit_once() -> None:
    maud = make.tutor()
    firing = loads.plan_firing(kiln=make.kiln(), kind="glaze", cone="6", by=maud, now=NOW)
    for _ in range(3):
        loads_places.load_piece(
            firing=firing, piece=make.piece(stage=Stage.GLAZED), layer=firing.layers.get(), by=maud, now=NOW
        )
    got = at_once(lambda n: firings.light(firing=firing, by=maud, client_id=f"tap-{n % 2}", now=NOW), PHONES)
    assert sum(isinstance(each, Firing) for each in got) == PHONES // 2
    assert got.count(["not-planned"]) == PHONES // 2
    assert Event.objects.filter(kind="lit").count() == 3


def test_one_kiln_is_lit_for_one_firing() -> None:
    maud, kiln = make.tutor(), make.kiln()
    planned = []
    for _ in range(6):
        firing = loads.plan_firing(kiln=kiln, kind="glaze", cone="6", by=maud, now=NOW)
        loads_places.load_piece(
            firing=firing, piece=make.piece(stage=Stage.GLAZED), layer=firing.layers.get(), by=maud, now=NOW
        )
        planned.append(firing)
    got = at_once(lambda n: firings.light(firing=planned[n], by=maud, client_id=make.client_id(), now=NOW), 6)
    assert sum(isinstance(each, Firing) for each in got) == 1
    assert got.count(["kiln-busy"]) == 5
    assert Event.objects.filter(kind="lit").count() == 1


def test_two_tutors_at_one_place_leave_one_answer() -> None:
    firing = make.firing(Firing.State.UNLOADING, pieces=1)
    placement, pot = firing.placements.get(), firing.placements.get().piece
    tutors = [make.tutor(f"Tutor{number}") for number in range(PHONES)]

    def answer(number: int) -> object:
        return unload.answer_place(
            placement=placement,
            outcome="sound",
            by=tutors[number],
            client_id=make.client_id(),
            now=NOW,
        )

    got = at_once(answer, PHONES)
    assert sum(isinstance(each, UnloadAnswer) for each in got) == 1
    assert got.count(["answered"]) == PHONES - 1
    assert Event.objects.filter(piece=pot, kind="unloaded").count() == 1
    assert agrees(pot)


def test_one_phone_sending_again_and_again_gets_one_answer() -> None:
    firing, tap = make.firing(Firing.State.UNLOADING, pieces=1), make.client_id()
    placement = firing.placements.get()
    got = at_once(
        lambda n: unload.answer_place(
            placement=placement, outcome="sound", by=firing.made_by, client_id=tap, now=NOW
        ),
        PHONES,
    )
    assert len({each.pk for each in got}) == 1
    answer, again = got[0], make.client_id()
    undone = at_once(
        lambda n: undo_answer(answer=answer, by=firing.made_by, client_id=again, now=NOW), PHONES
    )
    assert len({each.pk for each in undone}) == 1
    assert agrees(placement.piece)


def test_two_tutors_unload_one_kiln_from_both_ends() -> None:
    firing = make.firing(Firing.State.UNLOADING, pieces=16, layers=2)
    places = list(firing.placements.order_by("pk"))
    maud, ivo = firing.made_by, make.helper()

    def unload_it(number: int) -> list[str]:
        got = []
        for place in places if number == 0 else places[::-1]:
            try:
                unload.answer_place(
                    placement=place,
                    outcome="sound",
                    by=[maud, ivo][number],
                    client_id=make.client_id(),
                    now=NOW,
                )
                got.append("mine")
            except Refused as refused:
                got += refused.codes
        return got

    one, other = at_once(unload_it, 2)
    assert one.count("mine") + other.count("mine") == 16
    assert one.count("answered") + other.count("answered") == 16
    assert UnloadAnswer.objects.count() == 16


def test_closed_twenty_times_at_once_is_one_sharing() -> None:
    make.studio(notice_grace_minutes=0)
    ines, tobias = make.student("Ines"), make.student("Tobias")
    pots = [make.piece(stage=Stage.GLAZED, maker=maker) for maker in (ines, tobias, ines)]
    firing = make.answered(make.firing(Firing.State.UNLOADING, pieces=pots))
    got = at_once(
        lambda n: settling.close_firing(
            firing=firing, by=firing.made_by, client_id=make.client_id(), energy_kwh="60", now=NOW
        ),
        PHONES,
    )
    assert len({each.pk for each in got}) == Settlement.objects.count() == 1
    assert Charge.objects.count() == 3
    assert Notice.objects.count() == 2
    assert sum(share.amount_minor for share in got[0].shares.all()) == got[0].cost_minor

    tap = make.client_id()
    at_once(
        lambda n: settling.reopen_firing(
            firing=firing, by=firing.made_by, client_id=tap, now=NOW + timedelta(hours=1)
        ),
        PHONES,
    )
    assert Charge.objects.count() == 6
    assert balance(ines) == balance(tobias) == 0


def test_firings_closed_at_once_for_the_same_people_do_not_block_each_other() -> None:
    people = [make.student(f"Maker{number}") for number in range(4)]
    tutors = [make.tutor(f"Tutor{number}") for number in range(2)]
    waiting = [
        make.answered(
            make.firing(
                Firing.State.UNLOADING,
                pieces=[
                    make.piece(stage=Stage.GLAZED, maker=maker)
                    for maker in (people if number % 2 else people[::-1]) + tutors
                ],
            )
        )
        for number in range(6)
    ]
    got = at_once(
        lambda n: settling.close_firing(
            firing=waiting[n], by=tutors[n % 2], client_id=make.client_id(), energy_kwh="60", now=NOW
        ),
        6,
    )
    assert all(isinstance(each, Settlement) for each in got)
    assert Notice.objects.filter(kind=Notice.Kind.READY).count() == 6  # one for each person


def test_a_form_sent_by_many_at_once_is_one_payment() -> None:
    maud, ines, tap = make.tutor(), make.student(), make.client_id()
    got = at_once(
        lambda n: money.record_payment(
            person=ines, amount_minor=500, method="cash", by=maud, client_id=tap, now=NOW
        ),
        PHONES,
    )
    assert len({each.pk for each in got}) == Payment.objects.count() == 1
    payment = got[0]
    back = at_once(
        lambda n: money.reverse_payment(payment=payment, by=maud, client_id=f"back-{n}", now=NOW), PHONES
    )
    assert sum(isinstance(each, Payment) for each in back) == 1
    assert back.count(["reversed-already"]) == PHONES - 1
    assert balance(ines) == 0


def test_closing_and_finishing_jobs_of_the_same_maker_do_not_block_each_other() -> None:
    """Both write the maker's name on events and charges, and then put pieces on the maker's one notice."""
    ines, maud = make.student("Ines"), make.tutor()
    firing = make.answered(
        make.firing(Firing.State.UNLOADING, pieces=[make.piece(stage=Stage.GLAZED, maker=ines)])
    )
    jobs = []
    for _ in range(10):
        pot = make.piece(stage=Stage.FIRED, maker=ines)
        pieces_jobs.add_job(piece=pot, kind="sand-foot", by=maud, client_id=make.client_id(), now=NOW)
        jobs.append(pot.jobs.get())

    def act(number: int) -> object:
        if number == 0:
            return settling.close_firing(
                firing=firing, by=maud, client_id=make.client_id(), energy_kwh="60", now=NOW
            )
        return pieces_jobs.finish_job(job=jobs[number - 1], by=maud, client_id=make.client_id(), now=NOW)

    got = at_once(act, 11)
    assert isinstance(got[0], Settlement)
    assert all(isinstance(each, Event) for each in got[1:])
    (notice,) = Notice.objects.filter(kind=Notice.Kind.READY)
    assert notice.pieces.count() == 11


def test_tutor_and_helper_finishing_each_others_pots_do_not_block_each_other() -> None:
    maud, ivo = make.tutor(), make.helper()
    jobs = []
    for number in range(30):
        pot = make.piece(stage=Stage.FIRED, maker=(maud, ivo)[number % 2])
        pieces_jobs.add_job(piece=pot, kind="sand-foot", by=maud, client_id=make.client_id(), now=NOW)
        jobs.append(pot.jobs.get())
    got = at_once(
        lambda n: pieces_jobs.finish_job(
            job=jobs[n], by=(ivo, maud)[n % 2], client_id=make.client_id(), now=NOW
        ),
        30,
    )
    assert all(isinstance(each, Event) for each in got)
