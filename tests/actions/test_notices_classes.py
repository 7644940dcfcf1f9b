"""What classes are told: a change, a place kept, an announcement; once each, guardians for the young."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import announcements, mail_off, notices_classes
from studio.domain.problems import Refused
from studio.models import Announcement, Course, Notice, Person
from studio.notifications.compose import Mail, Nothing, compose
from tests import factories
from tests.notifications.story import NOW, Clock, State, deliver_all
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db

Kind = Notice.Kind


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio()


def family() -> tuple[Person, Person, Person]:
    ruth = factories.guardian()
    return ruth, factories.young_person(guardian=ruth), factories.young_person("Una", guardian=ruth)


def a_class(*people: Person) -> Course:
    course = factories.course(name="Throwing on Tuesday")
    for person in people:
        factories.enrolment(person, course)
    return course


def change(course: Course, people: list[Person], **named: object) -> list[Notice]:
    named = {"key": "s1:moved", "by": factories.tutor(), "now": NOW, **named}
    words = "Tuesday’s class begins at 18:30.\n\nThe kiln is being mended."
    return notices_classes.queue_class_change(course=course, people=people, change=words, **named)


def test_a_change_goes_once_to_everybody_and_to_a_guardian_once_for_both() -> None:
    ruth, sam, una = family()
    ines = factories.student()
    course = a_class(ines, sam, una)
    made = change(course, [ines, sam, una])
    assert {notice.recipient for notice in made} == {ines, ruth}
    assert [notice.pk for notice in change(course, [ines, sam, una])] == [notice.pk for notice in made]
    assert Notice.objects.count() == 2
    mail = compose(Notice.objects.get(recipient=ruth), now=NOW)
    assert isinstance(mail, Mail)
    assert mail.subject == "A change to your class"
    assert "A change to Throwing on Tuesday, Ruth." in mail.text
    assert "You get this in the place of Sam and Una." in mail.text
    assert "Tuesday's class begins at 18:30.\n\nThe kiln is being mended." in mail.text.replace("’", "'")
    assert "in the place of" not in compose(Notice.objects.get(recipient=ines), now=NOW).text
    assert not mail.off_link


def test_a_change_is_sent_by_itself_after_the_time_of_grace_and_never_after_the_class(
    smtp_sink: SmtpSink,
) -> None:
    clock = Clock()
    ines, tobias = factories.student(), factories.student("Tobias")
    course = a_class(ines, tobias)
    change(course, [ines], until=NOW + timedelta(hours=2))
    assert deliver_all(clock=clock) == {}
    clock.turn(minutes=16)
    assert deliver_all(clock=clock) == {"sent": 1}
    change(course, [tobias], until=NOW + timedelta(hours=2))
    clock.turn(hours=3)
    assert deliver_all(clock=clock) == {"dropped": 1}
    assert Notice.objects.get(recipient=tobias).dropped_why == "It came too late to be of use."


def test_a_place_is_offered_with_its_link_and_its_hour_and_can_be_taken_back() -> None:
    ines = factories.student()
    course = a_class()
    [notice] = notices_classes.queue_place(
        course=course,
        person=ines,
        until=NOW + timedelta(days=2),
        link_path="/places/ABC/",
        key="offer1",
        by=factories.tutor(),
        what="Eight Tuesdays from 2 December.",
        now=NOW,
    )
    mail = compose(notice, now=NOW)
    assert mail.subject == "A place has come free"
    assert "We keep it until Thursday 20 November, 11:20." in mail.text
    assert "/places/ABC/" in mail.text
    assert "Eight Tuesdays from 2 December." in mail.text
    assert notices_classes.withdraw(kind=Kind.PLACE, key="offer1", why="She has said no.") == 1
    notice.refresh_from_db()
    assert (notice.state, notice.dropped_why) == (State.DROPPED, "She has said no.")


def test_a_young_person_who_leaves_is_out_of_the_guardians_mail_too() -> None:
    _, sam, una = family()
    course = a_class(sam, una)
    [notice] = change(course, [sam, una])
    assert notices_classes.withdraw(kind="class-change", key="s1:moved", why="Gone.", person=sam) == 0
    assert "in the place of Una." in compose(notice, now=NOW).text
    una.left_at = NOW
    una.save()
    assert isinstance(compose(notice, now=NOW), Nothing)


def announce(course: Course | None, **named: object) -> Announcement:
    named = {"title": "Open day", "words": "Come on Sunday.\n\nBring cake.", "client_id": "a1", **named}
    return announcements.announce(by=factories.tutor(), courses=[course] if course else [], now=NOW, **named)


def test_an_announcement_goes_to_the_class_once_however_often_it_is_pressed(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ruth, sam, una = family()
    ines, tobias = factories.student(), factories.student("Tobias")
    factories.student("Elsewhere")
    course = a_class(ines, tobias, sam, una)
    mail_off.stop(person=tobias, which="announcements", now=NOW)
    first = announce(course)
    assert announce(course) == first
    clock.turn(minutes=16)
    assert deliver_all(clock=clock) == {"sent": 2, "dropped": 1}
    assert sorted(mail.recipients[0] for mail in smtp_sink.mails) == sorted([ines.email, ruth.email])
    [mine] = smtp_sink.to(ines.email)
    assert mine.subject == "Open day"
    assert "Come on Sunday.\n\nBring cake." in mine.text.replace("\r\n", "\n")


def test_an_announcement_to_everybody_leaves_out_staff_and_those_who_left() -> None:
    ruth, sam, _ = family()
    ines, gone = factories.student(), factories.student("Gone", left_at=NOW)
    factories.helper()
    made = announce(None, to_everybody=True)
    assert {notice.recipient for notice in made.notices.all()} == {ines, ruth}
    assert not Notice.objects.filter(recipient__in=[gone, sam]).exists()


def test_what_cannot_be_announced_is_refused() -> None:
    family()
    course = a_class(factories.student())
    for named, said in (
        ({"title": ""}, "The subject is missing. Fill it in."),
        ({"title": "Well done, Sam"}, "The subject names Sam, who is under 18. Leave names out of subjects."),
        ({"title": "a\nBcc: x@y.example"}, "The subject holds a line break"),
        ({"words": " "}, "The announcement is missing. Fill it in."),
    ):
        with pytest.raises(Refused, match="^" + said.split(".")[0]):
            announce(course, **named)
    with pytest.raises(Refused, match="Choose a class, several, or everybody"):
        announce(None)
    with pytest.raises(Refused, match="Nobody is in these classes"):
        announce(factories.course(name="Empty"))
    assert not Notice.objects.exists()


def test_somebody_without_an_address_is_told_in_person() -> None:
    ines = factories.student(email=None)
    [notice] = change(a_class(ines), [ines])
    assert notice.state == State.NO_ADDRESS
