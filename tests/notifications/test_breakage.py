"""A lost or flawed piece: no mail before the tutor has read the draft; sent, worded anew, or told."""

from __future__ import annotations

import email
from email import policy
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.urls import reverse

from studio.actions import notices, notices_review, pieces_jobs, settling, unload
from studio.actions.pieces_change import give_piece
from studio.actions.undo import undo
from studio.actions.unload_found import Unmarked, found_piece
from studio.actions.unload_undo import undo_answer
from studio.domain.problems import Refused
from studio.models import Firing, Notice, Person, Photo, Piece
from studio.notifications.compose import Mail, compose
from studio.queries.notices import correction_offered, fingerprint
from tests import factories as make
from tests.notifications.story import Clock, deliver_all, let_go
from tests.support.smtp import SmtpSink
from tests.views.world import photo_of, signed_in

pytestmark = pytest.mark.django_db
State = Notice.State


@pytest.fixture(autouse=True)
def quillmere() -> None:
    make.studio(notice_grace_minutes=0, lost_pieces_free=True)


def unloaded(maker: Person, outcome: str, clock: Clock, **values: Any) -> Piece:
    """One piece of this maker out of a glaze firing, with a photo, the firing closed."""
    firing = make.firing(Firing.State.UNLOADING, pieces=[make.piece(maker=maker, stage="glazed", form="mug")])
    place = firing.placements.get()
    make.unload_one(place, outcome, now=clock(), **values)
    photo_of(place.piece, firing.made_by, firing=firing)
    close(firing, clock)
    return Piece.objects.get(pk=place.piece_id)


def close(firing: Firing, clock: Clock) -> None:
    settling.close_firing(
        firing=firing, by=firing.made_by, client_id=make.client_id(), energy_kwh="60", now=clock()
    )


def approve(notice: Notice, clock: Clock) -> None:
    maud = Person.objects.filter(role="tutor").first()
    notices_review.approve(notice=notice, by=maud, seen=fingerprint(notice), now=clock())


def parts_of(raw: bytes) -> dict[str, Any]:
    message = email.message_from_bytes(raw, policy=policy.default)
    return {part.get_content_type(): part for part in message.walk()}


def test_a_flawed_piece_that_becomes_ready_waits_for_the_tutors_word(smtp_sink: SmtpSink) -> None:
    clock, ines = Clock(), make.student("Ines")
    mug = unloaded(ines, "flawed", clock, flaws=[unload.SeenFlaw("crazing", "inside", 1)], jobs=["sand-foot"])
    pieces_jobs.finish_job(job=mug.jobs.get(), by=make.helper(), client_id=make.client_id(), now=clock())
    mug.refresh_from_db()
    assert mug.stage == "ready"
    draft = Notice.objects.get()
    assert (draft.kind, draft.state) == ("flaw", State.WAITING)
    assert notices.queue_ready(pieces=[mug], now=clock()) == []
    assert notices.queue_forgotten(now=clock()) == []
    assert deliver_all(clock=clock) == {}
    assert notices_review.approve_all(
        seen={draft.code: fingerprint(draft)}, by=make.tutor(), now=clock()
    ) == (0, [])

    approve(draft, clock)
    assert deliver_all(clock=clock) == {"sent": 1}
    (mail,) = smtp_sink.mails
    assert mail.recipients == (ines.email,)
    ready = Notice.objects.get(kind="ready")
    assert list(ready.pieces.all()) == [mug]
    let_go(clock=clock)
    assert deliver_all(clock=clock) == {"sent": 1}


def test_the_photo_is_in_the_mail_and_the_words_say_no_fee(smtp_sink: SmtpSink) -> None:
    clock, ruth = Clock(), make.guardian("Ruth")
    sam = make.young_person("Sam", guardian=ruth)
    bowl = unloaded(sam, "lost", clock)
    draft = Notice.objects.get(kind="loss")
    assert draft.recipient == ruth
    assert deliver_all(clock=clock) == {}
    approve(draft, clock)
    deliver_all(clock=clock)
    (mail,) = smtp_sink.mails
    assert mail.recipients == (ruth.email,)
    parts = parts_of(mail.raw)
    assert "multipart/related" in parts
    picture = parts["image/jpeg"]
    cid = picture["Content-ID"].strip("<>")
    with default_storage.open(bowl.photos.get().thumb) as file:
        assert picture.get_content() == file.read()
    assert picture.get_content_disposition() == "inline"
    html = parts["text/html"].get_content()
    assert f'src="cid:{cid}"' in html
    assert "Sam" not in str(mail.raw.split(b"\r\n\r\n")[0])
    for words in (html, parts["text/plain"].get_content()):
        assert "You do not pay for that firing." in words
        assert "It cracked." in words
        assert "£" not in words


