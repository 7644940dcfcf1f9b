"""The public page of coming classes: what a visitor sees, and a place taken without an account."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.models import ClassRules, Consent, Course, Enrolment, Person, Session, Waiting
from studio.notifications.enrol_codes import send_due
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def course(settings) -> Course:
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    factories.studio(time_zone="Europe/London", currency_sign="£")
    ClassRules.objects.create(public_page=True)
    return made()


def made(name: str = "Throwing", days: int = 10, **values: object) -> Course:
    found = factories.course(name, **{"is_public": True, "price_minor": 12_000, "places": 2, **values})
    factories.session(found, starts_at=timezone.now() + timedelta(days=days))
    return found


def me(**more: str) -> dict[str, str]:
    return {
        "first_name": "Willa",
        "last_name": "Oake",
        "email": "willa@quillmere.example",
        "phone": "",
        **more,
    }


def kit(**more: str) -> dict[str, str]:
    sent = {
        "young_first": "Kit",
        "young_last": "Oake",
        "born_on": f"{timezone.localdate().year - 12}-01-05",
        "emergency_name": "Willa Oake",
        "emergency_phone": "0100 555",
        "health_note": "Nuts",
        "consents": "on",
        "signed": "Willa Oake",
    }
    return me(**{**sent, **more})


def code() -> str:
    mail.outbox.clear()
    assert send_due() == 1
    return re.search(r"^\s+(\w{4} \w{4})$", mail.outbox[0].body, re.MULTILINE)[1]


def test_a_visitor_sees_what_is_open_and_how_many_places_are_left(client: Client, course: Course) -> None:
    full = made("Glazing day", days=3, places=1)
    factories.enrolment(factories.student(), full)
    made("Not for the public", is_public=False)
    over = made("Begun", days=-3)
    factories.session(over, starts_at=timezone.now() + timedelta(days=4))
    page = client.get(reverse("coming")).content.decode()
    assert page.index("Glazing day") < page.index("Full, with a waiting list") < page.index("Throwing")
    assert "2 places left" in page
    assert "Not for the public" not in page
    assert "Begun" not in page
    assert "Ines" not in page
    assert reverse("coming") in client.get(reverse("home")).content.decode()
    page = client.get(reverse("coming-course", args=[course.code])).content.decode()
    assert "Until 14 days before the first meeting you get all of the fee back" in page
    assert "£120.00" in page
    ClassRules.objects.update(public_page=False)
    for url in (reverse("coming"), reverse("coming-course", args=[course.code])):
        assert client.get(url).status_code == 404
    assert reverse("coming") not in client.get(reverse("home")).content.decode()


def test_an_adult_takes_a_place(client: Client, course: Course) -> None:
    url = reverse("place-for-me", args=[course.code])
    answer = client.post(url, me(email="nowhere"))
    assert answer.status_code == 422
    assert "not complete" in answer.content.decode()
    assert 'value="nowhere"' in answer.content.decode()
    assert client.post(url, me()).url == reverse("place-code")
    assert "willa@quillmere.example" in client.get(reverse("place-code")).content.decode()
    assert client.post(reverse("place-code"), {"code": "TTTT TTTT"}).status_code == 422
    page = client.post(reverse("place-code"), {"code": code()}, follow=True).content.decode()
    assert "Willa has a place in Throwing" in page
    assert "Willa has a place in Throwing" in client.get(reverse("place-code")).content.decode()
    assert Enrolment.objects.get().person.email == "willa@quillmere.example"
    # In another browser there is nothing to see.
    assert Client().get(reverse("place-code")).url == reverse("coming")


def test_a_guardian_takes_a_place_for_somebody_under_eighteen(client: Client, course: Course) -> None:
    url = reverse("place-for-young", args=[course.code])
    assert "As the parent or guardian of the young person named above" in client.get(url).content.decode()
    sent = kit()
    del sent["consents"]
    answer = client.post(url, sent)
    assert answer.status_code == 422
    assert "Without your consent" in answer.content.decode()
    assert 'value="Willa Oake"' in answer.content.decode()
    assert client.post(url, kit(born_on="1990-01-01")).status_code == 422
    client.post(url, kit())
    page = client.post(reverse("place-code"), {"code": code()}, follow=True).content.decode()
    assert "Kit has a place in Throwing" in page
    young = Person.objects.get(first_name="Kit")
    assert (young.guardian.first_name, young.health_note) == ("Willa", "Nuts")
    assert Consent.objects.get().signed == "Willa Oake"


def test_a_full_class_is_waited_for(client: Client, course: Course) -> None:
    for name in ("Ines", "Tobias"):
        factories.enrolment(factories.student(name), course)
    assert "It is full" in client.get(reverse("coming-course", args=[course.code])).content.decode()
    client.post(reverse("place-for-me", args=[course.code]), me())
    assert "checked" in client.get(reverse("place-code")).content.decode()
    typed = code()
    answer = client.post(reverse("place-code"), {"code": typed})
    assert "Tick below to wait" in answer.content.decode()
    page = client.post(reverse("place-code"), {"code": typed, "wait": "on"}, follow=True).content.decode()
    assert "Willa waits for a place in Throwing" in page
    assert Waiting.objects.get().person.first_name == "Willa"


def test_only_the_ways_that_fit_the_ages_are_offered(client: Client, course: Course) -> None:
    teens, grown = made("Teens", age_least=11, age_most=16), made("Evening", age_least=18)
    page = client.get(reverse("coming-course", args=[teens.code])).content.decode()
    assert "For somebody under 18" in page
    assert "For me" not in page
    page = client.get(reverse("coming-course", args=[grown.code])).content.decode()
    assert "For somebody under 18" not in page
    assert "For me" in page


def queries_of(client: Client, url: str, django_assert_max_num_queries) -> int:
    client.get(url)
    with django_assert_max_num_queries(200) as counted:
        assert client.get(url).status_code == 200
    return len(counted)


def test_two_hundred_courses_and_five_thousand_people_take_as_many_questions_as_one(
    client: Client, course: Course, django_assert_max_num_queries
) -> None:
    maud = factories.tutor()
    staff = Client()
    staff.force_login(maud)
    urls = [(client, reverse("coming")), (staff, reverse("classes")), (staff, reverse("people"))]
    urls.append((staff, reverse("course", args=[course.code])))
    before = [queries_of(who, url, django_assert_max_num_queries) for who, url in urls]
    now = timezone.now()
    people = Person.objects.bulk_create(
        Person(
            first_name=f"Person {number}",
            email=f"person{number}@quillmere.example",
            joined_at=now,
            password="!",
        )
        for number in range(5_000)
    )
    courses = Course.objects.bulk_create(
        Course(name=f"Class {number}", starts_on=now.date(), is_public=True, places=25)
        for number in range(200)
    )
    Session.objects.bulk_create(
        Session(course=each, starts_at=now + timedelta(days=day), ends_at=now + timedelta(days=day, hours=2))
        for each in courses
        for day in range(1, 6)
    )
    Enrolment.objects.bulk_create(
        Enrolment(course=courses[number % 200], person=person, enrolled_at=now)
        for number, person in enumerate(people)
    )
    assert [queries_of(who, url, django_assert_max_num_queries) for who, url in urls] == before
    page = client.get(reverse("coming")).content.decode()
    assert "Class 199" in page
    assert "Full, with a waiting list" in page
