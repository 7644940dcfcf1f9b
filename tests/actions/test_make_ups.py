"""Making up a missed class: rules, and never more people than places and wheels, whoever presses first."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import enrolments
from studio.actions.make_ups import book_make_up, give_up_make_up
from studio.domain.problems import Refused
from studio.models import MakeUp, Waiting
from studio.queries.make_ups import held_by_guests, make_up_offers, room_at
from tests import factories
from tests.actions.test_parallel import at_once
from tests.factories import NOW, client_id


def missed_by(*names: str):
    """A class last week that these people missed, and who they are."""
    factories.studio()
    own = factories.course()
    meeting = factories.session(own, starts_at=NOW - timedelta(days=7))
    people = [factories.student(name) for name in names]
    for person in people:
        factories.enrolment(person, own)
        factories.attended(person, meeting, "away")
    return meeting, people


def coming(*, places: int = 6, taken: int = 0, days: int = 2, **values: object):
    course = factories.course("Daytime class", places=places, **values)
    for number in range(taken):
        factories.enrolment(factories.student(f"Daytime-{number}-"), course)
    return factories.session(course, starts_at=NOW + timedelta(days=days))


def book(person, missed, session, by=None, sent=""):
    return book_make_up(
        person=person,
        missed=missed,
        session=session,
        by=by or factories.tutor(),
        client_id=sent or client_id(),
        now=NOW,
    )


@pytest.mark.django_db
def test_room_is_what_enrolled_people_offers_and_guests_leave_of_places_and_wheels(
    django_assert_num_queries,
):
    missed, (ines, tobias) = missed_by("Ines", "Tobias")
    meeting = coming(places=8, taken=5, wheels=6)
    assert (room_at([meeting], now=NOW)[meeting.pk].free, meeting.course.places) == (1, 8)
    first = meeting.course.enrolments.first().person
    factories.attended(first, meeting, "told-us")
    assert room_at([meeting], now=NOW)[meeting.pk].free == 2, "who told us leaves a wheel"
    Waiting.objects.create(
        course=meeting.course,
        person=factories.student("Pim"),
        state="offered",
        asked_at=NOW,
        offered_at=NOW,
        offer_until=NOW + timedelta(hours=1),
    )
    assert room_at([meeting], now=NOW)[meeting.pk].free == 1, "an offered place is kept"
    assert room_at([meeting], now=NOW + timedelta(hours=2))[meeting.pk].free == 2
    book(ines, missed, meeting)
    assert held_by_guests(meeting.course, now=NOW) == 0, "on the place of one who told us"
    with pytest.raises(Refused, match="no place left"):
        book(tobias, missed, meeting)
    many = [meeting, *(coming(days=n) for n in range(3, 23))]
    with django_assert_num_queries(6):
        room_at(many, now=NOW)


@pytest.mark.django_db
def test_offers_leave_out_full_classes_cancelled_ones_ones_own_and_those_for_other_ages():
    missed, (ines,) = missed_by("Ines")
    good = coming()
    coming(places=2, taken=2)
    off = coming(days=3)
    off.cancelled_at, off.cancelled_why = NOW, "The boiler is out."
    off.save()
    factories.session(missed.course, starts_at=NOW + timedelta(days=1))
    children = coming(age_most=12)
    coming(days=90)
    coming(days=-1)
    assert [each.session for each in make_up_offers(ines, now=NOW, day_age=30)] == [good]
    assert children in [each.session for each in make_up_offers(ines, now=NOW, day_age=10)]


@pytest.mark.django_db
def test_what_is_refused():
    missed, (ines,) = missed_by("Ines")
    meeting, maud = coming(), factories.tutor()
    attended = factories.session(missed.course, starts_at=NOW - timedelta(days=14))
    factories.attended(ines, attended)
    own = factories.session(missed.course, starts_at=NOW + timedelta(days=1))
    over, off = coming(days=-1), coming()
    off.cancelled_at, off.cancelled_why = NOW, "The boiler is out."
    off.save()
    ines.born_on = NOW.date().replace(year=NOW.year - 30)
    ines.save()
    for wrong, words in (
        ((ines, attended, meeting), "did not miss that class"),
        ((ines, missed, own), "anyway"),
        ((ines, missed, over), "is over"),
        ((ines, missed, off), "does not take place"),
        ((ines, missed, coming(age_most=12)), "up to age 12: Ines will be 30"),
        ((ines, missed, coming(age_least=40)), "40 and over: Ines will be 30"),
    ):
        with pytest.raises(Refused, match=words):
            book(*wrong, by=maud)
    with pytest.raises(Refused, match="tutor or a helper"):
        book(ines, missed, meeting, by=ines)
    assert not MakeUp.objects.exists()


@pytest.mark.django_db
def test_one_class_is_made_up_once_and_again_after_giving_up():
    missed, (ines,) = missed_by("Ines")
    first, second, maud, sent = coming(), coming(days=4), factories.tutor(), client_id()
    booked = book(ines, missed, first, sent=sent, by=maud)
    assert book(ines, missed, first, sent=sent, by=maud) == booked
    with pytest.raises(Refused, match="sent before"):
        book(ines, missed, second, sent=sent, by=maud)
    with pytest.raises(Refused, match="elsewhere already"):
        book(ines, missed, second, by=maud)
    for _ in range(2):
        give_up_make_up(make_up=booked, by=maud, now=NOW)
    assert book(ines, missed, second, by=maud).session == second


@pytest.mark.django_db(transaction=True)
def test_twenty_press_for_the_last_wheel_and_an_enrolment_as_well():
    """The course is held by booking and by enrolling alike, so that together they never pass its places."""
    names = [f"Guest-{number}-" for number in range(20)]
    missed, people = missed_by(*names)
    meeting, maud = coming(places=3, taken=2), factories.tutor()
    got = at_once(lambda n: book(people[n], missed, meeting, by=maud), 20)
    assert sum(isinstance(each, MakeUp) for each in got) == 1
    assert got.count(["class-full"]) == 19
    assert room_at([meeting], now=NOW)[meeting.pk].free == 0


@pytest.mark.django_db
def test_a_place_that_a_guest_has_is_not_sold_over_their_head():
    missed, (ines,) = missed_by("Ines")
    meeting, maud = coming(places=1), factories.tutor()
    book(ines, missed, meeting)
    with pytest.raises(Refused):
        enrolments.enrol(course=meeting.course, person=factories.student("Pim"), by=maud, now=NOW)
