"""Writing to a class: who gets it is shown first, guardians read for the young, nobody gets it twice."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Announcement, MailOff, Notice
from studio.notifications import deliver
from tests import factories
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client):
    factories.studio(notice_grace_minutes=0)
    maud = factories.tutor()
    client.force_login(maud)
    return maud


def form_of(page: str, **words: object) -> dict[str, object]:
    client_id = re.search(r'name="client_id" value="([^"]+)"', page)[1]
    return {"title": "Clay", "words": "New clay.\n\nCome & see.", "client_id": client_id, **words}


def test_who_gets_it_is_seen_before_it_goes_and_nobody_gets_it_twice(
    client: Client, maud, smtp_sink: SmtpSink
) -> None:
    tuesday, friday = factories.course(), factories.course("Friday morning")
    ruth = factories.guardian()
    sam, ann = factories.young_person(guardian=ruth), factories.young_person("Ann", guardian=ruth)
    ines, tobias = factories.student(), factories.student("Tobias", email=None)
    stopped = factories.student("Pim")
    MailOff.objects.create(person=stopped, list="announcements", at=factories.NOW)
    for person in (sam, ann, ines, tobias, stopped):
        factories.enrolment(person, tuesday)
    factories.enrolment(ines, friday)
    url = reverse("announcement-new")
    opened = client.get(url, {"course": tuesday.code}).content.decode()
    assert re.search(rf'value="{tuesday.code}"[^>]*checked', opened)
    words = form_of(opened, courses=[tuesday.code, friday.code])
    looked = client.post(url, {**words, "act": "look"})
    assert looked.status_code == 200
    page = looked.content.decode()
    assert "Send it to 2 people" in page
    assert ruth.email in page
    assert "for Ann, Sam" in page
    assert "No mail reaches them" in page
    assert "They have stopped announcements" in page
    assert "Come &amp; see." in page
    assert not Announcement.objects.exists()
    for _ in range(2):  # pressed twice
        sent = client.post(url, {**form_of(page, courses=words["courses"]), "act": "send"})
        assert sent.status_code == 302
    deliver.deliver_due(worker="mail:1")
    assert sorted(mail.recipients[0] for mail in smtp_sink.mails) == sorted([ines.email, ruth.email])
    to_ruth = smtp_sink.to(ruth.email)[0]
    assert "Ann and Sam" in to_ruth.text
    assert "Sam" not in to_ruth.subject
    assert {"sent", "no-address", "dropped"} == set(Notice.objects.values_list("state", flat=True))
    shown = client.get(sent.headers["Location"]).content.decode()
    assert tuesday.name in shown
    assert "Tobias" in client.get(reverse("by-hand")).content.decode()


def test_what_cannot_be_said_so_keeps_every_word(client: Client, maud) -> None:
    course = factories.course()
    factories.enrolment(factories.young_person(guardian=factories.guardian()), course)
    url = reverse("announcement-new")
    words = form_of(client.get(url).content.decode(), courses=[course.code])
    for wrong, said in (
        ({"courses": []}, "Choose a class, several, or everybody."),
        ({"title": "Sam has won"}, "The subject names Sam, who is under 18."),
        ({"title": ""}, ""),
        ({"words": ""}, ""),
        ({"courses": ["NOSUCH"]}, ""),
    ):
        for act in ("look", "send"):
            answer = client.post(url, {**words, **wrong, "act": act})
            assert answer.status_code == 422
            assert said in answer.content.decode()
            if "words" not in wrong:
                assert "Come &amp; see." in answer.content.decode()
    assert not Announcement.objects.exists()


def test_it_can_be_held_until_it_goes(client: Client, maud) -> None:
    factories.studio(notice_grace_minutes=15)
    course = factories.course()
    factories.enrolment(factories.student(), course)
    url = reverse("announcement-new")
    words = form_of(client.get(url).content.decode(), courses=[course.code], act="send")
    client.post(url, words)
    made = Announcement.objects.get()
    hold = reverse("announcement-hold", args=[made.code])
    client.post(hold)
    assert Notice.objects.get().state == "held"
    assert "too late" in client.post(hold, follow=True).content.decode()
    assert made.title in client.get(reverse("announcements")).content.decode()
    course_page = client.get(reverse("course", args=[course.code])).content.decode()
    assert f"{url}?course={course.code}" in course_page


def test_helpers_and_students_write_to_nobody(client: Client, maud) -> None:
    for person in (factories.helper(), factories.student()):
        client.force_login(person)
        assert client.get(reverse("announcements")).status_code == 404
        assert client.post(reverse("announcement-new"), {"title": "x"}).status_code == 404
