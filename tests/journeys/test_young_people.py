"""Sam is 16: the mail, the bill and the pages are his guardian Ruth's, and his surname lies nowhere about."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from studio.models import Charge, Firing, Photo, Piece
from studio.notifications import deliver
from tests import factories
from tests.journeys import paper, walk
from tests.support.browser import PHONE, sign_in_as
from tests.support.smtp import SmtpSink


def test_sams_pot_is_ruths_business_and_nobody_elses(
    phone: Any, open_page: Callable[..., Any], room: Any, clock: walk.Clock, smtp_sink: SmtpSink, live: Any
) -> None:
    # Ruth enters Sam's bowl at home, with the photo he took.
    clock.back(days=6)
    room.sam.email = "sam.pellow@quillmere.example"
    room.sam.save()
    ruths = open_page(PHONE, touch=True)
    sign_in_as(ruths, room.ruth)
    ruths.goto("/")
    hers = walk.Hand(ruths)
    hers.link("Enter a new piece")
    hers.choose("Sam Pellow")
    hers.choose("Bowl")
    ruths.get_by_label("Across").fill("15")
    ruths.get_by_label("Tall").fill("7")
    ruths.locator("#id_photo").set_input_files(walk.picture_file(walk.picture()))
    hers.button("Save and get its mark")
    mark = walk.mark_shown(ruths)
    bowl = Piece.objects.get(mark=mark)
    assert bowl.maker == room.sam

    # The slip that lies beside it says his first name alone.
    sign_in_as(phone, room.maud)
    paper.prints_slips(phone)
    on_paper = paper.words_on_paper(phone)
    assert "Sam" in on_paper
    assert "Pellow" not in on_paper
    assert "P." not in on_paper

    # It goes through a glaze firing of Ivo's; he and Maud unload and close it.
    Piece.objects.filter(pk=bowl.pk).update(stage="glazed")
    bowl.refresh_from_db()
    firing = factories.firing(
        Firing.State.UNLOADING, kiln=room.kiln, pieces=[bowl], lit_at=clock.passes(days=1)
    )
    clock.passes(days=2)
    phone.goto(f"/firings/{firing.number}/unload/")
    hand = walk.Hand(phone)
    walk.unloads_onto(hand, "Shelf 2")
    walk.answers(hand, "Sound", photo=walk.picture("#35445c"))
    walk.closes(phone, kwh="58")
    charge = Charge.objects.get()
    assert charge.person == room.ruth, "the bill is the guardian's"

    # The mail goes to Ruth and to nobody else.
    phone.goto("/notices/")
    hand.button("Send it", exact=True)
    walk.says(phone, "One notice is on the way")
    clock.today()
    deliver.deliver_due(worker="journey")
    mail = walk.mail_to(smtp_sink, room.ruth.email, "ready")
    assert mark in mail.text
    assert "Sam" in mail.text
    assert [sent.recipients for sent in smtp_sink.mails] == [(room.ruth.email,)]

    # Sam cannot sign in by his own address; he is told the same as everybody.
    sams = open_page(PHONE, touch=True)
    walk.asks_for_a_code(sams, room.sam.email)
    deliver.deliver_due(worker="journey")
    assert smtp_sink.to(room.sam.email) == []

    # Ruth sees the bowl, where it stands and both photos.
    ruths.goto("/")
    walk.says(ruths, "Shelf 2, left of the door")
    hers.tap(ruths.locator(".stander", has_text=mark))
    walk.says(ruths, "by Sam Pellow")
    walk.says(ruths, "Share of the firings")
    assert ruths.locator(".strip img").count() == 2
    for photo in Photo.objects.all():
        assert ruths.request.get(f"/photos/{photo.code}/full.jpg").headers["content-type"] == "image/jpeg"

    # To Tobias there is no such piece and no such photo, by any door.
    theirs = open_page(PHONE, touch=True)
    sign_in_as(theirs, room.tobias)
    hidden = [f"/pieces/{bowl.code}/", walk.tag_of(bowl), f"/pieces/{bowl.code}/glazes/"]
    hidden += [
        f"/photos/{photo.code}/{size}.jpg" for photo in Photo.objects.all() for size in ("full", "thumb")
    ]
    for address in hidden:
        assert theirs.request.get(address).status == 404, address
    theirs.goto(f"/pieces/{bowl.code}/")
    walk.says(theirs, "There is nothing at this address, or it is not yours to see.")
    assert mark not in walk.body(theirs)
    assert "Sam" not in walk.body(theirs)
