"""Where somebody is signed in: for how long, on what, and signed out at the next page."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.actions import people
from studio.models import Device, Person, Studio
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

PHONE = (
    "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/131.0.0.0 "
    "Mobile Safari/537.36"
)
LAPTOP = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:133.0) Gecko/20100101 Firefox/133.0"
PASSWORD = "kiln shed by the mere"


@pytest.fixture(autouse=True)
def signed_in_by_a_test() -> None:
    """Nobody notes these devices but the pages themselves."""


@pytest.fixture
def ivo() -> Person:
    factories.studio()
    row = factories.helper()
    row.set_password(PASSWORD)
    row.save()
    return row


def arrive(person: Person, browser: str = PHONE) -> Client:
    """Signed in through the form, as people are."""
    client = Client(headers={"user-agent": browser})
    answer = client.post(reverse("sign-in-password"), {"email": person.email, "password": PASSWORD})
    assert answer.status_code == 302, answer.content.decode()
    return client


def is_in(client: Client) -> bool:
    return client.get(reverse("my-devices")).status_code == 200


def days_ago(device: Device, days: float) -> None:
    Device.objects.filter(pk=device.pk).update(signed_in_at=timezone.now() - timedelta(days=days))


def test_the_list_names_each_device_in_plain_words(ivo: Person) -> None:
    phone, _ = arrive(ivo), arrive(ivo, LAPTOP)
    page = phone.get(reverse("my-devices")).content.decode()
    assert "Chrome on an Android phone" in page
    assert "Firefox on Windows" in page
    assert "Mozilla" not in page
    row = Device.objects.first()
    assert "Mozilla" not in str(vars(row))


def test_one_device_is_ended_and_is_out_at_its_next_page(ivo: Person) -> None:
    phone, laptop, third = arrive(ivo), arrive(ivo, LAPTOP), arrive(ivo)
    lost = Device.objects.get(name="Firefox on Windows")
    answer = phone.post(reverse("my-devices-end"), {"device": lost.code}, follow=True)
    assert "“Firefox on Windows” is signed out" in answer.content.decode()
    assert [is_in(client) for client in (phone, laptop, third)] == [True, False, True]
    assert "Firefox on Windows" not in phone.get(reverse("my-devices")).content.decode()
    assert not Session.objects.filter(session_key=lost.session_key).exists()
    # Pressed again, it is only said so.
    answer = phone.post(reverse("my-devices-end"), {"device": lost.code}, follow=True)
    assert "not signed in any more" in answer.content.decode()


def test_all_others_are_ended_and_this_one_stays(ivo: Person) -> None:
    phone, laptop, third = arrive(ivo), arrive(ivo, LAPTOP), arrive(ivo)
    answer = phone.post(reverse("my-devices-end"), follow=True)
    assert "2 other devices are signed out" in answer.content.decode()
    assert [is_in(client) for client in (phone, laptop, third)] == [True, False, False]


def test_a_kept_copy_of_an_ended_session_opens_nothing(ivo: Person) -> None:
    """The row of the session put back by hand, as out of a cache or a backup: the device stays ended."""
    phone, laptop = arrive(ivo), arrive(ivo, LAPTOP)
    lost = Device.objects.get(name="Firefox on Windows")
    kept = Session.objects.get(session_key=lost.session_key)
    phone.post(reverse("my-devices-end"))
    kept.save(force_insert=True)
    assert not is_in(laptop)


def test_nobody_ends_or_sees_anothers_device(ivo: Person) -> None:
    arrive(ivo)
    ines = signed_in(factories.student())
    theirs = Device.objects.get(person=ivo)
    answers = [
        ines.post(reverse("my-devices-end"), {"device": code}, follow=True).content
        for code in (theirs.code, "ZZZZZZZZ", "\x00", "")
    ]
    assert len({answer.partition(b"csrf")[0] for answer in answers}) == 1
    theirs.refresh_from_db()
    assert theirs.ended_at is None
    assert "Android" not in ines.get(reverse("my-devices")).content.decode()
    assert ines.get(reverse("person-devices", args=[ivo.code])).status_code == 404


def test_the_tutor_ends_a_helpers_device_and_signs_a_student_out_without_seeing_where(ivo: Person) -> None:
    maud, ines = signed_in(factories.tutor()), factories.student()
    phone = arrive(ivo)
    hers = Client(headers={"user-agent": PHONE})
    hers.force_login(ines)
    assert is_in(hers)
    page = maud.get(reverse("person-devices", args=[ivo.code])).content.decode()
    assert "Chrome on an Android phone" in page
    device = Device.objects.get(person=ivo)
    maud.post(reverse("person-devices-end", args=[ivo.code]), {"device": device.code}, follow=True)
    assert not is_in(phone)
    page = maud.get(reverse("person-devices", args=[ines.code])).content.decode()
    assert "On one device." in page
    assert "Android" not in page
    maud.post(reverse("person-devices-end", args=[ines.code]))
    assert not is_in(hers)
    ivos = signed_in(ivo)
    assert ivos.post(reverse("person-devices-end", args=[ines.code])).status_code == 404


def test_staff_stay_for_their_days_and_students_for_theirs(ivo: Person) -> None:
    Studio.objects.update(signed_in_days=60, staff_signed_in_days=7)
    ines, phone = factories.student(), arrive(ivo)
    hers = signed_in(ines)
    assert is_in(hers)
    for client, person, lasts in ((phone, ivo, 7), (hers, ines, 60)):
        device = Device.objects.get(person=person)
        days_ago(device, lasts - 0.01)
        assert is_in(client)
        days_ago(device, lasts + 0.01)
        assert not is_in(client)
        assert client.get("/").status_code == 200  # a visitor's page


def test_a_shorter_time_counts_at_once_and_the_cookie_ends_with_it(ivo: Person) -> None:
    Studio.objects.update(staff_signed_in_days=30)
    phone = arrive(ivo)
    assert phone.cookies["sessionid"]["max-age"] == 30 * 24 * 3600
    days_ago(Device.objects.get(), 5)
    assert is_in(phone)
    Studio.objects.update(staff_signed_in_days=3)
    assert not is_in(phone)


def test_last_seen_is_written_at_most_every_five_minutes(ivo: Person) -> None:
    phone = arrive(ivo)
    with CaptureQueriesContext(connection) as asked:
        for _ in range(5):
            is_in(phone)
    assert not [each["sql"] for each in asked.captured_queries if each["sql"].startswith("UPDATE")]
    device, long_ago = Device.objects.get(), timezone.now() - timedelta(minutes=6)
    Device.objects.update(seen_at=long_ago)
    with CaptureQueriesContext(connection) as asked:
        for _ in range(5):
            is_in(phone)
    assert len([each for each in asked.captured_queries if each["sql"].startswith("UPDATE")]) == 1
    device.refresh_from_db()
    assert device.seen_at > long_ago


def test_whoever_leaves_or_gets_a_new_password_is_signed_out_and_stays_so(ivo: Person) -> None:
    maud, phone = factories.tutor(), arrive(ivo)
    people.person_leaves(person=ivo, by=maud)
    assert not is_in(phone)
    people.person_returns(person=ivo, by=maud)
    assert not is_in(phone)
    phone = arrive(ivo)
    people.set_password(person=ivo, password="another long password here", by=maud)
    assert not is_in(phone)
    assert Device.objects.filter(person=ivo, ended_at=None).count() == 0


def test_a_browser_that_only_asked_for_a_code_is_forgotten_within_the_hour(client: Client) -> None:
    factories.studio()
    client.post(reverse("sign-in"), {"email": "stranger@quillmere.example"})
    assert Session.objects.get().expire_date < timezone.now() + timedelta(hours=1, minutes=1)


def test_1_and_30_devices_ask_the_database_equally_often(ivo: Person) -> None:
    phone, maud = arrive(ivo), signed_in(factories.tutor())
    counts: dict[str, set[int]] = {"mine": set(), "persons": set()}
    for _ in range(2):
        for name, client, url in (
            ("mine", phone, reverse("my-devices")),
            ("persons", maud, reverse("person-devices", args=[ivo.code])),
        ):
            client.get(url)
            with CaptureQueriesContext(connection) as asked:
                assert client.get(url).status_code == 200
            counts[name].add(len(asked))
        for _ in range(30):
            is_in(signed_in(ivo))
    assert all(len(found) == 1 for found in counts.values()), counts


@pytest.mark.parametrize("days", ["0", "366", "", "a"])
def test_days_out_of_range_are_refused_and_what_was_typed_stays(days: str) -> None:
    studio = factories.studio()
    maud = signed_in(factories.tutor())
    from django.forms.models import model_to_dict

    words: dict[str, Any] = {
        name: value for name, value in model_to_dict(studio).items() if value is not None
    }
    answer = maud.post(reverse("studio-settings"), words | {"signed_in_days": days})
    assert answer.status_code == 422
    assert "stay signed in" in answer.content.decode()
    studio.refresh_from_db()
    assert studio.signed_in_days == 90
