"""Places given up, moved and waited for on the tutor's pages; and the page behind an offer's link."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.models import Charge, Consent, Enrolment, Waiting
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio(time_zone="Europe/London")
    client.force_login(factories.tutor())
    return client


def class_of(name: str = "Throwing", *, days: int = 10, **values: object):
    course = factories.course(name, price_minor=12_000, **values)
    factories.session(course, starts_at=timezone.now() + timedelta(days=days, minutes=5))
    return course


def enrolled(maud: Client, course, person) -> Enrolment:
    maud.post(reverse("enrol", args=[course.code]), {"person": person.pk, "with_fee": "on"})
    return Enrolment.objects.get(course=course, person=person)


def test_leaving_says_first_what_is_given_back(maud: Client) -> None:
    course, ines = class_of(), factories.student()
    row = enrolled(maud, course, ines)
    url = reverse("enrolment-end", args=[course.code, ines.code])
    page = maud.get(url).content.decode()
    assert "The first meeting is in 10 days" in page
    assert 'value="60.00"' in page
    answer = maud.post(url, {"back_minor": "120", "reason": ""})
    assert answer.status_code == 422
    assert "Write down why" in answer.content.decode()
    page = maud.post(url, {"back_minor": "120", "reason": "She is ill"}, follow=True).content.decode()
    assert "is out of Throwing" in page
    row.refresh_from_db()
    assert row.left_words == "She is ill"
    assert sum(Charge.objects.values_list("amount_minor", flat=True)) == 0


def test_somebody_moves_to_a_class_with_a_place(maud: Client) -> None:
    course, ines = class_of(), factories.student()
    other, full = class_of("Handbuilding"), class_of("Full", places=1)
    enrolled(maud, full, factories.student("Tobias"))
    enrolled(maud, course, ines)
    url = reverse("enrolment-move", args=[course.code, ines.code])
    page = maud.get(url).content.decode()
    assert "Handbuilding" in page
    assert ">Full<" not in page
    answer = maud.post(url, {"to": other.pk, "override_reason": ""})
    assert answer.url == reverse("course", args=[other.code])
    assert maud.get(url).status_code == 404
    assert Enrolment.objects.get(left_at=None, person=ines).course == other
    assert (
        maud.post(reverse("enrolment-move", args=[other.code, ines.code]), {"to": full.pk}).status_code == 422
    )


def test_a_full_class_has_a_list_and_a_free_place_is_offered(maud: Client) -> None:
    course = class_of(places=1)
    ines, tobias, ruth = factories.student(), factories.student("Tobias"), factories.guardian()
    sam = factories.young_person(guardian=ruth)
    enrolled(maud, course, ines)
    page = maud.get(reverse("course", args=[course.code])).content.decode()
    assert "Throwing is full" in page
    for person in (sam, tobias):
        maud.post(reverse("wait-add", args=[course.code]), {"person": person.pk})
    assert (
        "Choose who waits"
        in maud.post(
            reverse("wait-add", args=[course.code]), {"person": sam.pk}, follow=True
        ).content.decode()
    )
    maud.post(reverse("enrolment-end", args=[course.code, ines.code]))
    row = Waiting.objects.get(person=sam)
    page = maud.get(reverse("course", args=[course.code])).content.decode()
    assert page.index("Sam") < page.index("A place is kept until") < page.index("Tobias")
    visitor, url = Client(), reverse("place-offer", args=[row.secret])
    page = visitor.get(url).content.decode()
    assert "A place in Throwing is kept for Sam" in page
    assert "As the parent or guardian of Sam I agree" in page
    row.refresh_from_db()
    assert row.state == "offered", "looking takes nothing"
    answer = visitor.post(url, {"answer": "yes", "signed": "Ruth Hale"})
    assert answer.status_code == 422
    assert "consent is missing" in answer.content.decode()
    assert 'value="Ruth Hale"' in answer.content.decode()
    page = visitor.post(url, {"answer": "yes", "consents": "on", "signed": "Ruth Hale"}, follow=True)
    assert "The place is yours" in page.content.decode()
    assert (
        "The place is yours"
        in visitor.post(
            url, {"answer": "yes", "consents": "on", "signed": "Ruth Hale"}, follow=True
        ).content.decode()
    )
    assert Enrolment.objects.filter(person=sam, left_at=None).count() == Consent.objects.count() == 1
    assert Charge.objects.filter(person=ruth).count() == 1


def test_an_offer_is_declined_over_or_not_there(maud: Client) -> None:
    course = class_of(places=1)
    ines, tobias = factories.student(), factories.student("Tobias")
    enrolled(maud, course, ines)
    maud.post(reverse("wait-add", args=[course.code]), {"person": tobias.pk})
    row = Waiting.objects.get()
    visitor, url = Client(), reverse("place-offer", args=[row.secret])
    assert "You wait for a place" in visitor.get(url).content.decode()
    assert visitor.post(url, {"answer": "yes"}).status_code == 422
    maud.post(reverse("enrolment-end", args=[course.code, ines.code]))
    Waiting.objects.update(offer_until=timezone.now() - timedelta(minutes=1))
    assert "time for this place is over" in visitor.get(url).content.decode()
    answer = visitor.post(url, {"answer": "yes"})
    assert answer.status_code == 422
    assert not Enrolment.objects.filter(person=tobias).exists()
    Waiting.objects.update(offer_until=timezone.now() + timedelta(hours=1))
    assert "You are off the list" in visitor.post(url, {"answer": "no"}, follow=True).content.decode()
    for secret in ("x", "a" * 41, "ж" * 10):
        assert visitor.get(reverse("place-offer", args=[secret])).status_code == 404


def test_the_tutor_takes_somebody_off_the_list(maud: Client) -> None:
    course = class_of(places=1)
    enrolled(maud, course, factories.student())
    maud.post(reverse("wait-add", args=[course.code]), {"person": factories.student("Tobias").pk})
    row = Waiting.objects.get()
    off = reverse("wait-off", args=[course.code, row.code])
    assert signed_in(factories.helper()).post(off).status_code == 404
    assert maud.get(off).status_code == 405
    assert "does not wait any more" in maud.post(off, follow=True).content.decode()
    row.refresh_from_db()
    assert row.state == "gone"


def test_who_is_too_young_comes_in_with_a_reason(maud: Client) -> None:
    course = class_of(age_least=18)
    sam = factories.young_person(guardian=factories.guardian())
    factories.consent(sam)
    url = reverse("enrol", args=[course.code])
    page = maud.post(url, {"person": sam.pk}, follow=True).content.decode()
    assert "18 and over" in page
    sent = {"person": sam.pk, "override_reason": "Turns 18 this term"}
    assert "Sam" in maud.post(url, sent, follow=True).content.decode()
    row = Enrolment.objects.get()
    assert (row.override_words, row.charge) == ("Turns 18 this term", None)


def test_the_tutor_says_that_the_guardian_has_signed_on_paper(maud: Client) -> None:
    course, other = class_of(), class_of("Handbuilding")
    course_url, url = reverse("course", args=[course.code]), reverse("enrol", args=[course.code])
    assert "guardian has signed" not in maud.get(course_url).content.decode(), "nobody it could be about"
    sam = factories.young_person()
    assert "guardian has signed" in maud.get(course_url).content.decode()
    answer = maud.post(url, {"person": sam.pk, "with_fee": "on"})
    assert answer.status_code == 422
    assert "Have Ruth Pellow sign on paper" in answer.content.decode()
    assert f'<option value="{sam.pk}" selected>' in answer.content.decode(), "what was chosen stays"
    signed = {"person": sam.pk, "guardian_signed": "on", "consent_signed_on": "2025-01-31"}
    for wrong, sentence in (
        ({"consent_signed_on": ""}, "Enter the day on which the guardian signed."),
        ({"guardian_signed": ""}, "Tick that the guardian has signed, or empty the day."),
        ({"consent_signed_on": "31/31/2025"}, "Write a valid date"),
        ({"consent_signed_on": "2999-01-01"}, "on a day to come"),
    ):
        answer = maud.post(url, {**signed, **wrong})
        assert answer.status_code == 422
        assert sentence in answer.content.decode()
    assert not Enrolment.objects.exists()
    person_url = reverse("person", args=[sam.code])
    assert "none on file" in maud.get(person_url).content.decode()
    assert "Sam Pellow is in Throwing" in maud.post(url, signed, follow=True).content.decode()
    page = maud.get(person_url).content.decode()
    assert "Ruth Pellow signed on paper on 31 Jan" in page
    assert "noted by Maud" in page
    assert "As the parent or guardian of Sam" in page
    # The next class asks no more.
    assert "guardian has signed" not in maud.get(reverse("course", args=[other.code])).content.decode()
    move = reverse("enrolment-move", args=[course.code, sam.code])
    assert "guardian has signed" not in maud.get(move).content.decode()
    Consent.objects.all().delete()
    assert "guardian has signed" in maud.get(move).content.decode()
    assert maud.post(move, {"to": other.pk}).status_code == 422
    sent = {"to": other.pk, "guardian_signed": "on", "consent_signed_on": "2025-01-31"}
    assert "has moved" in maud.post(move, sent, follow=True).content.decode()
