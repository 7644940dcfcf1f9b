"""A place for somebody under 18 stands on the guardian's consent. Common practice, no source."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from studio.actions.consents import words_for
from studio.actions.enrolments import enrol, transfer
from studio.domain.problems import Refused
from studio.models import ClassRules, Consent, Enrolment
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
SIGNED = date(2025, 11, 10)


@pytest.fixture
def maud():
    factories.studio(time_zone="Europe/London")
    return factories.tutor()


def test_without_a_paper_the_place_is_refused_in_words_that_say_what_to_do(maud) -> None:
    sam, course = factories.young_person(), factories.course()
    with pytest.raises(Refused) as refused:
        enrol(course=course, person=sam, by=maud, now=NOW)
    assert str(refused.value) == (
        "Sam is under 18, and no consent is on file. Have Ruth Pellow sign on paper, then say so here with "
        "the day of signing."
    )
    assert not Enrolment.objects.exists()


def test_the_paper_is_kept_with_its_day_its_words_and_who_noted_it(maud) -> None:
    ClassRules.objects.create(id=1, consent_words="I agree that my child throws pots.")
    sam, course = factories.young_person(), factories.course()
    row = enrol(course=course, person=sam, by=maud, consent_signed_on=SIGNED, now=NOW)
    kept = Consent.objects.get()
    assert (kept.person, kept.given_by, kept.course) == (sam, sam.guardian, course)
    assert (kept.signed, kept.signed_on, kept.noted_by, kept.given_at) == ("Ruth Pellow", SIGNED, maud, NOW)
    ClassRules.objects.update(consent_words="Other words by now.")
    assert Consent.objects.get().words == "I agree that my child throws pots."
    assert words_for("Sam") == "Other words by now."
    assert enrol(course=course, person=sam, by=maud, now=NOW) == row
    # One consent is for every class that comes.
    enrol(course=factories.course("Wednesday"), person=sam, by=maud, consent_signed_on=SIGNED, now=NOW)
    assert Consent.objects.count() == 1


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        (NOW.date() + timedelta(days=1), "can’t have been signed on a day to come"),
        (date(NOW.year - 16, 3, 1), "can’t have been signed before"),
    ],
)
def test_a_day_that_can_not_be_is_refused_and_nothing_is_kept(maud, day, sentence) -> None:
    course, sam = factories.course(), factories.young_person()
    with pytest.raises(Refused, match=sentence):
        enrol(course=course, person=sam, by=maud, consent_signed_on=day, now=NOW)
    assert not Consent.objects.exists()
    assert not Enrolment.objects.exists()


def test_grown_ups_need_none_and_on_the_18th_birthday_nobody_asks_any_more(maud) -> None:
    course = factories.course()
    enrol(course=course, person=factories.student(), by=maud, consent_signed_on=SIGNED, now=NOW)
    kit = factories.young_person("Kit", born_on=date(NOW.year - 18, NOW.month, NOW.day))
    enrol(course=course, person=kit, by=maud, now=NOW)
    day_short = factories.young_person("Wren", born_on=date(NOW.year - 18, NOW.month, NOW.day + 1))
    with pytest.raises(Refused, match="no consent is on file"):
        enrol(course=course, person=day_short, by=maud, now=NOW)
    assert not Consent.objects.exists()


def test_a_consent_taken_back_counts_no_more_and_places_that_were_given_stay(maud) -> None:
    sam, tuesday, other = factories.young_person(), factories.course(), factories.course("Wednesday")
    factories.consent(sam, taken_back_at=NOW - timedelta(days=1))
    old = factories.enrolment(sam, tuesday)
    assert enrol(course=tuesday, person=sam, by=maud, now=NOW) == old
    with pytest.raises(Refused, match="no consent is on file"):
        transfer(enrolment=old, to=other, by=maud, now=NOW)
    old.refresh_from_db()
    assert old.left_at is None
    transfer(enrolment=old, to=other, by=maud, consent_signed_on=SIGNED, now=NOW)
    assert Enrolment.objects.get(left_at=None).course == other