def test_without_a_photo_or_its_file_the_mail_goes_all_the_same(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    mug = unloaded(make.student(), "flawed", clock)
    photo = Photo.objects.get(piece=mug)
    default_storage.delete(photo.thumb)
    approve(Notice.objects.get(), clock)
    assert deliver_all(clock=clock) == {"sent": 1}
    assert "image/jpeg" not in parts_of(smtp_sink.mails[0].raw)


def test_in_the_tutors_own_words(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    unloaded(make.student("Ines"), "flawed", clock)
    draft = Notice.objects.get()
    maud = signed_in(Person.objects.get(role="tutor"))
    page = maud.get(reverse("notice", args=[draft.code])).content.decode()
    assert "It came out of the glaze firing whole, but with a flaw: pinholes outside." in page
    own = "It has a hole no bigger than a pin.\n\nCome & see <it> on Tuesday."
    said = maud.post(reverse("notice-own", args=[draft.code]), {"own": own}, follow=True)
    assert "It says so now" in said.content.decode()
    with pytest.raises(Refused):  # read before it was changed
        notices_review.approve(
            notice=draft, by=Person.objects.get(role="tutor"), seen=fingerprint(draft), now=clock()
        )
    draft.refresh_from_db()
    approve(draft, clock)
    deliver_all(clock=clock)
    parts = parts_of(smtp_sink.mails[0].raw)
    assert "Come & see <it> on Tuesday." in parts["text/plain"].get_content()
    assert "Come &amp; see &lt;it&gt; on Tuesday.</p>" in parts["text/html"].get_content()
    assert "pinholes" not in parts["text/plain"].get_content()
    too_long = maud.post(reverse("notice-own", args=[draft.code]), {"own": "x" * 2001})
    assert too_long.status_code == 422


def test_told_in_person_sends_nothing_frees_the_piece_and_can_be_taken_up() -> None:
    clock, ines = Clock(), make.student("Ines")
    mug = unloaded(ines, "flawed", clock, jobs=["sand-foot"])
    pieces_jobs.finish_job(job=mug.jobs.get(), by=make.helper(), client_id=make.client_id(), now=clock())
    draft = Notice.objects.get()
    maud = signed_in(Person.objects.get(role="tutor"))
    maud.post(reverse("notice-act", args=[draft.code]), {"act": "told"})
    draft.refresh_from_db()
    assert (draft.state, draft.dropped_why) == (State.DROPPED, "Told in person.")
    assert list(Notice.objects.get(kind="ready").pieces.all()) == [mug]
    maud.post(reverse("notice-act", args=[draft.code]), {"act": "take-up"})
    draft.refresh_from_db()
    assert draft.state == State.WAITING
    assert not isinstance(compose(Notice.objects.get(kind="ready"), now=clock()), Mail)  # it is held again


def test_the_preview_shows_the_photo_under_its_own_policy() -> None:
    clock = Clock()
    unloaded(make.student(), "flawed", clock)
    draft = Notice.objects.get()
    maud = signed_in(Person.objects.get(role="tutor"))
    page = maud.get(reverse("notice-mail", args=[draft.code]))
    assert 'src="data:image/jpeg;base64,' in page.content.decode()
    assert "cid:" not in page.content.decode()
    assert "img-src data:" in page["Content-Security-Policy"]
    deliver = Photo.objects.get()
    deliver.removed_at = clock()
    deliver.save()
    assert "base64" not in maud.get(reverse("notice-mail", args=[draft.code])).content.decode()


def test_an_answer_taken_back_takes_its_draft_and_offers_a_correction_when_it_went(
    smtp_sink: SmtpSink,
) -> None:
    clock = Clock()
    mug = unloaded(make.student("Ines"), "flawed", clock)
    firing = Firing.objects.get()
    maud = firing.made_by

    def take_back() -> None:
        settling.reopen_firing(firing=firing, by=maud, client_id=make.client_id(), now=clock())
        answer = unload.standing_answer(firing.placements.get())
        undo_answer(answer=answer, by=maud, client_id=make.client_id(), now=clock())

    take_back()
    assert Notice.objects.get().state == State.DROPPED
    make.unload_one(firing.placements.get(), "flawed", now=clock())
    close(firing, clock)
    draft = Notice.objects.get(state=State.WAITING)
    approve(draft, clock)
    deliver_all(clock=clock)
    assert correction_offered(Piece.objects.get(pk=mug.pk)) is None
    clock.turn(hours=1)
    take_back()
    assert correction_offered(Piece.objects.get(pk=mug.pk)) == draft
    page = signed_in(maud).get(reverse("notice", args=[draft.code])).content.decode()
    assert "is not flawed after all" in page
    make.unload_one(firing.placements.get(), now=clock())
    notices.queue_correction(piece=Piece.objects.get(pk=mug.pk), by=maud, now=clock())
    let_go(clock=clock)
    clock.turn(hours=1)
    deliver_all(clock=clock)
    assert "What we wrote of its flaw was not so" in parts_of(smtp_sink.mails[-1].raw)[
        "text/plain"
    ].get_content().replace("\n", " ")


def test_a_lost_piece_that_turns_up_after_the_mail_and_is_lost_again(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    mug = unloaded(make.student("Ines"), "lost", clock, loss_cause="missing")
    told = Notice.objects.get()
    approve(told, clock)
    deliver_all(clock=clock)
    clock.turn(hours=1)
    maud = Person.objects.get(role="tutor")
    other = make.firing(Firing.State.UNLOADING, pieces=0, by=maud)
    found = found_piece(firing=other, by=maud, client_id=make.client_id(), piece=mug, now=clock())
    mug.refresh_from_db()
    assert correction_offered(mug) == told
    notices.queue_correction(piece=mug, by=maud, now=clock())
    let_go(clock=clock)
    clock.turn(minutes=1)
    deliver_all(clock=clock)
    text = parts_of(smtp_sink.mails[-1].raw)["text/plain"].get_content()
    assert text.startswith("Good news, Ines.")
    assert correction_offered(mug) is None
    undo(event=found.event, by=maud, client_id=make.client_id(), now=clock())
    mug.refresh_from_db()
    assert mug.stage == "lost"
    assert Notice.objects.filter(kind="loss").count() == 2  # and it is news again
    assert Notice.objects.filter(kind="loss").last().state == State.WAITING


def test_given_to_another_the_draft_goes_to_the_new_maker() -> None:
    clock = Clock()
    mug = unloaded(make.student("Ines"), "flawed", clock)
    tobias = make.student("Tobias")
    maud = Person.objects.get(role="tutor")
    event = give_piece(piece=mug, maker=tobias, by=maud, client_id=make.client_id(), now=clock())
    assert Notice.objects.get(state=State.WAITING).recipient == tobias
    assert Notice.objects.filter(state=State.DROPPED).count() == 1
    undo(event=event, by=maud, client_id=make.client_id(), now=clock())
    assert Notice.objects.get(state=State.WAITING).recipient.first_name == "Ines"


def test_nobodys_and_the_studios_own_are_written_about_to_nobody() -> None:
    clock = Clock()
    maud = make.tutor()
    firing = make.firing(
        Firing.State.UNLOADING, pieces=[make.piece(studios_own=True, stage="glazed")], by=maud
    )
    make.unload_one(firing.placements.get(), "flawed", now=clock())
    what = Unmarked(width_mm=90, depth_mm=90, height_mm=80)
    found_piece(
        firing=firing,
        by=maud,
        client_id=make.client_id(),
        unmarked=what,
        outcome="flawed",
        note="A nick",
        now=clock(),
    )
    close(firing, clock)
    assert Notice.objects.count() == 0
