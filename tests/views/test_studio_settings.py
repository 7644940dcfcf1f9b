"""The studio's own settings: what they change on pages and mails, and what they refuse."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Studio
from tests import factories
from tests.views.markup import forms_of, says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

URL = "/studio/"


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.tutor())
    return client


def words(client: Client, **more: str) -> dict[str, str]:
    """The form as it stands, with some of it changed."""
    page = client.get(URL).content.decode()
    [form] = [form for form in forms_of(page, URL) if "pickup_times" in form.fields]
    return {**form.as_sent(), **more}


def test_what_is_saved_stands_on_the_pages(maud: Client) -> None:
    page = maud.post(URL, words(maud, name="Clay Room by the Mere", opening_limit_c="60"), follow=True)
    assert "Saved." in page.content.decode()
    assert "Clay Room by the Mere" in maud.get("/").content.decode()
    assert "Opened below 60 °C" in maud.get(reverse("kilns")).content.decode()
    assert "Clay Room by the Mere" in Client().get("/").content.decode()


def test_saving_it_as_it_stands_changes_nothing(maud: Client) -> None:
    before = Studio.objects.values().get()
    assert maud.post(URL, words(maud)).status_code == 302
    assert Studio.objects.values().get() == before


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Please fill this in"),
        ({"time_zone": "Quillmere"}, "is no time zone. Write one like Europe/London"),
        ({"opening_limit_c": "101"}, "less than or equal to 100"),
        ({"opening_limit_c": "5"}, "greater than or equal to 20"),
        ({"reply_to": "maud at quillmere"}, "email address"),
        ({"currency_digits": "7"}, ""),
        ({"currency": "pounds"}, ""),
        ({"pickup_weeks": "-1"}, ""),
        ({"pickup_weeks": "soon"}, "whole number"),
        ({"clearance_mm": "5000"}, ""),
        ({"notice_grace_minutes": "999999"}, ""),
    ],
)
def test_bad_input_says_what_to_do_and_keeps_what_was_typed(
    maud: Client, changed: dict[str, str], sentence: str
) -> None:
    before = Studio.objects.values().get()
    sent = words(maud, pickup_times="Fridays, 9 to 5", **changed)
    answer = maud.post(URL, sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert says_no(page)
    assert "Fridays, 9 to 5" in page
    for value in changed.values():
        assert f'value="{value}"' in page or not value
    assert Studio.objects.values().get() == before
    # The head of the page shows the studio as it is, not as it was typed.
    assert "Quillmere Clay Room" in page


def test_only_the_tutor_sees_them(maud: Client) -> None:
    for person in (factories.helper(), factories.student()):
        browser = signed_in(person)
        assert browser.get(URL).status_code == 404
        assert browser.post(URL, {"name": "Mine"}).status_code == 404
    assert Studio.the().name == "Quillmere Clay Room"
    assert maud.delete(URL).status_code == 405
