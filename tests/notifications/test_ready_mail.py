"""What a ready mail says, to whom, and that it says only what is true when it goes."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.utils.html import escape

from studio.actions import notices, notices_breakage, notices_review
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.models import Charge, Event, Glaze, GlazeOnPiece, Notice, NoticePiece, Person, Piece, PieceSet
from studio.notifications.compose import Mail, Nothing, compose
from tests import factories
from tests.notifications.story import (
    NOW,
    Clock,
    State,
    deliver_all,
    let_go,
    queued,
    ready_piece,
    tutor,
)
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio(pickup_times="Tuesday 10:00 to 13:00\nSaturday 09:30 to 12:30")


def composed(notice: Notice, clock: Clock) -> Mail:
    mail = compose(notice, now=clock())
    assert isinstance(mail, Mail), mail.why
    return mail


def test_a_ready_mail_says_what_where_and_when() -> None:
    clock = Clock()
    ines = factories.student()
    ready_a = factories.shelf("Ready A", where="left of the door")
    bowl = ready_piece(ines, form="bowl", shelf=ready_a)
    mug = ready_piece(ines, form="mug", shelf=ready_a)
    [notice] = notices.queue_ready(pieces=[bowl, mug], now=clock())
    mail = composed(notice, clock)
    assert mail.to == ines.email
    assert mail.subject == "Two pieces are ready to collect"
    for body in (" ".join(mail.text.split()), mail.html):
        assert "Two pieces are ready, Ines." in body
        assert bowl.mark in body
        assert mug.mark in body
        assert "left of the door" in body
        assert "Tuesday 10:00 to 13:00" in body
        # Four weeks after Tuesday 18 November 2025, counted on a calendar.
        assert "Tuesday 16 December" in body
        assert "suitable for food, but no laboratory has tested it here" in body
        assert "not a promise" in body
        assert "http" in body
    assert "They are on Ready A, left of the door." in mail.text


def test_pieces_on_two_shelves_say_each_where() -> None:
    clock = Clock()
    ines = factories.student()
    a = ready_piece(ines, shelf=factories.shelf("Ready A", where="left of the door"))
    b = ready_piece(ines, shelf=factories.shelf("Ready B", where="under the window"))
    c = ready_piece(ines)
    [notice] = notices.queue_ready(pieces=[a, b, c], now=clock())
    text = composed(notice, clock).text
    assert "On Ready A, left of the door." in text
    assert "On Ready B, under the window." in text
    assert "Ask us where it stands." in text


def charged(person: Person, amount_minor: int) -> None:
    Charge.objects.create(
        person=person,
        kind=Charge.Kind.FIRING,
        amount_minor=amount_minor,
        words="A firing",
        at=NOW,
        client_id=factories.client_id(),
    )


def test_what_is_owed_is_said_to_whoever_answers_for_it() -> None:
    clock = Clock()
    ruth = factories.guardian()
    sam = factories.young_person(guardian=ruth)
    charged(ruth, 854)
    [notice] = notices.queue_ready(pieces=[ready_piece(sam)], now=clock())
    mail = composed(notice, clock)
    for body in (mail.text, mail.html):
        assert "Your account stands at £8.54. No hurry." in body


def test_nothing_is_said_of_money_where_nothing_is_owed_or_to_a_helper() -> None:
    clock = Clock()
    ines, ivo = factories.student(), factories.helper()
    charged(ivo, 854)
    made = notices.queue_ready(pieces=[ready_piece(ines), ready_piece(ivo)], now=clock())
    for notice in made:
        mail = composed(notice, clock)
        assert "account" not in mail.text + mail.html
        assert "£" not in mail.text + mail.html


def test_decorative_only_is_said_with_its_reason() -> None:
    clock = Clock()
    jug = ready_piece(factories.student(), form="jug")
    lustre = factories.glaze("Tin Lustre", metallic=True, food_contact=Glaze.FoodContact.UNSUITABLE)
    GlazeOnPiece.objects.create(piece=jug, surface="rim", order=2, glaze=lustre, put_on_at=NOW)
    [notice] = notices.queue_ready(pieces=[jug], now=clock())
    mail = composed(notice, clock)
    assert "DECORATIVE ONLY. Please do not eat or drink from it." in mail.text
    assert "<strong>Decorative only.</strong> Please do not eat or drink from it." in mail.html
    assert "Tin Lustre is on the rim" in " ".join(mail.text.split())


def test_one_student_with_forty_pieces_gets_one_mail(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ines = factories.student()
    pieces = [ready_piece(ines) for _ in range(40)]
    for piece in pieces:  # one after the other, as at unload
        notices.queue_ready(pieces=[piece], now=clock())
    let_go(clock=clock)
    clock.turn(minutes=16)
    assert deliver_all(clock=clock) == {"sent": 1}
    [mail] = smtp_sink.mails
    assert mail.recipients == (ines.email,)
    assert mail.subject == "40 pieces are ready to collect"
    assert all(piece.mark in mail.text and piece.mark in mail.html for piece in pieces)


def test_nothing_goes_before_the_tutor_says_so_and_its_time_of_grace_is_over(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    [notice] = notices.queue_ready(pieces=[ready_piece(factories.student())], now=clock())
    clock.turn(days=3)
    assert deliver_all(clock=clock) == {}
    clock.now = NOW
    notices_review.approve(notice=notice, by=tutor(), now=clock())
    clock.turn(minutes=14)
    assert deliver_all(clock=clock) == {}
    clock.turn(minutes=1)
    assert deliver_all(clock=clock) == {"sent": 1}
    assert len(smtp_sink.mails) == 1


def test_a_piece_joining_a_notice_already_let_go_is_read_first() -> None:
    clock = Clock()
    ines = factories.student()
    [notice] = notices.queue_ready(pieces=[ready_piece(ines)], now=clock())
    let_go(clock=clock)
    [again] = notices.queue_ready(pieces=[ready_piece(ines)], now=clock.turn(minutes=5))
    assert again == notice
    assert again.state == State.WAITING
    assert again.approved_at is None


def test_what_is_ready_after_todays_mail_has_gone_goes_tomorrow(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ines = factories.student()
    queued([ready_piece(ines)], clock=clock)
    assert deliver_all(clock=clock) == {"sent": 1}
    [second] = queued([ready_piece(ines)], clock=clock)
    assert deliver_all(clock=clock) == {}
    clock.now = NOW.replace(hour=7, minute=59) + timedelta(days=1)
    assert deliver_all(clock=clock) == {}
    clock.turn(minutes=1)  # eight in the morning, London in November being on UTC
    assert deliver_all(clock=clock) == {"sent": 1}
    second.refresh_from_db()
    assert second.key.startswith(f"ready:{ines.pk}:2025-11-19:")
    assert len(smtp_sink.to(ines.email)) == 2


def test_two_open_notices_to_one_person_never_go_on_one_day(smtp_sink: SmtpSink) -> None:
    """However a second one came about: here by a refused one that is sent again."""
    clock = Clock()
    ines = factories.student()
    smtp_sink.refuse_recipient[ines.email] = "550 No such mailbox"
    [first] = queued([ready_piece(ines)], clock=clock)
    assert deliver_all(clock=clock) == {"refused": 1}
    queued([ready_piece(ines)], clock=clock)
    smtp_sink.refuse_recipient.clear()
    notices_review.send_again(notice=first, by=tutor(), now=clock())
    assert deliver_all(clock=clock) == {"sent": 1}
    assert len(smtp_sink.mails) == 1
    clock.turn(days=1)
    assert deliver_all(clock=clock) == {"sent": 1}


# What changes between queueing and sending


def collect(piece: Piece) -> None:
    Piece.objects.filter(pk=piece.pk).update(stage=Stage.COLLECTED, ended_at=NOW)


def undo(piece: Piece) -> None:
    Piece.objects.filter(pk=piece.pk).update(stage=Stage.FINISHING)


def give_away(piece: Piece) -> None:
    Piece.objects.filter(pk=piece.pk).update(maker=factories.student("Tobias"))


def lose(piece: Piece) -> None:
    Piece.objects.filter(pk=piece.pk).update(stage=Stage.LOST, ended_at=NOW)


CHANGES = [collect, undo, give_away, lose]


@pytest.mark.parametrize("change", CHANGES)
def test_a_piece_that_changed_behind_the_notice_falls_out(change, smtp_sink: SmtpSink) -> None:
    """Even when nobody told the outbox: the words are made when the mail goes."""
    clock = Clock()
    ines = factories.student()
    stays, goes = ready_piece(ines), ready_piece(ines)
    queued([stays, goes], clock=clock)
    change(goes)
    assert deliver_all(clock=clock) == {"sent": 1}
    [mail] = smtp_sink.mails
    assert mail.subject == "One piece is ready to collect"
    assert stays.mark in mail.text
    assert goes.mark not in mail.text + mail.html


@pytest.mark.parametrize("change", CHANGES)
def test_a_notice_left_with_nothing_is_dropped_and_says_why(change, smtp_sink: SmtpSink) -> None:
    clock = Clock()
    piece = ready_piece(factories.student())
    [notice] = queued([piece], clock=clock)
    change(piece)
    assert deliver_all(clock=clock) == {"dropped": 1}
    notice.refresh_from_db()
    assert notice.dropped_why == "None of its pieces is ready and theirs any more."
    assert smtp_sink.mails == []


@pytest.mark.parametrize("change", CHANGES)
def test_a_withdrawn_piece_leaves_the_notice_at_once(change) -> None:
    clock = Clock()
    ines = factories.student()
    stays, goes = ready_piece(ines), ready_piece(ines)
    [notice] = queued([stays, goes], clock=clock)
    change(goes)
    assert notices.withdraw_piece(piece=Piece.objects.get(pk=goes.pk), now=clock()) is None
    assert list(notice.pieces.all()) == [stays]
    change(stays)
    notices.withdraw_piece(piece=Piece.objects.get(pk=stays.pk), now=clock())
    notice.refresh_from_db()
    assert notice.state == State.DROPPED
    assert stays.mark in notice.dropped_why


def test_a_piece_ready_again_after_it_was_withdrawn_is_told_of(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    piece = ready_piece(factories.student())
    queued([piece], clock=clock)
    undo(piece)
    deliver_all(clock=clock)
    Piece.objects.filter(pk=piece.pk).update(stage=Stage.READY)
    queued([piece], clock=clock)
    assert deliver_all(clock=clock) == {"sent": 1}


def test_told_once_is_not_told_again_unless_it_is_news(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    piece = ready_piece(factories.student())
    queued([piece], clock=clock)
    deliver_all(clock=clock)
    clock.turn(days=2)
    assert queued([piece], clock=clock) == []
    assert notices.queue_forgotten(now=clock()) == []
    Event.objects.create(
        piece=piece,
        kind=Event.Kind.REFIRE,
        at=clock(),
        recorded_at=clock(),
        to_stage=Stage.GLAZED,
        client_id=factories.client_id(),
    )
    assert len(queued([piece], clock=clock)) == 1


# Sets


def test_a_set_is_told_of_when_all_of_it_is_ready() -> None:
    clock = Clock()
    ines = factories.student()
    jar_and_lid = PieceSet.objects.create(name="Jar and lid")
    jar = ready_piece(ines, piece_set=jar_and_lid)
    lid = factories.piece(maker=ines, stage=Stage.FINISHING, piece_set=jar_and_lid)
    assert notices.queue_ready(pieces=[jar], now=clock()) == []
    Piece.objects.filter(pk=lid.pk).update(stage=Stage.READY)
    [notice] = notices.queue_ready(pieces=[lid], now=clock())
    assert set(notice.pieces.all()) == {jar, lid}
    Piece.objects.filter(pk=lid.pk).update(stage=Stage.FINISHING)
    assert isinstance(compose(notice, now=clock()), Nothing)


def test_a_set_whose_missing_piece_was_lost_is_not_forgotten() -> None:
    clock = Clock()
    ines = factories.student()
    jar_and_lid = PieceSet.objects.create(name="Jar and lid")
    jar = ready_piece(ines, piece_set=jar_and_lid)
    lid = factories.piece(maker=ines, stage=Stage.GLAZED, piece_set=jar_and_lid)
    assert notices.queue_ready(pieces=[jar], now=clock()) == []
    lose(lid)
    [notice] = notices.queue_forgotten(now=clock())
    assert list(notice.pieces.all()) == [jar]


def test_pieces_of_a_kiln_being_unloaded_wait_for_its_closing() -> None:
    ines = factories.student()
    piece = factories.piece(maker=ines, stage=Stage.GLAZED)
    factories.firing("unloading", pieces=[piece])
    Piece.objects.filter(pk=piece.pk).update(stage=Stage.READY)
    assert notices.queue_forgotten(now=NOW) == []


# Young people


def test_a_young_persons_mail_goes_to_the_guardian_and_no_subject_names_them(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ruth = factories.guardian()
    sam = factories.young_person(guardian=ruth, email="sam@quillmere.example")
    tess = factories.young_person("Tess", guardian=ruth, last_name="Pellow-Verne")
    bowl, mug, own = ready_piece(sam), ready_piece(tess), ready_piece(ruth)
    queued([bowl, mug, own], clock=clock)
    assert deliver_all(clock=clock) == {"sent": 1}
    [mail] = smtp_sink.mails
    assert mail.recipients == (ruth.email,)
    assert "sam@quillmere.example" not in mail.raw.decode()
    for name in ("Sam", "Tess", "Ruth", "Pellow", "Verne"):
        assert name not in mail.subject
    assert "Three pieces are ready, Ruth." in mail.text
    assert "Sam's" in mail.text
    assert "Tess's" in mail.text
    assert "Verne" not in mail.text + mail.html
    assert "Ruth's" not in mail.text


def test_ready_correction_and_loss_go_to_the_guardian_one_after_the_other(
    smtp_sink: SmtpSink,
) -> None:
    clock = Clock()
    ruth = factories.guardian()
    sam = factories.young_person(guardian=ruth, email="sam@quillmere.example")
    told = ready_piece(sam)
    queued([told], clock=clock)
    deliver_all(clock=clock)
    undo(told)
    notices.queue_correction(piece=Piece.objects.get(pk=told.pk), by=tutor(), now=clock())
    broken = ready_piece(sam)
    lose(broken)
    notices_breakage.queue_loss(piece=Piece.objects.get(pk=broken.pk), now=clock())
    let_go(clock=clock)
    clock.turn(minutes=16)
    assert deliver_all(clock=clock) == {"sent": 2}
    assert [mail.recipients for mail in smtp_sink.mails] == [(ruth.email,)] * 3
    for mail in smtp_sink.mails:
        assert not re.search("Sam|Pellow|Ruth", mail.subject)
        assert "Sam's" in mail.text
        assert "Pellow" not in mail.text + mail.html


def test_a_young_person_without_a_guardian_is_told_in_person() -> None:
    sam = factories.person("Sam", born_on=date(2010, 1, 1), email="sam@quillmere.example")
    [notice] = notices.queue_ready(pieces=[ready_piece(sam)], now=NOW)
    assert notice.state == State.NO_ADDRESS
    assert isinstance(compose(notice, now=NOW), Nothing)
    with pytest.raises(Refused):
        notices_review.approve(notice=notice, by=tutor(), now=NOW)


def test_turning_eighteen_and_the_day_before_go_to_different_people() -> None:
    ruth = factories.guardian()
    sam = factories.young_person(guardian=ruth, born_on=date(2007, 11, 19), email="sam@quillmere.example")
    [notice] = notices.queue_ready(pieces=[ready_piece(sam)], now=NOW)  # 18 November 2025
    assert notice.recipient == ruth
    [notice] = notices.queue_ready(pieces=[ready_piece(sam)], now=NOW + timedelta(days=1))
    assert notice.recipient == sam


def test_somebody_without_an_address_or_who_has_left_is_on_the_tutors_list() -> None:
    clock = Clock()
    without = factories.student("Tobias", email=None)
    left = factories.student("Wren", left_at=NOW - timedelta(days=5))
    made = notices.queue_ready(pieces=[ready_piece(without), ready_piece(left)], now=clock())
    assert {notice.state for notice in made} == {State.NO_ADDRESS}
    without.email = "tobias@quillmere.example"
    without.save()
    notices.queue_forgotten(now=clock())
    assert Notice.objects.get(recipient=without).state == State.WAITING
    assert Notice.objects.get(recipient=left).state == State.NO_ADDRESS


def test_an_address_that_goes_after_the_tutors_word_puts_the_notice_on_the_list(
    smtp_sink: SmtpSink,
) -> None:
    clock = Clock()
    ines = factories.student()
    queued([ready_piece(ines)], clock=clock)
    ines.email = None
    ines.save()
    assert deliver_all(clock=clock) == {"no-address": 1}
    assert smtp_sink.mails == []


# Corrections


def test_a_correction_is_offered_when_what_was_said_is_no_longer_so(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ines = factories.student()
    piece = ready_piece(ines)
    [told] = queued([piece], clock=clock)
    assert notices.correction_offered(piece, now=clock()) is None
    deliver_all(clock=clock)
    assert notices.correction_offered(piece, now=clock()) is None
    undo(piece)
    piece.refresh_from_db()
    assert notices.withdraw_piece(piece=piece, now=clock()) == told
    correction = notices.queue_correction(piece=piece, by=tutor(), now=clock())
    assert notices.correction_offered(piece, now=clock()) is None
    with pytest.raises(Refused):
        notices.queue_correction(piece=piece, by=tutor(), now=clock())
    notices_review.approve(notice=correction, by=tutor(), now=clock())
    assert deliver_all(clock=clock) == {"sent": 1}
    mail = smtp_sink.mails[-1]
    assert mail.subject == "A correction: not ready after all"
    assert piece.mark in mail.text
    # And when it is ready at last, that is news again.
    Piece.objects.filter(pk=piece.pk).update(stage=Stage.READY)
    clock.turn(days=1)
    assert len(notices.queue_ready(pieces=[piece], now=clock())) == 1


def test_a_correction_with_nothing_left_to_correct_is_dropped(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    piece = ready_piece(factories.student())
    queued([piece], clock=clock)
    deliver_all(clock=clock)
    undo(piece)
    piece.refresh_from_db()
    correction = notices.queue_correction(piece=piece, by=tutor(), now=clock())
    notices_review.approve(notice=correction, by=tutor(), now=clock())
    Piece.objects.filter(pk=piece.pk).update(stage=Stage.READY)
    assert deliver_all(clock=clock) == {"dropped": 1}


def test_a_collected_piece_needs_no_correction(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    piece = ready_piece(factories.student())
    queued([piece], clock=clock)
    deliver_all(clock=clock)
    collect(piece)
    piece.refresh_from_db()
    assert notices.correction_offered(piece, now=clock()) is None


# Words that mean harm

NASTY = [
    "Ines\r\nBcc: everybody@x.example",
    "Ines\nBcc: everybody@x.example",
    "Ines\x0bBcc: everybody@x.example",
    "Ines\x0cTo: everybody@x.example",
    "Ines\x1c\x1d\x1e\x85Cc: everybody@x.example",
    "Ines\u2028Bcc: everybody@x.example\u2029",
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "=?utf-8?q?=0D=0ABcc:_everybody@x.example?=",
    "{{ studio }}{% now 'Y' %}",
    "‮senI",
]


@pytest.mark.parametrize("nasty", NASTY)
def test_words_never_become_headers_or_markup(nasty: str, smtp_sink: SmtpSink) -> None:
    clock = Clock()
    factories.studio(name=nasty[:80], tutor_name=nasty[:80], pickup_times=nasty)
    ines = factories.student(nasty[:60], email="ines@quillmere.example")
    piece = ready_piece(ines, shelf=factories.shelf("Ready A", where=nasty[:80]))
    Glaze.objects.update(name=nasty[:60])
    notices.queue_ready(pieces=[piece], now=clock())
    Notice.objects.update(added_words=nasty)
    let_go(clock=clock)
    clock.turn(minutes=16)
    assert deliver_all(clock=clock) == {"sent": 1}
    [mail] = smtp_sink.mails
    assert mail.recipients == ("ines@quillmere.example",)
    assert mail.message["Bcc"] is None
    assert mail.message["Cc"] is None
    assert mail.message.get_all("To") == ["ines@quillmere.example"]
    assert len(mail.message.get_all("Subject")) == 1
    assert "<script" not in mail.html
    assert "<img" not in mail.html
    if nasty.isascii() and nasty.isprintable():
        assert escape(nasty) in mail.html
        assert nasty in mail.text


BAD_ADDRESSES = [
    "ines@quillmere.example, all@x.example",
    "ines@quillmere.example\x00",
    "ines@quillmere.example\r\nBcc: all@x.example",
    "ines@quillmere.example\x0b",
    "ines@quillmere.example\u2028",
    "<ines@quillmere.example> all@x.example",
    "ines;all@quillmere.example",
    "ines@",
    "ïnes@quillmere.example",
]


@pytest.mark.parametrize("address", BAD_ADDRESSES)
def test_an_address_that_is_no_single_address_is_refused_and_holds_nobody_up(
    address: str, smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = Clock()
    ines, tobias = factories.student(), factories.student("Tobias")
    queued([ready_piece(ines), ready_piece(tobias)], clock=clock)
    # The database may refuse such an address (NUL on PostgreSQL), so it is put in behind its back.
    from studio.queries import notices as queries

    real = queries.address_of
    monkeypatch.setattr(
        queries, "address_of", lambda person, day: address if person == ines else real(person, day)
    )
    assert deliver_all(clock=clock) == {"refused": 1, "sent": 1}
    assert [mail.recipients for mail in smtp_sink.mails] == [(tobias.email,)]
    refused = Notice.objects.get(recipient=ines)
    assert refused.last_error
    assert "\x00" not in refused.last_error
    assert deliver_all(clock=clock) == {}


def test_what_a_notice_did_not_speak_of_is_still_news(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ines = factories.student()
    spoken, other = ready_piece(ines), ready_piece(ines)
    [notice] = queued([spoken, other], clock=clock)
    undo(other)
    deliver_all(clock=clock)
    assert list(NoticePiece.objects.filter(notice=notice).values_list("piece", flat=True)) == [spoken.pk]
    Piece.objects.filter(pk=other.pk).update(stage=Stage.READY)
    assert len(queued([other], clock=clock)) == 1
