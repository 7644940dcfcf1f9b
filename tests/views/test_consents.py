"""A guardian's consent on pages: given, noted from paper, taken back, and missed on the day's list."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from studio.actions.consents import consent_of
from studio.actions.enrolments import enrol
from studio.domain.problems import Refused
from studio.models import Consent, Person
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def sam() -> Person:
    """16, in a class that meets next week, as he was before consents were kept; Ruth is his guardian."""
    factories.studio()
    factories.tutor()
    sam = factories.young_person(born_on=timezone.localdate().replace(day=1) - timedelta(days=365 * 16))
    course = factories.course()
    factories.session(course, starts_at=timezone.now() + timedelta(days=7))
    factories.enrolment(sam, course)
    return sam


def maud() -> Person:
    return Person.objects.get(role="tutor")


def test_what_is_missing_stands_on_the_days_list_until_the_guardian_agrees(sam: Person) -> None:
    tutors = signed_in(maud())
    assert "Ask for the consent for Sam" in tutors.get("/").content.decode()
    ruth, page = signed_in(sam.guardian), reverse("my-consent", args=[sam.code])
    assert page in ruth.get(reverse("my-data")).content.decode()
    assert "Do you consent for Sam?" in ruth.get(page).content.decode()
    refused = ruth.post(page, {"signed": "Ruth Pellow"})
    assert refused.status_code == 422
    assert "Ruth Pellow" in refused.content.decode()
    for _ in range(2):  # pressed twice
        assert ruth.post(page, {"consents": "on", "signed": "Ruth Pellow"}).status_code == 302
    kept = Consent.objects.get()
    assert (kept.given_by, kept.signed, kept.signed_on) == (sam.guardian, "Ruth Pellow", None)
    assert "take part in the classes" in kept.words
    assert "Ask for the consent" not in tutors.get("/").content.decode()
    assert "Ruth Pellow" in tutors.get(reverse("person-consent", args=[sam.code])).content.decode()


def test_taken_back_no_new_place_is_confirmed_and_the_tutor_is_told(sam: Person) -> None:
    factories.consent(sam)
    tutors, ruth = signed_in(maud()), signed_in(sam.guardian)
    assert "Ask for the consent" not in tutors.get("/").content.decode()
    page = reverse("my-consent", args=[sam.code])
    assert "You have consented for Sam" in ruth.get(page).content.decode()
    for _ in range(2):
        assert ruth.post(page, {"take-back": "1"}).status_code == 302
    taken = Consent.objects.get()
    assert taken.taken_back_at
    assert consent_of(sam) is None
    assert "Taken back on" in ruth.get(page).content.decode()
    assert "Ask for the consent for Sam" in tutors.get("/").content.decode()
    with pytest.raises(Refused, match="no consent is on file"):
        enrol(course=factories.course("Wednesday"), person=sam, by=maud())
    assert sam.enrolments.filter(left_at=None).count() == 1


def test_the_tutor_notes_a_paper_and_that_it_is_taken_back(sam: Person) -> None:
    tutors, page = signed_in(maud()), reverse("person-consent", args=[sam.code])
    ahead = (timezone.localdate() + timedelta(days=2)).isoformat()
    refused = tutors.post(page, {"signed_on": ahead})
    assert refused.status_code == 422
    assert "a day to come" in refused.content.decode()
    assert tutors.post(page, {"signed_on": "last week"}).status_code == 422
    assert not Consent.objects.exists()
    day = timezone.localdate() - timedelta(days=2)
    for _ in range(2):
        assert tutors.post(page, {"signed_on": day.isoformat()}).status_code == 302
    kept = Consent.objects.get()
    assert (kept.signed_on, kept.noted_by, kept.given_by) == (day, maud(), sam.guardian)
    tutors.post(page, {"take-back": "1"})
    assert consent_of(sam) is None


def test_nobody_else_gives_it_or_takes_it_back(sam: Person) -> None:
    page, tutors = reverse("my-consent", args=[sam.code]), reverse("person-consent", args=[sam.code])
    factories.consent(sam)
    for who in (sam, factories.student("Tobias"), factories.helper(), maud()):
        for words in ({"take-back": "1"}, {"consents": "on", "signed": "Me"}):
            assert signed_in(who).post(page, words).status_code == 404
    for who in (sam, sam.guardian, factories.student("Wren"), factories.helper("Nell")):
        assert signed_in(who).post(tutors, {"take-back": "1"}).status_code == 404
    assert Consent.objects.get().taken_back_at is None


def test_for_grown_ups_there_is_nothing_to_consent_to(sam: Person) -> None:
    ines = factories.student()
    page = reverse("my-consent", args=[ines.code])
    browser = signed_in(ines)
    assert "No consent is needed" in browser.get(page).content.decode()
    assert browser.post(page, {"consents": "on", "signed": "Ines"}).status_code == 422
    assert not Consent.objects.exists()
