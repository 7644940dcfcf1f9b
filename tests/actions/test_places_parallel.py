"""Fifty at once for the last place, for the last offer, and two exchanging places: no place is sold twice."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions.enrol_requests import confirm
from studio.actions.enrolments import enrol, leave, transfer
from studio.actions.places import settle_all
from studio.actions.waiting import accept, wait
from studio.models import Charge, ClassRules, Enrolment, EnrolRequest, Person, Waiting
from studio.notifications import codes
from tests import factories
from tests.actions.test_parallel import PHONES, at_once
from tests.factories import NOW

pytestmark = pytest.mark.django_db(transaction=True)


def course(places: int, **values: object):
    made = factories.course("Last place", places=places, price_minor=9_000, **values)
    factories.session(made, starts_at=NOW + timedelta(days=10))
    return made


def people(count: int = PHONES):
    return [factories.student(f"Asker-{number:02}-") for number in range(count)]


def test_fifty_at_once_for_the_last_place() -> None:
    maud, wanted, askers = factories.tutor(), course(3), people()
    for person in people(0) or [factories.student("Ines"), factories.student("Tobias")]:
        enrol(course=wanted, person=person, by=maud, now=NOW)
    got = at_once(lambda n: enrol(course=wanted, person=askers[n], by=maud, now=NOW))
    assert sum(isinstance(each, Enrolment) for each in got) == 1
    assert got.count(["course-full"]) == PHONES - 1
    assert wanted.enrolments.filter(left_at=None).count() == 3
    assert Charge.objects.count() == 3


def test_fifty_presses_by_one_person_are_one_place_and_one_fee() -> None:
    maud, wanted, ines = factories.tutor(), course(8), factories.student("Ines")
    got = at_once(lambda n: enrol(course=wanted, person=ines, by=maud, now=NOW))
    assert len({each.pk for each in got}) == 1
    assert (Enrolment.objects.count(), Charge.objects.count()) == (1, 1)


def test_a_yes_to_an_offer_and_forty_nine_others_at_once() -> None:
    """The offer holds its place against everybody; the rest of the line waits on."""
    maud, wanted = factories.tutor(), course(1)
    place = enrol(course=wanted, person=factories.student("Ines"), by=maud, now=NOW)
    row = wait(course=wanted, person=factories.student("Tobias"), by=maud, now=NOW)
    leave(enrolment=place, by=maud, now=NOW)
    askers = people()
    got = at_once(
        lambda n: (
            accept(waiting=row, now=NOW)
            if n == PHONES // 2
            else enrol(course=wanted, person=askers[n], by=maud, now=NOW)
        )
    )
    assert [each.person_id for each in got if isinstance(each, Enrolment)] == [row.person_id]
    assert wanted.enrolments.filter(left_at=None).count() == 1


def test_workers_that_settle_at_once_make_one_offer() -> None:
    maud, wanted = factories.tutor(), course(1)
    place = enrol(course=wanted, person=factories.student("Ines"), by=maud, now=NOW)
    for name in ("Tobias", "Pim", "Kit"):
        wait(course=wanted, person=factories.student(name), by=maud, now=NOW)
    leave(enrolment=place, by=maud, now=NOW)
    later = NOW + timedelta(hours=25)
    got = at_once(lambda n: settle_all(now=later), phones=12)
    assert sum(got) == 1
    assert Waiting.objects.filter(state=Waiting.State.OFFERED).count() == 1


def test_two_who_exchange_places_both_ways_do_not_wait_for_each_other() -> None:
    maud = factories.tutor()
    one, two = course(2), course(2, kind="workshop")
    first = enrol(course=one, person=factories.student("Ines"), by=maud, now=NOW)
    second = enrol(course=two, person=factories.student("Tobias"), by=maud, now=NOW)
    moves = [(first, two), (second, one)]
    got = at_once(
        lambda n: transfer(enrolment=moves[n % 2][0], to=moves[n % 2][1], by=maud, now=NOW), phones=20
    )
    assert all(isinstance(each, Enrolment) for each in got), got
    assert Enrolment.objects.filter(left_at=None).count() == 2


def test_fifty_codes_typed_at_once_for_the_last_place() -> None:
    """From the public page: one gets it, the others are told, and nobody who was told is in the books."""
    ClassRules.objects.create(public_page=True)
    wanted = course(1, is_public=True)
    tokens = [
        EnrolRequest.objects.create(
            token=f"token-{number}",
            course=wanted,
            email=f"asker{number}@quillmere.example",
            details={"first_name": "Asker", "last_name": "", "phone": "", "young": False, "born_on": ""},
            asked_at=NOW,
            expires_at=NOW + timedelta(hours=1),
            code_hash=codes.hash_of_code(f"token-{number}", "TTTTTTTT"),
        ).token
        for number in range(PHONES)
    ]
    got = at_once(
        lambda n: confirm(token=tokens[n], typed="TTTT TTTT", requester_key=f"browser {n}", now=NOW)
    )
    assert sum(isinstance(each, EnrolRequest) for each in got) == 1
    assert got.count(["course-full"]) == PHONES - 1
    assert wanted.enrolments.count() == Person.objects.filter(email__startswith="asker").count() == 1
