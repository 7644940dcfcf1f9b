"""The pages where the tutor words the studio's mails, each with the mail as it would look now."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.actions import notices
from studio.actions.notices_example import example
from studio.domain.stages import Stage
from studio.models import Announcement, FiringAlarm, MailOff, Notice, NoticeWording, Piece, SignInCode
from studio.notifications.compose import Mail
from studio.notifications.wordings import DEFAULTS
from tests import factories
from tests.notifications.story import ready_piece
from tests.views import world as worlds

pytestmark = pytest.mark.django_db

READY = DEFAULTS[Notice.Kind.READY].wording
WORDS = {"subject": READY.subject, "heading": READY.heading, "body": READY.body}


@pytest.fixture
def maud(client: Client):
    factories.studio(notice_grace_minutes=0)
    maud = factories.tutor()
    client.force_login(maud)
    return maud


def test_the_list_has_every_kind_and_says_which_words_are_ones_own(client: Client, maud) -> None:
    NoticeWording.objects.create(
        kind="loss",
        subject="Bad news of a pot",
        heading="x",
        body="{piece}\n{what_happened}",
        changed_at=factories.NOW,
        changed_by=maud,
    )
    page = client.get(reverse("wordings")).content.decode()
    for kind in Notice.Kind:
        assert reverse("wording", args=[kind.value]) in page
    assert "Bad news of a pot" in page
    assert "Maud" in page
    assert reverse("wordings") in client.get(reverse("notices")).content.decode()


def test_own_words_are_looked_at_before_they_are_kept(client: Client, maud) -> None:
    pot = ready_piece(factories.student())
    url = reverse("wording", args=["ready"])
    own = {**WORDS, "heading": "Come and see, {name}!"}
    looked = client.post(url, {**own, "act": "look"})
    assert looked.status_code == 200
    page = looked.content.decode()
    assert "Come and see, Ines!" in page
    assert "Not kept yet." in page
    assert pot.mark in page
    assert not NoticeWording.objects.exists()
    assert not Notice.objects.exists()
    assert client.post(url, {**own, "act": "keep"}).status_code == 302
    assert "Come and see, Ines!" in client.get(reverse("wording-mail", args=["ready"])).content.decode()
    client.post(reverse("wording-reset", args=["ready"]))
    assert not NoticeWording.objects.exists()


def test_what_cannot_be_kept_says_why_and_loses_no_word(client: Client, maud) -> None:
    url = reverse("wording", args=["ready"])
    for act in ("look", "keep"):
        answer = client.post(url, {**WORDS, "body": "Come & fetch {nothing}.", "act": act})
        assert answer.status_code == 422
        page = answer.content.decode()
        assert "There is no {nothing} in this mail." in page
        assert "{pieces} is missing" in page
        assert "Come &amp; fetch {nothing}." in page
    assert client.post(url, {**WORDS, "subject": "", "act": "keep"}).status_code == 422
    assert not NoticeWording.objects.exists()


def test_only_the_tutor_and_only_kinds_there_are(client: Client, maud) -> None:
    assert client.get(reverse("wording", args=["no-such-kind"])).status_code == 404
    client.force_login(factories.helper())
    assert client.get(reverse("wordings")).status_code == 404
    assert client.post(reverse("wording", args=["ready"]), WORDS).status_code == 404


def test_without_anything_to_show_it_with_the_page_says_so(client: Client, maud) -> None:
    for kind in Notice.Kind:
        page = client.get(reverse("wording", args=[kind.value])).content.decode()
        shown = client.get(reverse("wording-mail", args=[kind.value]))
        if kind == Notice.Kind.SIGN_IN:
            assert shown.status_code == 200
        else:
            assert "as soon as there is one" in page, kind
            assert shown.status_code == 404


@pytest.mark.parametrize("kind", list(Notice.Kind))
def test_every_kind_is_shown_with_what_the_studio_has_and_nothing_of_it_stays(kind: str) -> None:
    world = worlds.build()
    alarm = {"cause": "stalled", "sentence": "It stood at 812 °C.", "began_at": factories.NOW}
    FiringAlarm.objects.create(firing=world.burning, cleared_at=factories.NOW, **alarm)
    factories.piece(maker=world.ines, stage=Stage.LOST)
    told = Notice.objects.create(
        kind="ready",
        key="ready:told",
        recipient=world.ines,
        state="sent",
        sent_at=factories.NOW,
        made_at=factories.NOW,
        not_before=factories.NOW,
    )
    told.pieces.add(factories.piece(maker=world.ines, stage=Stage.READY))
    before = _everything()
    mail = example(kind, by=world.maud)
    assert isinstance(mail, Mail), mail.why
    assert mail.to
    assert "{" not in mail.text, "a place was not filled"
    assert _everything() == before


def _everything() -> list[object]:
    tables = (Notice, Piece, SignInCode, FiringAlarm, Announcement, MailOff)
    return [list(table.objects.order_by("pk").values()) for table in tables]


def test_a_notice_that_waits_is_what_is_shown(maud) -> None:
    ines, tobias = factories.student(), factories.student("Tobias")
    notices.queue_ready(pieces=[ready_piece(tobias)])
    later = ready_piece(ines)
    assert example("ready", by=maud).to == tobias.email
    assert later.mark not in example("ready", by=maud).text


def test_nobodys_wish_to_get_no_such_mail_hides_the_example(maud) -> None:
    ines, course = factories.student(), factories.course()
    factories.enrolment(ines, course)
    MailOff.objects.create(person=ines, list="announcements", at=factories.NOW)
    assert isinstance(example("announcement", by=maud), Mail)
    assert MailOff.objects.count() == 1


def test_classes_mail_of_the_young_goes_to_their_guardian_in_examples_too(maud) -> None:
    ruth = factories.guardian()
    sam, course = factories.young_person(guardian=ruth), factories.course()
    factories.enrolment(sam, course)
    for kind in ("class-change", "place", "announcement"):
        mail = example(kind, by=maud)
        assert mail.to == ruth.email
        assert "Sam" not in mail.subject
