"""How the studio words its mails: checked before it is kept, filled from what is true, back at any time."""

from __future__ import annotations

import pytest

from studio.actions import notices, notices_wording
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.models import Notice, NoticeWording
from studio.notifications.compose import Mail, compose
from studio.notifications.wordings import DEFAULTS
from tests import factories

pytestmark = pytest.mark.django_db

KINDS = list(Notice.Kind)
READY = DEFAULTS[Notice.Kind.READY].wording


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio()


def save(kind: str = "ready", **changes: str) -> NoticeWording | None:
    default = DEFAULTS[Notice.Kind(kind)].wording
    words = {"subject": default.subject, "heading": default.heading, "body": default.body, **changes}
    return notices_wording.save_wording(kind=kind, by=factories.tutor(), now=factories.NOW, **words)


def refused(kind: str = "ready", **changes: str) -> list[str]:
    with pytest.raises(Refused) as caught:
        save(kind, **changes)
    assert not NoticeWording.objects.exists()
    return [problem.message for problem in caught.value.problems]


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_a_default_that_passes_its_own_check(kind: str) -> None:
    assert save(kind) is None
    assert not NoticeWording.objects.exists()


def test_own_words_are_in_the_mail_and_the_pieces_with_them() -> None:
    ines = factories.student()
    pot = factories.piece(maker=ines, stage=Stage.READY, form="bowl")
    [notice] = notices.queue_ready(pieces=[pot], now=factories.NOW)
    save(
        subject="Come and fetch: {pieces_are} done",
        heading="Hello {name}!",
        body="{pieces}\n\nThe kettle is on, at {studio}.\nUntil {kept_until} & <no> longer.",
    )
    mail = compose(notice, now=factories.NOW)
    assert isinstance(mail, Mail)
    assert mail.subject == "Come and fetch: One piece is done"
    assert mail.text.startswith("Hello Ines!\n\n  " + pot.mark)
    assert "The kettle is on, at Quillmere Clay Room.\nUntil Tuesday 16 December & <no> longer." in mail.text
    assert "&amp; &lt;no&gt; longer" in mail.html
    assert "<strong>Tuesday 16 December</strong>" in mail.html
    assert "If that is hard" not in mail.text
    notices_wording.reset_wording(kind="ready", by=factories.tutor())
    assert "If that is hard, just reply" in " ".join(compose(notice, now=factories.NOW).text.split())


def test_a_value_brings_in_no_other_place() -> None:
    """A student may call themselves anything, and a shelf may, too."""
    ines = factories.student("{account}")
    pot = factories.piece(maker=ines, stage=Stage.READY, shelf=factories.shelf("{kept_until}"))
    [notice] = notices.queue_ready(pieces=[pot], now=factories.NOW)
    mail = compose(notice, now=factories.NOW)
    assert "One piece is ready, {account}." in mail.text
    assert "It is on {kept_until}." in mail.text


def test_what_cannot_be_a_mail_is_refused_with_a_sentence() -> None:
    assert any(
        "There is no {nmae} in this mail. It knows {studio}, {name}" in said
        for said in refused(body="{pieces} {nmae}")
    )
    assert any("There is no { in this mail" in said for said in refused(heading="Hello { there"))
    assert refused(body="Come.") == [
        "{pieces} is missing: the list of pieces with their marks. The mail needs it."
    ]
    assert "{pieces} stands on a line of its own." in refused(body="Here: {pieces}")
    assert any("{name} can’t stand in the subject." in said for said in refused(subject="{name}, come"))
    assert refused(subject="") == ["The subject is empty. Write it, or go back to the default."]
    assert refused("alarm", body="All is well.\n{curve}\n{last_reading}") == [
        "{sentence} is missing: what is amiss. The mail needs it."
    ]


@pytest.mark.parametrize("sign", ["\r\nBcc: all@example.com", "\n", "\v", "\x00", "\u2028", "\x85"])
def test_no_header_is_smuggled_in(sign: str) -> None:
    """RFC 5322, 2.2: a header ends at a line break; the others are taken for one by some software."""
    [said] = refused(subject=f"Come{sign}x")
    assert said == "The subject holds a line break or signs that can't be seen. Type it again by hand."


def test_no_young_person_is_named_in_a_subject() -> None:
    factories.young_person("Sam")
    assert refused(subject="Sam’s pieces") == [
        "The subject names Sam, who is under 18. Leave names out of subjects."
    ]
    assert save(subject="The same for you") is not None


def test_only_the_tutor_words_mails() -> None:
    with pytest.raises(Refused):
        notices_wording.save_wording(
            kind="ready", subject="x", heading="x", body="{pieces}", by=factories.helper()
        )
    with pytest.raises(Refused):
        notices_wording.reset_wording(kind="ready", by=factories.student())
