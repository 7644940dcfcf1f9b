"""A guardian books a class for her son on a phone, from the public page to the mail that says so."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from studio.actions.enrolments import enrol, leave
from studio.models import ClassRules, Consent, Enrolment, Person, Waiting
from studio.notifications import deliver
from tests import factories
from tests.journeys import walk
from tests.support.browser import PHONE
from tests.support.smtp import SmtpSink


def test_a_guardian_takes_the_last_place_and_the_next_one_waits_and_is_offered_his(
    phone: Any, open_page: Callable[..., Any], room: Any, clock: walk.Clock, smtp_sink: SmtpSink, live: Any
) -> None:
    ClassRules.objects.create(public_page=True)
    course = factories.course("Young potters", is_public=True, places=1, price_minor=10_800, age_least=11)
    factories.session(course, starts_at=timezone.now() + timedelta(days=20))

    # She finds the class, and says for whom it is.
    phone.goto("/")
    hand = walk.Hand(phone)
    hand.link("Coming classes")
    walk.says(phone, "1 place left")
    hand.link("Young potters")
    walk.says(phone, "Until 14 days before the first meeting you get all of the fee back.")
    hand.link("For somebody under 18")

    # A form half filled in keeps what she typed.
    fills(phone, "Their first name", "Kit")
    fills(phone, "Their last name", "Oake")
    phone.get_by_label("Their date of birth").fill(f"{timezone.localdate().year - 12}-01-05")
    fills(phone, "Your first name", "Willa")
    fills(phone, "Your last name", "Oake")
    fills(phone, "Your email address", "willa@quillmere.example")
    fills(phone, "Whom to call in an emergency", "Willa Oake")
    fills(phone, "That person’s phone number", "01632 960 214")
    hand.button("Mail me a code")
    walk.says(phone, "Without your consent the place can’t be confirmed.")
    assert phone.get_by_label("Their first name").input_value() == "Kit"
    assert smtp_sink.mails == []
    hand.choose("I consent")
    fills(phone, "Your full name, as a signature", "Willa Oake")
    hand.button("Mail me a code")
    walk.says(phone, "Look in your mail")
    assert not Person.objects.filter(first_name="Kit").exists()

    # The code comes by mail; with it the place is hers to give.
    deliver.deliver_due(worker="journey")
    mail = walk.mail_to(smtp_sink, "willa@quillmere.example", "code")
    assert "Kit" not in mail.text
    fills(phone, "The code from the mail", walk.code_in(mail))
    hand.button("Take the place")
    walk.says(phone, "Kit has a place in Young potters")
    kit = Person.objects.get(first_name="Kit")
    assert kit.guardian.email == "willa@quillmere.example"
    assert Consent.objects.get().signed == "Willa Oake"
    place = Enrolment.objects.get()
    assert place.charge.person == kit.guardian

    # Now it is full: the page says so.
    other = open_page(PHONE, touch=True)
    other.goto("/coming/")
    walk.says(other, "Full, with a waiting list")

    # Kit can't come after all; Sam, who waits, is offered the place, and Ruth says yes from her mail.
    row = Waiting.objects.create(course=course, person=room.sam, asked_at=timezone.now())
    leave(enrolment=place, by=room.maud)
    row.refresh_from_db()
    other.goto(f"/offer/{row.secret}/")
    walk.says(other, "is kept for Sam")
    ruths = walk.Hand(other)
    ruths.choose("I consent")
    fills(other, "Your full name", "Ruth Pellow")
    ruths.button("Yes, take the place")
    walk.says(other, "The place is yours")
    assert Enrolment.objects.get(left_at=None).person == room.sam
    enrol(course=course, person=room.sam, by=room.maud)
    assert Enrolment.objects.filter(left_at=None).count() == 1


def fills(page: Any, label: str, words: str) -> None:
    page.get_by_label(label).first.fill(words)
