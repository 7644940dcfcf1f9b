"""A place asked for without an account: the code, who it is for, guardians, a class that fills meanwhile."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.core import mail

from studio.actions import enrol_requests
from studio.actions.enrol_requests import LASTS, ask, confirm, tidy
from studio.actions.enrolments import enrol
from studio.domain.problems import Refused
from studio.models import ClassRules, Consent, Enrolment, EnrolRequest, Notice, Person, Waiting
from studio.notifications.compose import compose
from studio.notifications.enrol_codes import send_due
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
WILLA = {"first_name": "Willa", "last_name": "Oake", "phone": "0100 555"}
KIT = {
    **WILLA,
    "young_first": "Kit",
    "young_last": "Oake",
    "born_on": date(NOW.year - 12, 1, 5),
    "emergency_name": "Willa Oake",
    "emergency_phone": "0100 555",
    "health_note": "Nuts",
    "consents": True,
    "signed": "Willa Oake",
}
EMAIL = "willa@quillmere.example"


@pytest.fixture
def course(settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    factories.studio(time_zone="Europe/London")
    ClassRules.objects.create(public_page=True)
    made = factories.course("Throwing", is_public=True, price_minor=12_000, places=2)
    factories.session(made, starts_at=NOW + timedelta(days=10))
    return made


def asked(course, details=None, *, email=EMAIL, young=False, now=NOW, **more) -> str:
    return ask(
        course=course,
        email=email,
        details={**(details or (KIT if young else WILLA)), **more},
        young=young,
        requester_key="here",
        now=now,
    )


def code_mailed(now=NOW) -> str:
    mail.outbox.clear()
    assert send_due(clock=lambda: now) == 1
    return re.search(r"^\s+(\w{4} \w{4})$", mail.outbox[0].body, re.MULTILINE)[1]


def done(token: str, code: str, *, now=NOW, wait=False) -> EnrolRequest:
    return confirm(token=token, typed=code, requester_key="here", wait=wait, now=now)


def test_an_adult_takes_a_place_with_the_code_from_the_mail(course) -> None:
    token = asked(course)
    assert not Person.objects.filter(email=EMAIL).exists(), "nothing is in the books before the code is typed"
    code = code_mailed()
    assert mail.outbox[0].to == [EMAIL]
    assert "Willa" not in mail.outbox[0].subject + mail.outbox[0].body
    row = done(token, code.lower().replace(" ", "-"), now=NOW + HOUR)
    willa = Person.objects.get(email=EMAIL)
    assert (row.enrolment.person, row.enrolment.way) == (willa, Enrolment.Way.PUBLIC)
    assert row.enrolment.charge.person == willa
    assert (row.details, row.email) == ({}, "")
    again = done(token, code, now=NOW + HOUR)
    assert again.enrolment == row.enrolment
    assert Enrolment.objects.count() == 1
    told = compose(Notice.objects.get(kind=Notice.Kind.ENROLLED), now=NOW + HOUR)
    assert told.to == EMAIL
    assert "Until 14 days before the first meeting" in told.text.replace("\n", " ")


def test_for_somebody_under_eighteen_the_guardian_is_kept_first_and_consents(course) -> None:
    for missing, words in (
        ({"consents": None}, "consent is missing"),
        ({"signed": ""}, "name under the consent"),
        ({"emergency_name": ""}, "emergency"),
        ({"born_on": None}, "date of birth"),
        ({"born_on": date(NOW.year - 19, 1, 1)}, "18 or over"),
        ({"born_on": date(NOW.year + 1, 1, 1)}, "in the future"),
    ):
        with pytest.raises(Refused, match=words):
            asked(course, young=True, **missing)
    assert not EnrolRequest.objects.exists()
    row = done(asked(course, young=True), code_mailed())
    kit, willa = row.enrolment.person, Person.objects.get(email=EMAIL)
    assert (kit.guardian, kit.email, kit.born_on) == (willa, None, KIT["born_on"])
    assert (kit.emergency_phone, kit.health_note) == ("0100 555", "Nuts")
    consent = Consent.objects.get()
    assert (consent.person, consent.given_by, consent.course, consent.signed) == (
        kit,
        willa,
        course,
        "Willa Oake",
    )
    assert row.enrolment.charge.person == willa
    told = compose(Notice.objects.get(kind=Notice.Kind.ENROLLED), now=NOW)
    assert told.to == EMAIL
    assert "Kit" not in told.subject
    # The same child again is the same person.
    other = factories.course("Glazing", is_public=True)
    factories.session(other, starts_at=NOW + timedelta(days=11))
    row = done(asked(other, young=True), code_mailed())
    assert row.enrolment.person == kit
    assert willa.young_people.count() == 1


def test_a_code_works_once_in_its_time_and_for_its_browser(course) -> None:
    token, other = asked(course), asked(course, email="pim@quillmere.example")
    mail.outbox.clear()
    assert send_due(clock=lambda: NOW) == 2
    assert send_due(clock=lambda: NOW) == 0, "mailed once"
    codes = [re.search(r"^\s+(\w{4} \w{4})$", each.body, re.MULTILINE)[1] for each in mail.outbox]
    for bad_token, typed, now in (
        (token, codes[1], NOW),
        (other, codes[0], NOW),
        (token, codes[0], NOW + LASTS),
        (token, "", NOW),
        ("never-was", codes[0], NOW),
        (token, "\x00" * 8, NOW),
    ):
        with pytest.raises(Refused, match="does not fit"):
            done(bad_token, typed, now=now)
    for _ in range(5):
        with pytest.raises(Refused, match="does not fit"):
            done(token, "TTTT TTTT")
    with pytest.raises(Refused, match="does not fit"):
        done(token, codes[0])
    assert done(other, codes[1]).enrolment
    assert Enrolment.objects.count() == 1


def test_a_class_that_fills_meanwhile_is_waited_for(course) -> None:
    maud = factories.tutor()
    token = asked(course)
    code = code_mailed()
    for name in ("Ines", "Tobias"):
        enrol(course=course, person=factories.student(name), by=maud, now=NOW)
    with pytest.raises(Refused, match="last place in Throwing has gone"):
        done(token, code)
    assert not Person.objects.filter(email=EMAIL).exists(), "refused whole"
    row = done(token, code, wait=True)
    assert (row.enrolment, row.waiting.state) == (None, Waiting.State.WAITING)
    assert row.waiting.person.email == EMAIL
    assert not row.waiting.person.charges.exists()


def test_an_address_the_studio_knows_is_its_owners(course) -> None:
    ines = factories.student("Ines")
    row = done(asked(course, {**WILLA, "first_name": " ines "}, email=ines.email.upper()), code_mailed())
    assert row.enrolment.person == ines
    with pytest.raises(Refused, match="This address is Ines’s"):
        done(asked(course, email=ines.email), code_mailed())
    gone = factories.student("Gone", left_at=NOW)
    with pytest.raises(Refused, match="from earlier"):
        done(asked(course, {**WILLA, "first_name": "Gone"}, email=gone.email), code_mailed())


def test_only_what_the_public_page_shows_can_be_asked_for(course) -> None:
    begun = factories.course("Begun", is_public=True)
    for days in (-1, 6):
        factories.session(begun, starts_at=NOW + timedelta(days=days))
    hidden = factories.course("Hidden")
    factories.session(hidden, starts_at=NOW + timedelta(days=3))
    for each in (begun, hidden):
        with pytest.raises(Refused, match="can’t be booked here"):
            asked(each)
    token, code = asked(course), code_mailed()
    ClassRules.objects.update(public_page=False)
    with pytest.raises(Refused, match="can’t be booked here"):
        done(token, code)


def test_ages_are_looked_at_before_a_code_is_mailed(course) -> None:
    course.age_least, course.age_most = 11, 16
    course.save()
    with pytest.raises(Refused, match="ages 11 to 16"):
        asked(course)
    with pytest.raises(Refused, match="Kit will be 9"):
        asked(course, young=True, born_on=date(NOW.year - 9, 1, 5))
    assert done(asked(course, young=True), code_mailed()).enrolment


def test_askings_are_limited_and_forgotten(course) -> None:
    for number in range(enrol_requests.limits.MOST):
        asked(course, email=f"somebody{number}@quillmere.example")
    with pytest.raises(Refused, match="too many times"):
        asked(course)
    assert tidy(now=NOW + LASTS + HOUR) == 0
    assert tidy(now=NOW + LASTS + timedelta(days=1, hours=1)) == enrol_requests.limits.MOST
