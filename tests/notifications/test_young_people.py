"""Every kind of mail there is, about Sam who is 16: to Ruth, his guardian, and no name on its front."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest

from studio.actions import (
    announcements,
    money,
    notices,
    notices_classes,
    notices_reminders,
    notices_review,
    settling,
    sign_in,
    statements,
)
from studio.domain.stages import Stage
from studio.models import Firing, Notice, Person, Piece, StatementFile
from tests import factories
from tests.notifications.story import NOW, Clock, State, deliver_all, queued, ready_piece, tutor
from tests.support.smtp import Received, SmtpSink

pytestmark = pytest.mark.django_db
Kind = Notice.Kind

SAMS_OWN = "sam@quillmere.example"
BORN = NOW.date().replace(year=NOW.year - 16)


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio(reminder_by="days", reminder_every=7, reminder_rounds=1, reminders_wait=False)


def told_of(sam: Person, clock: Clock) -> Piece:
    piece = ready_piece(sam)
    queued([piece], clock=clock)
    deliver_all(clock=clock)
    return piece


def ready(sam: Person, clock: Clock) -> None:
    queued([ready_piece(sam)], clock=clock)


def correction(sam: Person, clock: Clock) -> None:
    piece = told_of(sam, clock)
    Piece.objects.filter(pk=piece.pk).update(stage=Stage.FINISHING)
    notices.queue_correction(piece=Piece.objects.get(pk=piece.pk), by=tutor(), now=clock())


def unloaded(sam: Person, outcome: str, clock: Clock) -> None:
    firing = factories.firing(
        Firing.State.UNLOADING, pieces=[factories.piece(maker=sam, stage=Stage.GLAZED, form="mug")]
    )
    factories.unload_one(firing.placements.get(), outcome, now=clock())
    settling.close_firing(
        firing=firing, by=firing.made_by, client_id=factories.client_id(), energy_kwh="60", now=clock()
    )


def loss(sam: Person, clock: Clock) -> None:
    unloaded(sam, "lost", clock)


def flaw(sam: Person, clock: Clock) -> None:
    unloaded(sam, "flawed", clock)


def reminder(sam: Person, clock: Clock) -> None:
    told_of(sam, clock)
    clock.turn(days=8)
    notices_reminders.queue_reminders(now=clock())


def last(sam: Person, clock: Clock) -> None:
    told_of(sam, clock)
    clock.turn(days=27)
    notices_reminders.queue_reminders(now=clock())


def code(_: Person, clock: Clock) -> None:
    """Whoever types the address that the books have of Sam."""
    sign_in.ask_code(email=SAMS_OWN, requester_key="10.0.0.1", now=clock())


def statement(sam: Person, clock: Clock) -> None:
    given = {"person": sam.answers_for(clock().date()), "by": tutor(), "now": clock()}
    clay = {"amount_minor": 850, "words": "Clay for Sam", "kind": "clay"}
    money.add_charge(**given, **clay, client_id=factories.client_id())
    made = statements.issue_statement(**given, to_on=clock().date(), client_id=factories.client_id())
    assert StatementFile.objects.filter(statement=made).exists()
    statements.mail_statement(statement=made, by=tutor(), now=clock())


def class_change(sam: Person, clock: Clock) -> None:
    notices_classes.queue_class_change(
        course=factories.course(), people=[sam], change="There is no class.", key="c", by=tutor(), now=clock()
    )


def place(sam: Person, clock: Clock) -> None:
    notices_classes.queue_place(
        course=factories.course(),
        person=sam,
        until=clock() + timedelta(days=40),
        link_path="/offers/x/",
        key="p",
        by=None,
        now=clock(),
    )


def enrolled(sam: Person, clock: Clock) -> None:
    course = factories.course()
    factories.enrolment(sam, course)
    notices_classes.queue_enrolled(course=course, person=sam, key="e", now=clock())


def announcement(sam: Person, clock: Clock) -> None:
    course = factories.course()
    factories.enrolment(sam, course)
    announcements.announce(
        title="Clay", words="It came.", by=tutor(), courses=[course], client_id="a", now=clock()
    )


#: How each kind comes about. An alarm goes to tutors, and nobody under 18 is one: `test_people` has that.
WAYS: dict[str, Callable[[Person, Clock], None]] = {
    Kind.READY: ready,
    Kind.CORRECTION: correction,
    Kind.LOSS: loss,
    Kind.FLAW: flaw,
    Kind.REMINDER: reminder,
    Kind.LAST: last,
    Kind.SIGN_IN: code,
    Kind.STATEMENT: statement,
    Kind.CLASS_CHANGE: class_change,
    Kind.PLACE: place,
    Kind.ENROLLED: enrolled,
    Kind.ANNOUNCEMENT: announcement,
}


#: Where the tutor or a worker still takes it up.
NOT_GONE = {State.WAITING, State.QUEUED}


def everything_goes(clock: Clock) -> None:
    for notice in Notice.objects.filter(state=State.WAITING):
        notices_review.approve(notice=notice, by=tutor(), now=clock())
    clock.turn(minutes=16)
    deliver_all(clock=clock)


def checked(mail: Received, ruth: Person) -> None:
    """Nothing on the envelope or in a header but the guardian's address."""
    assert mail.recipients == (ruth.email,)
    assert SAMS_OWN not in mail.raw.decode()
    named = re.compile("Sam|Ruth|Pellow", re.IGNORECASE)
    assert not named.search(mail.subject)
    headers = {name: str(value) for name, value in mail.message.items() if name != "To"}
    assert not [name for name, value in headers.items() if named.search(value)], headers
    assert "Pellow" not in mail.text + mail.html


