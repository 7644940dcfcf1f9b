"""The waiting list: who is offered a place that came free, in what order, and for how long."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions.enrolments import enrol, leave
from studio.actions.places import settle_all
from studio.actions.waiting import accept, decline, take_off, wait
from studio.domain.problems import Refused
from studio.models import ClassRules, Consent, Enrolment, Notice, Waiting
from studio.notifications.compose import compose
from studio.queries.places import free_places
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def maud():
    factories.studio(time_zone="Europe/London")
    return factories.tutor()


@pytest.fixture
def full(maud):
    """A class with one place, which Ines has, ten days before it begins; Tobias and Pim wait."""
    course = factories.course("Throwing", places=1)
    factories.session(course, starts_at=NOW + timedelta(days=10))
    place = enrol(course=course, person=factories.student("Ines"), by=maud, now=NOW)
    rows = [
        wait(course=course, person=factories.student(name), by=maud, now=NOW + each * HOUR)
        for each, name in enumerate(("Tobias", "Pim"))
    ]
    return course, place, rows


def state(row: Waiting) -> str:
    row.refresh_from_db()
    return row.state


def test_a_place_given_up_is_offered_to_the_first_in_line_and_kept_for_a_day(full, maud) -> None:
    course, place, (tobias, pim) = full
    leave(enrolment=place, by=maud, now=NOW + 5 * HOUR)
    assert (state(tobias), state(pim)) == ("offered", "waiting")
    assert tobias.offer_until == NOW + 29 * HOUR
    assert free_places(course, NOW + 6 * HOUR) == 0
    with pytest.raises(Refused, match="is full"):
        enrol(course=course, person=factories.student("Quick"), by=maud, now=NOW + 6 * HOUR)
    notice = Notice.objects.get(kind=Notice.Kind.PLACE)
    mail = compose(notice, now=NOW + 6 * HOUR)
    assert mail.to == tobias.person.email
    assert f"/offer/{tobias.secret}/" in mail.text
    row = accept(waiting=tobias, now=NOW + 7 * HOUR)
    assert (row.way, row.person) == (Enrolment.Way.OFFER, tobias.person)
    assert accept(waiting=tobias, now=NOW + 8 * HOUR) == row
    notice.refresh_from_db()
    assert notice.state == Notice.State.DROPPED, "not sent once it is answered"
    assert state(pim) == "waiting"


def test_an_offer_that_is_not_answered_in_time_goes_to_the_next(full, maud) -> None:
    course, place, (tobias, pim) = full
    leave(enrolment=place, by=maud, now=NOW)
    assert settle_all(now=NOW + 23 * HOUR) == 0
    assert settle_all(now=NOW + 24 * HOUR) == 1
    assert (state(tobias), state(pim)) == ("lapsed", "offered")
    with pytest.raises(Refused, match="time for this place is over"):
        accept(waiting=tobias, now=NOW + 25 * HOUR)
    assert accept(waiting=pim, now=NOW + 26 * HOUR).person == pim.person
    assert course.enrolments.filter(left_at=None).count() == 1


def test_no_gives_it_on_at_once_and_the_last_no_leaves_it_free(full, maud) -> None:
    course, place, (tobias, pim) = full
    leave(enrolment=place, by=maud, now=NOW)
    decline(waiting=tobias, now=NOW + HOUR)
    decline(waiting=tobias, now=NOW + HOUR)
    assert (state(tobias), state(pim)) == ("declined", "offered")
    take_off(waiting=pim, by=maud, now=NOW + HOUR)
    assert state(pim) == "gone"
    assert free_places(course, NOW + HOUR) == 1


def test_nobody_passes_the_line(full, maud) -> None:
    """A place that is free is first offered to whoever waits, also when somebody else asks for it."""
    course, place, (tobias, _) = full
    Enrolment.objects.filter(pk=place.pk).update(left_at=NOW)
    with pytest.raises(Refused, match="is full"):
        enrol(course=course, person=factories.student("Quick"), by=maud, now=NOW + HOUR)
    enrol(course=course, person=tobias.person, by=maud, now=NOW + HOUR)
    assert state(tobias) == "taken"


def test_an_offer_ends_when_the_class_begins(maud) -> None:
    ClassRules.objects.create(offer_hours=72)
    course = factories.course(places=1)
    meeting = factories.session(course, starts_at=NOW + 5 * HOUR)
    place = enrol(course=course, person=factories.student("Ines"), by=maud, now=NOW)
    row = wait(course=course, person=factories.student("Tobias"), by=maud, now=NOW)
    leave(enrolment=place, by=maud, now=NOW)
    row.refresh_from_db()
    assert row.offer_until == meeting.starts_at


def test_the_guardian_is_written_to_and_consents_before_the_place_is_confirmed(maud) -> None:
    course = factories.course(places=1)
    factories.session(course, starts_at=NOW + timedelta(days=10))
    place = enrol(course=course, person=factories.student("Ines"), by=maud, now=NOW)
    ruth = factories.guardian()
    sam = factories.young_person(guardian=ruth)
    row = wait(course=course, person=sam, by=maud, now=NOW)
    leave(enrolment=place, by=maud, now=NOW)
    mail = compose(Notice.objects.get(kind=Notice.Kind.PLACE), now=NOW)
    assert mail.to == ruth.email
    assert "Sam" not in mail.subject
    row.refresh_from_db()
    for values, words in (({}, "consent is missing"), ({"consents": True}, "name under the consent")):
        with pytest.raises(Refused, match=words):
            accept(waiting=row, now=NOW + HOUR, **values)
    accept(waiting=row, consents=True, signed="Ruth Hale", now=NOW + HOUR)
    consent = Consent.objects.get()
    assert (consent.person, consent.given_by, consent.signed) == (sam, ruth, "Ruth Hale")
    assert "guardian of Sam I agree" in consent.words


def test_waiting_is_for_full_classes_and_once(full, maud) -> None:
    course, place, (tobias, _) = full
    assert wait(course=course, person=tobias.person, by=maud, now=NOW) == tobias
    with pytest.raises(Refused, match="has a place in"):
        wait(course=course, person=place.person, by=maud, now=NOW)
    empty = factories.course("Empty")
    with pytest.raises(Refused, match="has a free place"):
        wait(course=empty, person=tobias.person, by=maud, now=NOW)
    kit = factories.person("Kit", email=None, born_on=NOW.date() - timedelta(days=3700))
    with pytest.raises(Refused, match="Name a guardian"):
        wait(course=course, person=kit, by=maud, now=NOW)
    with pytest.raises(Refused, match="Only the tutor"):
        wait(course=course, person=tobias.person, by=factories.helper(), now=NOW)