def test_the_list_of_ways_has_every_kind() -> None:
    assert set(WAYS) | {Kind.ALARM} == set(Kind)


@pytest.mark.parametrize("kind", [kind for kind in WAYS if kind != Kind.SIGN_IN])
def test_it_goes_to_the_guardian_and_its_front_names_nobody(kind: str, smtp_sink: SmtpSink) -> None:
    clock, ruth = Clock(), factories.guardian()
    sam = factories.young_person(guardian=ruth, email=SAMS_OWN, born_on=BORN)
    WAYS[kind](sam, clock)
    everything_goes(clock)
    assert kind in set(Notice.objects.filter(state=State.SENT).values_list("kind", flat=True))
    assert smtp_sink.mails
    for mail in smtp_sink.mails:
        checked(mail, ruth)


@pytest.mark.parametrize("known", ["before", "between asking and sending"])
def test_no_code_goes_to_an_address_of_the_young_persons_own(known: str, smtp_sink: SmtpSink) -> None:
    clock = Clock()
    sam = factories.student("Sam", email=SAMS_OWN)
    is_sixteen = {"guardian": factories.guardian(), "born_on": BORN}
    if known == "before":
        Person.objects.filter(pk=sam.pk).update(**is_sixteen)
    code(sam, clock)
    Person.objects.filter(pk=sam.pk).update(**is_sixteen)
    deliver_all(clock=clock)
    assert smtp_sink.mails == []


@pytest.mark.parametrize("kind", [kind for kind in WAYS if kind != Kind.SIGN_IN])
def test_what_was_queued_before_the_age_was_known_does_not_go_past_the_guardian(
    kind: str, smtp_sink: SmtpSink
) -> None:
    """Sam was in the books as grown up; between queueing and sending his date of birth is put right."""
    clock, ruth = Clock(), factories.guardian()
    sam = factories.student("Sam", last_name="Pellow", email=SAMS_OWN)
    WAYS[kind](sam, clock)
    before = len(smtp_sink.mails)
    notice = Notice.objects.get(kind=kind)
    assert (notice.recipient, notice.state in NOT_GONE) == (sam, True)
    Person.objects.filter(pk=sam.pk).update(guardian=ruth, born_on=BORN)
    everything_goes_as_it_can(clock)
    assert [mail.recipients for mail in smtp_sink.mails[before:] if mail.recipients != (ruth.email,)] == []
    notice.refresh_from_db()
    assert notice.state != State.SENT


def everything_goes_as_it_can(clock: Clock) -> None:
    """As if the tutor had let all of it go a moment before."""
    Notice.objects.filter(state=State.WAITING).update(state=State.QUEUED, approved_at=clock())
    clock.turn(minutes=16)
    deliver_all(clock=clock)
